"""Which facts, said together, make a rule fire: found exactly, as stable models.

The rule and all rules that can feed or block it are written as a logic program whose free
choice is what is said. Every set of said facts from which nothing can be taken away is
enumerated by clingo. Numbers are told apart only by the bounds that some condition names.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import clingo

from coachbot.engine.model import All, Any, Condition, EngineRule, Op, Test, Value
from coachbot.knowledge.book import RuleBook

MOST = 400


@dataclass(frozen=True, slots=True)
class Between:
    """A stretch of a number: every value from ``low`` to ``high`` leads to the same firings."""

    low: float
    high: float


Said = Mapping[str, tuple[Value | Between, ...]]


class Possible:
    """Finds what must be said for a rule. ``sayable`` gives the values that can be told."""

    def __init__(self, book: RuleBook, sayable: Mapping[str, Sequence[Value]]) -> None:
        self._book = book
        self._sayable = sayable
        self._makers: dict[str, list[EngineRule]] = {}
        self._rules: dict[str, list[EngineRule]] = {}
        for read in book.rules.values():
            for rule in read.for_engine():
                self._rules.setdefault(read.id, []).append(rule)
                for fact, _ in rule.then:
                    self._makers.setdefault(fact, []).append(rule)
        self.least = cache(self._least)

    def _least(self, rule_id: str) -> tuple[Said, ...]:
        """The smallest sets of said facts with which a rule fires, in a fixed order.

        An empty tuple means that no facts that can be told make it fire.
        """
        mine = self._rules.get(rule_id) or [EngineRule(rule_id, self._book.rules[rule_id].when)]
        program = _Program(self._book, self._sayable)
        for number, rule in enumerate(self._cone(mine)):
            program.rule(number, rule, wanted=rule in mine)
        return program.least()

    def _cone(self, start: Sequence[EngineRule]) -> list[EngineRule]:
        """The rules themselves and all that conclude what they, in turn, read."""
        found: dict[str, EngineRule] = {r.name: r for r in start}
        waiting = list(start)
        while waiting:
            for test in tests(waiting.pop().when):
                for maker in self._makers.get(test.attribute, ()):
                    if maker.name not in found:
                        found[maker.name] = maker
                        waiting.append(maker)
        return list(found.values())


def tests(when: Condition) -> Iterator[Test]:
    """Every test of a condition."""
    if isinstance(when, All | Any):
        for part in when.parts:
            yield from tests(part)
    else:
        yield when


class _Program:
    def __init__(self, book: RuleBook, sayable: Mapping[str, Sequence[Value]]) -> None:
        self._book = book
        self._sayable = sayable
        self._lines: list[str] = ["#show said/2."]
        self._facts: dict[str, int] = {}
        self._values: dict[tuple[str, Value | Between], int] = {}
        self._named: dict[int, tuple[str, Value | Between]] = {}
        self._tests: list[tuple[str, Test]] = []
        self._nodes = 0
        self._wanted: list[str] = []
        self._concluded: dict[str, set[Value]] = {}

    def rule(self, number: int, rule: EngineRule, wanted: bool) -> None:
        self._lines.append(f"fire({number}) :- {self._condition(rule.when)}.")
        if wanted:
            self._lines.append(f"wanted :- fire({number}).")
        for fact, value in rule.then:
            k, v = self._fact(fact), self._value(fact, value)
            self._concluded.setdefault(fact, set()).add(value)
            self._lines.append(f"has({k},{v}) :- fire({number}).")

    def least(self) -> tuple[Said, ...]:
        for name in self._facts:
            self._choice(name)
        for node, test in self._tests:
            self._test(node, test)
        for name, k in self._facts.items():
            self._lines.append(f"any({k}) :- has({k},_).")
            if name in self._book.single_valued:
                self._lines.append(f":- has({k},V), has({k},W), V < W.")
        self._lines += [
            ":- not wanted.",
            "has(K,V) :- said(K,V).",
            "#defined can/2. #defined has/2. #defined any/1.",
            *(f"#defined n{n}/0." for n in range(1, self._nodes + 1)),
            "{ said(K,V) } :- can(K,V).",
            "#heuristic said(K,V) : can(K,V). [1,false]",
        ]
        control = clingo.Control(
            ["0", "--warn=none", "--heuristic=Domain", "--enum-mode=domRec", "--seed=1"],
            logger=lambda code, message: None,
        )
        control.add("base", [], "\n".join(self._lines))
        control.ground([("base", [])])
        models: list[frozenset[int]] = []
        with control.solve(yield_=True) as handle:
            for model in handle:
                said = (s.arguments[1].number for s in model.symbols(shown=True))
                models.append(frozenset(said))
                if len(models) >= MOST:
                    break
        return tuple(self._shown(m) for m in sorted(models, key=lambda m: (len(m), sorted(m))))

    def _shown(self, model: frozenset[int]) -> Said:
        said: dict[str, tuple[Value | Between, ...]] = {}
        for name, value in (self._named[v] for v in sorted(model)):
            said[name] = (*said.get(name, ()), value)
        return said

    def _fact(self, name: str) -> int:
        return self._facts.setdefault(name, len(self._facts))

    def _value(self, name: str, value: Value | Between) -> int:
        key = (name, value if isinstance(value, str | bool | Between) else float(value))
        if key not in self._values:
            self._values[key] = len(self._values)
            self._named[self._values[key]] = (name, value)
        return self._values[key]

    def _condition(self, when: Condition) -> str:
        self._nodes += 1
        node = f"n{self._nodes}"
        if isinstance(when, Test):
            self._fact(when.attribute)
            self._tests.append((node, when))
        elif isinstance(when, All):
            parts = [self._condition(part) for part in when.parts]
            self._lines.append(f"{node} :- {', '.join(parts)}." if parts else f"{node}.")
        else:
            for part in when.parts:
                self._lines.append(f"{node} :- {self._condition(part)}.")
        return node

    def _choice(self, name: str) -> None:
        """What can be said of a fact, as far as the conditions here tell it apart."""
        sayable = self._sayable.get(name)
        if sayable is None:
            return
        k = self._facts[name]
        for value in self._stretches(name) if self._is_number(name) else sayable:
            self._lines.append(f"can({k},{self._value(name, value)}).")

    def _is_number(self, name: str) -> bool:
        return self._book.facts[name].kind in {"number", "grade"}

    def _stretches(self, name: str) -> list[Between]:
        fact = self._book.facts[name]
        low = fact.low if fact.low is not None else 0.0
        high = fact.high if fact.high is not None else float(len(self._book.ladder.steps) - 1)
        cuts: set[float] = set()
        for _, test in self._tests:
            if test.attribute != name or test.value is None:
                continue
            for value in test.value if isinstance(test.value, tuple) else (test.value,):
                number = float(value)
                cuts |= set() if test.op is Op.AT_MOST else {number}
                cuts |= set() if test.op is Op.AT_LEAST else {number + 1}
        edges = [low, *sorted(c for c in cuts if low < c <= high), high + 1]
        return [Between(a, b - 1) for a, b in pairwise(edges)]

    def _test(self, node: str, test: Test) -> None:
        k = self._facts[test.attribute]
        if test.op is Op.KNOWN:
            self._lines.append(f"{node} :- any({k}).")
        elif test.op is Op.UNKNOWN:
            self._lines.append(f"{node} :- not any({k}).")
        elif self._is_number(test.attribute):
            for stretch in self._stretches(test.attribute):
                if _holds(test, stretch.low):
                    self._lines.append(
                        f"{node} :- has({k},{self._value(test.attribute, stretch)})."
                    )
        elif test.op is Op.NOT_EQUAL:
            assert test.value is not None
            assert not isinstance(test.value, tuple)
            v = self._value(test.attribute, test.value)
            self._lines.append(f"{node} :- any({k}), not has({k},{v}).")
        else:
            values = test.value if isinstance(test.value, tuple) else (test.value,)
            for value in values:
                assert value is not None
                self._lines.append(f"{node} :- has({k},{self._value(test.attribute, value)}).")


def _holds(test: Test, number: float) -> bool:
    values = test.value if isinstance(test.value, tuple) else (test.value,)
    bounds = [float(v) for v in values if v is not None]
    if test.op is Op.AT_LEAST:
        return number >= bounds[0]
    if test.op is Op.AT_MOST:
        return number <= bounds[0]
    if test.op is Op.NOT_EQUAL:
        return number not in bounds
    return number in bounds
