"""Facts that are possible together, sampled exactly: with the solver of the audit.

A goal is a set of literals of the rule book as a logic program. A sample is a set of said
facts with which the goal holds and from which nothing can be taken away. Which of the many
sets it is depends on a shuffled order alone, never on how the solver searches: the same
random order gives the same facts with any version of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from random import Random

from coachbot.case import Case, Known
from coachbot.engine.logic import holds, tests_of
from coachbot.engine.model import Test, Value
from coachbot.knowledge.book import ReadRule, RuleBook, Study
from coachbot.review.cases import Cases


@dataclass(frozen=True, slots=True)
class _Sayable:
    """One value that can be told, and the literal that it was."""

    fact: str
    value: Value
    literal: int


class Sampler:
    """Samples cases of one rule book. ``sayable`` are the values that have words, by fact."""

    def __init__(self, book: RuleBook, study: Study, sayable: Mapping[str, Sequence[Value]]):
        self._book, self._study = book, study
        self.cases = Cases(book, study.apart)
        solver = self.cases.solver
        self._sayable: list[_Sayable] = []
        never: list[int] = [solver.conflict(name) for name in book.facts]
        never += [solver.literal(when) for when in study.apart]
        for name, domain in self.cases.space.items():
            never += [solver.denied(name, v) for v in domain.deniable]
            told = domain.values if self._is_number(name) else sayable.get(name, ())
            for value in domain.values:
                literal = solver.said(name, value)
                if name in sayable and value in told:
                    self._sayable.append(_Sayable(name, value, literal))
                else:
                    never.append(literal)
        solver.rule_out(n for n in never if n != -solver.true)
        self.literals = tuple(s.literal for s in self._sayable)
        self._kinds = cache(self._kinds_of)

    def fired(self, rule: str) -> int:
        """Holds when a rule fires."""
        return self.cases.fired(rule)

    def advised(self, rule: str) -> int:
        """Holds when a rule's suggestion is left after all that safety holds back."""
        return self.cases.kept(rule)

    def none_of(self, rules: Iterable[ReadRule]) -> int:
        """Holds when none of the rules fires."""
        return -self.cases.solver.any_of(self.cases.fired(r.id) for r in rules)

    def any_said(self, facts: Iterable[str]) -> int:
        """Holds when any value of these facts is said that can be told."""
        wanted = set(facts)
        told = (s.literal for s in self._sayable if s.fact in wanted)
        return self.cases.solver.any_of(told)

    def possible(self, goal: Sequence[int]) -> bool:
        """Whether some case that can be told reaches the goal."""
        return self.cases.solver.possible(*goal)

    def sample(self, goal: Sequence[int], random: Random) -> Case | None:
        """A least case that reaches the goal, or None when there is none.

        In a shuffled order the shortest beginning is looked for in which the goal can be
        reached; its last fact is needed. So it goes on with what is needed as given.
        """
        order = random.sample(self._sayable, k=len(self._sayable))
        by_literal = {s.literal: s for s in order}
        needed = self.cases.solver.least_needed(goal, list(by_literal))
        if needed is None:
            return None
        told = (by_literal[literal] for literal in reversed(needed))
        return Case(tuple(Known(s.fact, self._told(s, random)) for s in told))

    def _is_number(self, name: str) -> bool:
        return self._book.facts[name].kind in {"number", "grade"}

    def _told(self, said: _Sayable, random: Random) -> Value:
        """A value as it is told: of a number, a usual one that leads to the same firings."""
        if not self._is_number(said.fact):
            return said.value
        alike = self._kinds(said.fact)[said.value]
        low, high = self._study.telling.usual.get(said.fact, (alike[0], alike[-1]))
        usual = [v for v in alike if low <= v <= high]
        if usual:
            return random.choice(self._rounded(said.fact, usual))
        near = sorted(alike, key=lambda v: max(low - v, v - high))
        return random.choice(near[: len(near) // 3 + 1])

    def usual_number(self, fact: str, random: Random) -> int:
        """A usual number of a fact."""
        low, high = self._study.telling.usual[fact]
        return random.choice(self._rounded(fact, range(int(low), int(high) + 1)))

    def _rounded(self, fact: str, numbers: Sequence[int]) -> Sequence[int]:
        """Those that somebody would say rather, such as whole years; all when there are none."""
        step = self._study.telling.round.get(fact, 1)
        return [n for n in numbers if n % step == 0] or numbers

    def _kinds_of(self, name: str) -> dict[Value, list[int]]:
        """Whole numbers that no condition tells apart, by the one that stands for them."""
        fact = self._book.facts[name]
        low, high = int(fact.low or 0), int(fact.high or 0)
        if fact.kind == "grade":
            low, high = 0, len(self._book.ladder.steps) - 1
        conditions = [r.when for r in self._book.rules.values()]
        conditions += [*self._book.ask_when.values(), *self._study.apart]
        tests = [t for when in conditions for t in tests_of(when) if t.attribute == name]
        alike: dict[tuple[bool, ...], list[int]] = {}
        for number in range(low, high + 1):
            alike.setdefault(_signature(tests, number), []).append(number)
        return {
            value: alike.get(_signature(tests, value), [int(value)])
            for value in self.cases.space[name].values
        }


def _signature(tests: Sequence[Test], value: Value) -> tuple[bool, ...]:
    return tuple(holds(t, (value,), ()) for t in tests)
