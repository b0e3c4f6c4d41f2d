"""How well something is known, with how sure that is: shares with Wilson intervals."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from coachbot.knowledge.book import RuleBook

from .store import Answer
from .weighing import Verdict

Z95 = 1.959963984540054


@dataclass(frozen=True, slots=True)
class Share:
    """So many right of so many, and the 95 % interval of the true share."""

    name: str
    right: int
    of: int
    low: float
    high: float

    @property
    def share(self) -> float:
        return self.right / self.of if self.of else 0.0


def wilson(right: int, of: int) -> tuple[float, float]:
    """The 95 % score interval of a share (Wilson 1927; Newcombe 1998, method 3).

    0 to 1 when there is nothing to go by.
    """
    if of == 0:
        return 0.0, 1.0
    p, z2 = right / of, Z95 * Z95
    centre = (p + z2 / (2 * of)) / (1 + z2 / of)
    half = Z95 / (1 + z2 / of) * math.sqrt(p * (1 - p) / of + z2 / (4 * of * of))
    low = 0.0 if right == 0 else max(0.0, centre - half)
    high = 1.0 if right == of else min(1.0, centre + half)
    return low, high


def shares(answers: Iterable[Answer], of: Callable[[Answer], Iterable[str]]) -> list[Share]:
    """The share of right answers by whatever ``of`` gives for an answer, weakest first."""
    right: dict[str, int] = {}
    total: dict[str, int] = {}
    for answer in answers:
        for name in set(of(answer)):
            total[name] = total.get(name, 0) + 1
            right[name] = right.get(name, 0) + (answer.verdict == Verdict.RIGHT)
    found = [Share(n, right[n], total[n], *wilson(right[n], total[n])) for n in total]
    return sorted(found, key=lambda s: (s.high, s.share, s.name))


def families(book: RuleBook) -> Callable[[Answer], Sequence[str]]:
    """The family that an answer belongs to."""

    def of(answer: Answer) -> Sequence[str]:
        read = book.rules.get(answer.rule or "")
        return [read.family] if read else []

    return of


def skills(book: RuleBook) -> Callable[[Answer], Sequence[str]]:
    """The skill that an answer's rule is mostly about."""

    def of(answer: Answer) -> Sequence[str]:
        read = book.rules.get(answer.rule or "")
        suggestion = read.rule.suggest if read else None
        return suggestion.skills[:1] if suggestion else []

    return of


def family_of(book: RuleBook, key: str) -> str:
    """The family of a card."""
    kind, _, name = key.partition(":")
    if kind == "rule" and name in book.rules:
        return book.rules[name].family
    if kind == "situation" and name in book.situations:
        return book.situations[name].family
    return "the coach's cases"
