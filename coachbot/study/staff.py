"""The whole staff at a glance: where it is weak, and which rules are often disputed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from coachbot.knowledge.book import RuleBook

from .mastery import Share, families, shares, skills
from .store import Answer, Dispute, Store


@dataclass(frozen=True, slots=True)
class Staff:
    """Shares by trainee, family and skill; disputed rules with disputes and how many upheld."""

    by_trainee: tuple[Share, ...]
    by_family: tuple[Share, ...]
    by_skill: tuple[Share, ...]
    unsafe: tuple[tuple[str, int], ...]
    disputed: tuple[tuple[str, int, int], ...]


def overview(book: RuleBook, store: Store) -> Staff:
    """Everything from all answers."""
    answers = store.answers()
    return Staff(
        by_trainee=tuple(shares(answers, lambda a: [a.trainee])),
        by_family=tuple(shares(answers, families(book))),
        by_skill=tuple(shares(answers, skills(book))),
        unsafe=_unsafe(answers),
        disputed=_disputed(store.disputes(all_of_them=True)),
    )


def _unsafe(answers: Sequence[Answer]) -> tuple[tuple[str, int], ...]:
    """Rules whose cases got unsafe answers, most first."""
    count = Counter(a.rule for a in answers if a.verdict == "unsafe" and a.rule)
    return tuple((r, n) for r, n in sorted(count.items(), key=lambda x: (-x[1], x[0])))


def _disputed(disputes: Sequence[Dispute]) -> tuple[tuple[str, int, int], ...]:
    count = Counter(d.answer.rule or d.answer.key for d in disputes)
    upheld = Counter(d.answer.rule or d.answer.key for d in disputes if d.upheld)
    return tuple((r, n, upheld[r]) for r, n in sorted(count.items(), key=lambda x: (-x[1], x[0])))
