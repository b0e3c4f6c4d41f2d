"""The shape of every file in the rule folder.

Each model is one thing that a coach writes. Keys that are not declared here are
mistakes. Scalars arrive as text and are converted by these types.
"""

from __future__ import annotations

import math
from datetime import date
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator

Name = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]*$", max_length=60)]
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
    ``unit`` and a ``low`` to ``high`` range, counted in steps of ``step``) or grade
    (``unit`` is "grade"). ``about`` says how long it stands: the climber's facts outlive a
    problem, the problem's a move.
    ``asked`` facts may become questions; ``ask_when`` conditions say when that makes
    sense; a question whose ``turn`` is first comes before all others that tell anything,
    one whose turn is last only while there is nothing to suggest. A fact that is
    ``concluded`` may be made by rules. One with ``heard_beside`` is heard in a message only
    beside one of the values named there, or as the answer to its question.
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
    heard_beside: list[Text] = []
    concluded: bool = False
    unit: Text | None = None
    low: float | None = None
    high: float | None = None
    step: Annotated[float, Field(gt=0)] = 1
    values: dict[Name, FactValue] = {}

    def counted(self, amount: float) -> int | float:
        """The amount in whole steps, as ages are counted: what is over is dropped."""
        whole = math.floor(amount / self.step + 1e-9) * self.step
        return int(whole) if float(whole).is_integer() else whole

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
    ``reply`` answers what is out of scope or small talk; with ``alone`` only safety advice
    may stand beside it.
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


class SafetyProperty(_Model):
    """What must hold in every case in which all of ``when`` holds, whatever else was said.

    No suggestion that can be shown may carry one of the loads or skills of ``never``;
    ``any_load`` there means all loads. With ``stop`` the climbing must end at least that
    urgently: ``emergency`` is more than ``clinician``.
    """

    when: list[Text | dict[Literal["any", "all"], list[Text]]]
    never: list[Text] = []
    stop: Literal["emergency", "clinician"] | None = None
    because: Text

    @model_validator(mode="after")
    def _claims_something(self) -> SafetyProperty:
        if not self.never and not self.stop:
            raise ValueError('a safety property needs "never" or "stop"')
        return self


class Contradiction(_Model):
    """Advice that must not stand together: two or more ``sides`` of rule ids or skills.

    A skill stands for every rule whose first skill it is. Where the rules look at facts to
    tell the sides apart, ``decided_by`` names them.
    """

    sides: Annotated[list[Annotated[list[Text], Field(min_length=1)]], Field(min_length=2)]
    decided_by: list[Name] = []
    because: Text


class Accepted(_Model):
    """A finding of the audit that may stay, and why.

    ``about`` is what the finding is about: a rule, a fact (then all its values too), a
    ``fact is value``, or a list of the two rules.
    """

    check: Annotated[str, StringConstraints(pattern=r"^[a-z]+(-[a-z]+)*$")]
    about: Text | list[Text]
    reason: Text
    date: date

    @property
    def names(self) -> frozenset[str]:
        return frozenset([self.about] if isinstance(self.about, str) else self.about)


class Range(_Model):
    """A number from ``low`` to ``high``, both included."""

    low: Annotated[float, Field(ge=0)]
    high: float

    @model_validator(mode="after")
    def _rising(self) -> Range:
        if self.high < self.low:
            raise ValueError('"high" is below "low"')
        return self


class CircuitDose(_Model):
    """A circuit's legs, moves, sets, grades under flash level, seconds and rest."""

    usual_above_flash: int
    up_below_flash: int
    down_below_flash: int
    moves: Range
    sets: Range
    seconds_a_move: Range
    rest_for_work: float
    legs: Annotated[list[Literal["up", "down"]], Field(min_length=1)]
    how: Text
    unknown_up: Text
    unknown_down: Text
    flash_note: Text
    notes: list[Text] = []
    ground: Annotated[list[Ground], Field(min_length=1)]


class EnduranceDose(_Model):
    """Long easy laps: minutes, number, grades under the usual grade, rest."""

    below_usual: int
    lap_minutes: Range
    laps: Range
    seconds_a_move: Range
    rest_for_work: float
    how: Text
    unknown_grade: Text
    notes: list[Text] = []
    ground: Annotated[list[Ground], Field(min_length=1)]


class RestBand(_Model):
    """Efforts of so many seconds want a rest of so many times the work."""

    seconds: Range
    rest_for_work: Range


class RestEffort(_Model):
    """A kind of try in plain words, its seconds, and the minutes of rest after it."""

    effort: Text
    seconds: float
    minutes: Range


class RestDose(_Model):
    """Bands in rising order of seconds, and the minutes that people can keep in mind."""

    bands: Annotated[list[RestBand], Field(min_length=1)]
    efforts: list[RestEffort]
    notes: list[Text] = []
    ground: Annotated[list[Ground], Field(min_length=1)]


class HangDose(_Model):
    """One dose of hangs: number, seconds, rest, share of the most that can be held."""

    how: Text
    hangs: Range | None = None
    seconds: float | None = None
    rest_seconds: Range | None = None
    percent: Range | None = None
    times_a_week: int = 0
    weeks: int = 0


class WeightDose(_Model):
    """Added weight: the history that it needs and the step a week in kg."""

    needs_history: Name
    kg_a_week: float
    how: Text


class HangDoses(_Model):
    """The doses by the value of ``hang_dose``, and the age under which there are none.

    ``hurt`` is said when hard finger loading is held back.
    """

    not_under_age: int
    apart_hours: int
    hurt: HangDose
    none: HangDose
    light: HangDose
    full: HangDose
    weight: WeightDose
    pockets: Text
    age_unknown: Text
    notes: list[Text] = []
    ground: Annotated[list[Ground], Field(min_length=1)]


class CampusLimit(_Model):
    """The age under which there is no campus board."""

    not_under_age: int
    ground: Annotated[list[Ground], Field(min_length=1)]


class BlockDose(_Model):
    """A block of a session: its share of the minutes, its limits, what it loads.

    ``instead`` takes the minutes over when a safety rule holds back what it loads. A block
    is part of sessions of ``from_minutes`` or longer.
    """

    name: Name
    title: Text
    share: Share
    least: int = 0
    most: int = 10_000
    from_minutes: int = 0
    minutes_a_piece: float | None = None
    pieces: Text | None = None
    below_usual: int | None = None
    loads: list[Name] = []
    instead: Name | None = None
    how: Text


class SessionDose(_Model):
    """The limits of a session in minutes and its blocks in order."""

    shortest: int
    longest: int
    usual: int
    blocks: Annotated[list[BlockDose], Field(min_length=1)]
    notes: list[Text] = []
    ground: Annotated[list[Ground], Field(min_length=1)]


class DayKind(_Model):
    """A kind of training day and its usual effort from 0 to 10."""

    title: Text
    effort: Annotated[float, Field(ge=0, le=10)]
    how: Text


class WeekDose(_Model):
    """Hard days and the other kinds by sessions a week, and the hours between hard days."""

    apart_hours: int
    most_days: Annotated[int, Field(ge=1, le=7)]
    hard_days: dict[int, int]
    child_hard_days: int
    growing_hard_days: int
    others: dict[int, list[Name]]
    kinds: dict[Name, DayKind]
    notes: list[Text] = []
    child_note: Text
    growing_note: Text
    ground: Annotated[list[Ground], Field(min_length=1)]

    @model_validator(mode="after")
    def _complete(self) -> WeekDose:
        for days in range(1, self.most_days + 1):
            if days not in self.hard_days or days not in self.others:
                raise ValueError(f"a week of {days} sessions is missing")
            if self.hard_days[days] + len(self.others[days]) != days:
                raise ValueError(f"hard and other days do not make {days}")
        unknown = {k for kinds in self.others.values() for k in kinds} - set(self.kinds)
        for kind in sorted(unknown | ({"hard", "varied", "easy"} - set(self.kinds))):
            raise ValueError(f'the kind of day "{kind}" is not described')
        return self


class WarmUpStep(_Model):
    """One step of the warm-up, its share of the minutes, and grades under the usual one."""

    title: Text
    share: Share
    below_usual: int | None = None
    how: Text


class WarmUpDose(_Model):
    """The minutes of a warm-up and its steps in order."""

    usual: int
    least: int
    most: int
    steps: Annotated[list[WarmUpStep], Field(min_length=1)]
    notes: list[Text] = []
    ground: Annotated[list[Ground], Field(min_length=1)]


class GradeNotes(_Model):
    """What is said beside a piece of the grade table."""

    notes: list[Text] = []
    ground: Annotated[list[Ground], Field(min_length=1)]


class PlanCautions(_Model):
    """Sentences for what safety does to a plan."""

    stop: Text
    fingers: Text
    child: Text
    ground: Annotated[list[Ground], Field(min_length=1)]


class Doses(_Model):
    """All numbers of practice plans (``doses.yaml``)."""

    cautions: PlanCautions
    grades: GradeNotes

    circuit: CircuitDose
    endurance: EnduranceDose
    rests: RestDose
    hangs: HangDoses
    campus: CampusLimit
    session: SessionDose
    week: WeekDose
    warm_up: WarmUpDose


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


class Voice(_Model):
    """A way of telling a case: who tells it, how it begins, goes on and ends.

    ``person`` is first when climbers tell of themselves, third when somebody tells of
    them. ``lower`` leaves capital letters out, ``short_forms`` says "I'm" for "I am".
    ``joins`` stand between two clauses of a sentence, ``stops`` between sentences.
    ``leads`` begin the sentences of a group. ``begins`` and ``ends`` fit any story,
    ``begins_stuck`` and ``ends_stuck`` one in which something goes wrong on a move.
    ``strays`` are sentences that tell nothing about the case; messy cases have some.
    """

    person: Literal["first", "third"] = "first"
    lower: bool = False
    short_forms: bool = True
    begins: list[str] = [""]
    begins_stuck: list[str] = []
    joins: Annotated[list[str], Field(min_length=1)]
    stops: Annotated[list[str], Field(min_length=1)] = [". "]
    leads: dict[Name, list[str]] = {}
    ends: Annotated[list[str], Field(min_length=1)]
    ends_stuck: list[str] = []
    strays: list[Text] = []


class Telling(_Model):
    """How cases are told (``telling.yaml``): voices, and phrases by fact and value.

    A phrase is a clause without its stop; one that begins with "+" is added to the
    clause of the trouble, one that ends with "?" is a question. ``groups`` say which facts
    are told together, ``orders`` in which order groups may come. ``usual`` are the limits
    between which a number is drawn, ``round`` what it is a multiple of where it can be.
    """

    voices: Annotated[dict[Name, Voice], Field(min_length=1)]
    groups: Annotated[dict[Name, list[Name]], Field(min_length=1)]
    orders: Annotated[list[list[Name]], Field(min_length=1)]
    short_forms: dict[str, str] = {}
    usual: dict[Name, tuple[float, float]] = {}
    round: dict[Name, int] = {}
    facts: dict[Name, dict[Name, Annotated[list[Text], Field(min_length=1)]]]

    @model_validator(mode="after")
    def _every_group_has_a_place(self) -> Self:
        for order in self.orders:
            if sorted(order) != sorted(self.groups):
                raise ValueError(f"each order names every group once: {', '.join(self.groups)}")
        return self


class Hearing(_Model):
    """How the free words of a trainee are heard (``hearing.yaml``).

    ``same`` are words that mean the same, under the word that stands for them, ``opposites``
    pairs of such words of which one is said where the other is wrong. ``skills``
    and ``loads`` hold what is said when a skill, or a load, is recommended; ``stop``,
    ``refer`` and ``go_on`` what is said when the climbing is ended, handed to a clinician
    or goes on; ``never`` what no coach says to anybody, ``not_yet`` what puts a thing off.
    ``empty`` words say nothing;
    ``negations`` turn what follows round ("*ing" is any word of that ending), up to a word
    of ``turns``; ``conditions`` begin what holds only perhaps, unless they are part of
    ``despite``; ``later`` what comes only after something else. ``force`` is what is said
    where strength or haste shall do instead of a way to move, ``vague`` what points
    somewhere and says nothing to do.
    """

    same: dict[Name, list[Text]]
    opposites: list[tuple[Name, Name]] = []
    skills: dict[str, list[Text]]
    loads: dict[Name, list[Text]]
    stop: Annotated[list[Text], Field(min_length=1)]
    refer: Annotated[list[Text], Field(min_length=1)]
    go_on: Annotated[list[Text], Field(min_length=1)]
    never: list[Text]
    not_yet: list[Text]
    empty: list[Text]
    negations: Annotated[list[Text], Field(min_length=1)]
    turns: list[Text]
    conditions: list[Text]
    later: list[Text]
    despite: list[Text] = []
    force: list[Text] = []
    vague: list[Text] = []


class PinnedCase(_Model):
    """A case that a coach gives to all trainees: its facts as in a rule's test.

    ``told`` are the climber's words; without it the case is told like a drawn one.
    ``wants`` are rules that must be among the suggestions.
    """

    title: Text
    facts: Annotated[dict[Name, str | list[str]], Field(min_length=1)]
    told: Text | None = None
    wants: list[Text] = []
    by: Text
    note: Text | None = None


class Cases(_Model):
    """``cases.yaml``: pinned cases, what cannot be together, and what may be told besides.

    ``apart`` are groups of conditions that never hold at once in a real climber's story.
    ``beside`` are facts that may be added to a case when they do not change its advice.
    ``after`` names facts that are told right after another one, which is added when it is
    missing. ``about`` are facts that say what a story is about: what goes wrong, what is wanted.
    """

    about: list[Name] = []
    after: dict[Name, Name] = {}
    apart: list[Annotated[list[Text], Field(min_length=2)]] = []
    beside: list[Name] = []
    pinned: dict[Text, PinnedCase] = {}
