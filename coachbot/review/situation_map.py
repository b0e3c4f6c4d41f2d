"""Which situations the rules serve, with which advice, on which sources, and how thinly.

Completeness is counted as the share of cells that are covered (Suwa, Scott and Shortliffe,
AI Magazine 3(4), 16-21, 1982): here a cell is a situation that a coach meets.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum

from coachbot.knowledge.book import COMMON_PRACTICE, ReadRule, RuleBook

# Advice whose strength times sureness is under this is weak: less than an even chance to help.
WEAK = 0.5


class Served(StrEnum):
    """How well a situation is served."""

    NOT = "not served"
    WEAKLY = "only weak advice"
    ONCE = "one suggestion only"
    WELL = "two suggestions or more"
    ANSWERED = "answered in words"


@dataclass(frozen=True, slots=True)
class Serving:
    """One rule that serves a situation; ``strength`` is None for a reply in words."""

    rule: str
    says: str
    sources: tuple[str, ...]
    strength: float | None = None
    stops: bool = False

    @property
    def weak(self) -> bool:
        return self.strength is not None and self.strength < WEAK


@dataclass(frozen=True, slots=True)
class Row:
    """One situation and everything that serves it, strongest first."""

    id: str
    family: str
    situation: str
    aim: str
    rules: tuple[Serving, ...]

    @property
    def served(self) -> Served:
        advice = [r for r in self.rules if r.strength is not None]
        if not advice:
            return Served.ANSWERED if self.rules else Served.NOT
        if all(r.weak for r in advice):
            return Served.WEAKLY
        # A stop is complete by itself: there is no second way beside it.
        if len(advice) == 1 and not advice[0].stops:
            return Served.ONCE
        return Served.WELL

    @property
    def sources(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(key for rule in self.rules for key in rule.sources))


@dataclass(frozen=True, slots=True)
class SituationMap:
    """The rows in the order of the situations."""

    rows: tuple[Row, ...]

    def of_family(self, family: str) -> tuple[Row, ...]:
        return tuple(row for row in self.rows if row.family == family)

    @property
    def families(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(row.family for row in self.rows))

    def with_state(self, *states: Served) -> tuple[Row, ...]:
        return tuple(row for row in self.rows if row.served in states)

    @property
    def thin(self) -> tuple[Row, ...]:
        """The rows that want more."""
        return self.with_state(Served.NOT, Served.WEAKLY, Served.ONCE)

    @property
    def good(self) -> int:
        """How many rows are served as they should be."""
        return len(self.with_state(Served.WELL, Served.ANSWERED))


def situation_map(book: RuleBook, families: Collection[str] = ()) -> SituationMap:
    """The map of all situations, or of those of some families."""
    serving: dict[str, list[Serving]] = {name: [] for name in book.situations}
    for read in book.rules.values():
        for situation in dict.fromkeys(read.rule.serves):
            serving[situation].append(_serving(read))
    rows = (
        Row(
            name, each.family, each.situation, each.aim,
            tuple(sorted(serving[name], key=lambda s: (-(s.strength or 0.0), s.rule))),
        )
        for name, each in book.situations.items()
        if not families or each.family in families
    )  # fmt: skip
    return SituationMap(tuple(rows))


def _serving(read: ReadRule) -> Serving:
    rule = read.rule
    suggestion = rule.suggest
    keys = tuple(dict.fromkeys(_source(ground.key) for ground in rule.ground))
    if suggestion is None:
        return Serving(read.id, rule.reply or rule.caution or rule.why, keys)
    strength = round(suggestion.strength * suggestion.sure, 4)
    return Serving(read.id, suggestion.now, keys, strength, rule.stop is not None)


def _source(key: str) -> str:
    return "common practice" if key == COMMON_PRACTICE else key
