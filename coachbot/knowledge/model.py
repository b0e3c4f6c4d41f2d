"""The shape of every file in the rule folder.

Each model is one thing that a coach writes. Keys that are not declared here are
mistakes. Scalars arrive as text and are converted by these types.
"""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator

Name = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]*$", max_length=60)]
RuleId = Annotated[str, StringConstraints(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=60)]
Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=2000)]
Share = Annotated[float, Field(ge=0, le=1)]


class _Model(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class FactValue(_Model):
    """One value that a fact can take: ``say`` completes the fact's sentence in plain words.

    ``likely`` weighs the value among the possible answers (1 when not given). ``skill``
    names the skill that a value of "already tried" has used up.
    """

    say: Text
    likely: float = Field(default=1, gt=0)
    skill: Text | None = None


class Fact(_Model):
    """One thing that can be known of a case.

    ``kind`` is choice (one value), several (any number of values), yes-no, number (with
    ``unit`` and a ``low`` to ``high`` range) or grade (``unit`` is "grade"). ``about`` says
    how long it stands: the climber's facts outlive a problem, the problem's a move.
    ``asked`` facts may become questions; ``ask_when`` conditions say when that makes
    sense; a question whose ``turn`` is first comes before all others that tell anything,
    one whose turn is last only while there is nothing to suggest. A fact that is ``concluded`` is only ever made by rules.
    """

    kind: Literal["choice", "several", "yes-no", "number", "grade"]
    about: Literal["climber", "problem", "move", "talk"] = "move"
    say: Text
    say_no: Text | None = None
    question: Text | None = None
    reason: Text | None = None
    asked: bool = False
    turn: Literal["first", "any", "last"] = "any"
    ask_when: list[Text | dict[Literal["any", "all"], list[Text]]] = []
    concluded: bool = False
    unit: Text | None = None
    low: float | None = None
    high: float | None = None
    values: dict[Name, FactValue] = {}

    @model_validator(mode="after")
    def _consistent(self) -> Fact:
        if (self.kind in {"choice", "several"}) != bool(self.values):
            raise ValueError(f'kind "{self.kind}" and its values do not go together')
        if self.kind == "number" and (self.unit is None or self.low is None or self.high is None):
            raise ValueError('a number needs "unit", "low" and "high"')
        if self.asked and self.question is None:
            raise ValueError('an asked fact needs a "question"')
        return self


class Source(_Model):
    """A publication: ``cite`` as a reader would look it up; ``seen`` no means from memory."""

    cite: Text
    seen: bool
    where: Text | None = None


class Situation(_Model):
    """One situation that the rule set must answer, and what a competent coach aims at."""

    family: Name
    situation: Text
    aim: Text


class Ground(_Model):
    """What a rule rests on: a source's key, the place in it, and what it says in our words.

    The key ``common-practice`` stands for a fact of the trade without a published source.
    """

    key: Text
    says: Text
    place: Text | None = None
    checked: date | None = None


class Suggestion(_Model):
    """What to do: one cue, a drill with a sign that it works, dose, cautions, skills.

    ``loads`` names what the suggestion puts weight on, so that a safety rule can hold it
    back. ``strength`` is how much it usually changes the move, ``sure`` how surely it
    applies when the rule fires, both 0 to 1.
    """

    now: Text
    drill: Text
    works_when: Text
    skills: Annotated[list[Name | str], Field(min_length=1, max_length=4)]
    dose: Text | None = None
    cautions: list[Text] = []
    loads: list[Name] = []
    strength: Share
    sure: Share


class Rule(_Model):
    """One heuristic. ``when`` holds: ``then`` facts are concluded, and advice may be given.

    ``stop`` ends the climbing: ``emergency`` or ``clinician``. ``caution`` joins every
    suggestion of the case. ``safety`` ranks the suggestion before all ordinary ones.
    ``reply`` answers what is out of scope or small talk; with ``alone`` nothing else is
    advised beside it.
    """

    serves: list[str] = []
    when: list[Text | dict[Literal["any", "all"], list[Text | dict[str, list[Text]]]]]
    then: list[Text] = []
    suggest: Suggestion | None = None
    caution: Text | None = None
    stop: Literal["emergency", "clinician"] | None = None
    safety: bool = False
    reply: Text | None = None
    alone: bool = False
    why: Text
    ground: Annotated[list[Ground], Field(min_length=1)]
    author: Text
    reviewed: date
    note: Text | None = None

    @model_validator(mode="after")
    def _does_something(self) -> Rule:
        if not (self.then or self.suggest or self.caution or self.reply):
            raise ValueError('a rule needs "then", "suggest", "caution" or "reply"')
        if self.stop and not self.suggest:
            raise ValueError('a "stop" needs a "suggest" that says what to do instead')
        if self.suggest and not self.serves:
            raise ValueError('a rule that suggests names the situations that it "serves"')
        return self


class RuleCheck(_Model):
    """The test of one rule: cases in which it fires, near misses in which it is silent.

    A case gives values by fact: one, a list, or "not x" for what was denied.
    ``someday`` cases are known gaps: reported, never failing.
    """

    practice: Text
    fires: Annotated[list[dict[Name, str | list[str]]], Field(min_length=1)]
    silent: Annotated[list[dict[Name, str | list[str]]], Field(min_length=1)]
    someday: list[dict[Name, str | list[str]]] = []
    note: Text | None = None
