"""What the advice layer gives: the shapes of the JSON Lines interface."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field


class _Out(BaseModel):
    model_config = ConfigDict(frozen=True)


class Understood(_Out):
    """One fact with its value and unit, the words it came from, and how it is known."""

    fact: str
    value: str | bool | int | float
    unit: str | None = None
    words: str
    known_by: str
    denied: bool = False
    sentence: Annotated[str, Field(description="the fact in plain words")]


class Suggested(_Out):
    """One suggestion of a rule, with the said facts and the chain of rules that lead to it.

    ``strength`` is its score in this case, 0 to 1.
    """

    rule: str
    skills: tuple[str, ...]
    now: str
    why: str
    facts: tuple[str, ...]
    chain: tuple[str, ...]
    drill: str
    cautions: tuple[str, ...]
    strength: float
    works_when: str
    dose: str | None = None
    sources: tuple[str, ...] = ()


class Ask(_Out):
    """The next question, its choices, and why its answer matters. ``bits`` is what it tells."""

    fact: str
    question: str
    choices: tuple[str, ...]
    reason: str
    bits: float = 0.0


class HeldBack(_Out):
    """A suggestion that a safety rule holds back: what it loads, and the rules that say so."""

    rule: str
    loads: tuple[str, ...]
    because: tuple[str, ...]


class Clash(_Out):
    """Rules that concluded different values of one fact in this case: a fault of the rule set."""

    fact: str
    values: tuple[str, ...]
    rules: tuple[str, ...]


class Advice(_Out):
    """The advice of one case, in rank order, with everything that bears on it."""

    suggestions: tuple[Suggested, ...] = ()
    stop: bool = False
    urgency: str | None = None
    replies: tuple[str, ...] = ()
    held_back: tuple[HeldBack, ...] = ()
    clashes: tuple[Clash, ...] = ()
    ask: Ask | None = None
