"""The next question: the one whose answer is expected to tell most about the ranking.

For each fact that can be asked, every possible answer is tried out on a copy of the case.
Answers that lead to the same first three suggestions are one outcome; the worth of the
question is the entropy of its outcomes in bits (Shannon), each answer weighed by how
likely it is. A question whose outcomes are all the same tells nothing and is never asked.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence

from coachbot.case import Case, Known, KnownBy
from coachbot.engine.model import All, Any, Condition, Op, Value
from coachbot.knowledge.book import RuleBook

from .inference import Outcome

DONT_KNOW = 0.1
LEAST_BITS = 0.25

TURNS = ("last", "any", "first")

Ranks = Callable[[Case], tuple[str, ...]]


def entropy(weights: Iterable[float]) -> float:
    """Shannon entropy in bits of a distribution given by weights that need not sum to 1."""
    weights = [w for w in weights if w > 0]
    total = sum(weights)
    return -sum(w / total * math.log2(w / total) for w in weights) if weights else 0.0


class Questions:
    """Chooses questions for one rule book."""

    def __init__(self, book: RuleBook) -> None:
        self._book = book
        read: dict[str, set[Value]] = {}
        for rule in book.rules.values():
            _gather(rule.when, read)
            for _, origin, values in rule.copies:
                read.setdefault(origin, set()).update(values)
        self._answers = {
            name: self._answers_of(name, read.get(name, set()))
            for name, fact in book.facts.items()
            if fact.asked
        }

    def best(
        self, outcome: Outcome, first_three: tuple[str, ...], ranks: Ranks
    ) -> tuple[str, float] | None:
        """The fact to ask for and the bits that its answer tells, or None."""
        worth = self.worths(outcome, first_three, ranks)
        telling = [
            (first, bits, name) for name, (first, bits) in worth.items() if bits >= LEAST_BITS
        ]
        if not telling:
            return None
        _, bits, name = max(telling)
        return name, bits

    def worths(
        self, outcome: Outcome, first_three: tuple[str, ...], ranks: Ranks
    ) -> Mapping[str, tuple[int, float]]:
        """Each question that makes sense now: its turn (later ones come first), and its bits."""
        case = outcome.case
        worth: dict[str, tuple[int, float]] = {}
        for name in outcome.askable:
            if case.settled(name) or outcome.facts.get(name):
                continue
            turn = self._book.facts[name].turn
            if turn == "last" and first_three:
                continue
            worth[name] = (TURNS.index(turn), self._worth(name, case, first_three, ranks))
        return worth

    def _worth(self, name: str, case: Case, first_three: tuple[str, ...], ranks: Ranks) -> float:
        answers = self._answers[name]
        if not answers:
            return 0.0
        total = sum(weight for _, weight in answers)
        outcomes: dict[tuple[str, ...], float] = {first_three: DONT_KNOW * total}
        for value, weight in answers:
            supposed = Known(name, value, known_by=KnownBy.SUPPOSED)
            ranked = ranks(case.with_known([supposed], self._book.single_valued))
            outcomes[ranked] = outcomes.get(ranked, 0.0) + weight
        return entropy(outcomes.values())

    def _answers_of(self, name: str, read: set[Value]) -> Sequence[tuple[Value, float]]:
        """The answers that could matter, each with its weight.

        Values that no rule reads all lead to the same place, so one stands for them all.
        """
        fact = self._book.facts[name]
        if fact.kind == "yes-no":
            return [(True, 1.0), (False, 1.0)]
        if fact.kind in {"choice", "several"}:
            return [(v, d.likely) for v, d in fact.values.items()]
        bounds = sorted(float(v) for v in read if not isinstance(v, str))
        low = fact.low if fact.low is not None else 0.0
        high = fact.high if fact.high is not None else float(len(self._book.ladder.steps) - 1)
        points = sorted({low, high, *bounds, *(b - 1 for b in bounds), *(b + 1 for b in bounds)})
        return [(int(p) if p.is_integer() else p, 1.0) for p in points if low <= p <= high]


def _gather(when: Condition, read: dict[str, set[Value]]) -> None:
    if isinstance(when, All | Any):
        for part in when.parts:
            _gather(part, read)
        return
    values = when.value if isinstance(when.value, tuple) else (when.value,)
    known = read.setdefault(when.attribute, set())
    known.update(v for v in values if v is not None and when.op is not Op.KNOWN)
