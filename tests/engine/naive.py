"""The engine's meaning written down as plainly as possible, to compare the engine with.

Nothing here is shared with the engine but the types of its input and output.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import product

from coachbot.engine import (
    All,
    Case,
    Condition,
    Conflict,
    EngineRule,
    Firing,
    Matched,
    Op,
    Run,
    Test,
    Value,
)

Values = tuple[Value, ...]


def same(a: Value, b: Value) -> bool:
    return a == b and isinstance(a, bool) == isinstance(b, bool)


def among(value: Value, values: Sequence[Value]) -> bool:
    return any(same(value, each) for each in values)


def witnesses(test: Test, values: Values, denied: Values) -> Values | None:
    """The values that make the test hold, or None when it does not."""
    bound = test.value
    if test.op is Op.UNKNOWN:
        return None if values else ()
    if test.op is Op.NOT_EQUAL:
        assert bound is not None
        assert not isinstance(bound, tuple)
        is_there, is_denied = among(bound, values), among(bound, denied)
        return values if not is_there and (values or is_denied) else None
    if test.op is Op.KNOWN:
        found = values
    elif isinstance(bound, tuple):
        found = tuple(v for v in values if among(v, bound))
    elif test.op is Op.EQUAL:
        found = tuple(v for v in values if bound is not None and same(v, bound))
    else:
        assert isinstance(bound, (int, float))
        numbers = [v for v in values if type(v) is not bool and not isinstance(v, str)]
        found = tuple(n for n in numbers if (n >= bound if test.op is Op.AT_LEAST else n <= bound))
    return found or None


def wording(test: Test) -> str:
    """The same for tests that ask the same of the same attribute."""
    values = test.value if isinstance(test.value, tuple) else (test.value,)
    numbers = [float(v) if type(v) is int and abs(v) < 2**53 else v for v in values]
    return f"{test.attribute}|{test.op}|{sorted(set(map(repr, numbers)))}"


def tests_in(when: Condition) -> list[Test]:
    if isinstance(when, Test):
        return [when]
    return [test for part in when.parts for test in tests_in(part)]


def ways(when: Condition) -> set[frozenset[str]]:
    """Every set of tests that makes the condition hold, larger ones than needed included."""
    if isinstance(when, Test):
        return {frozenset({wording(when)})}
    parts = [ways(part) for part in when.parts]
    if isinstance(when, All):
        return {frozenset().union(*each) for each in product(*parts)}
    return set().union(*parts)


def minimal_ways(when: Condition) -> list[frozenset[str]]:
    found = ways(when)
    return [way for way in found if not any(other < way for other in found)]


class Naive:
    """A forward chainer that tries every rule on every case."""

    def __init__(self, rules: Sequence[EngineRule], single: Collection[str]) -> None:
        self.single = single
        makers: dict[str, list[EngineRule]] = {}
        for rule in rules:
            for attribute, _ in rule.then:
                makers.setdefault(attribute, []).append(rule)
        level: dict[str, int] = {}

        def find(rule: EngineRule) -> int:
            if rule.name not in level:
                before = [m for t in tests_in(rule.when) for m in makers.get(t.attribute, [])]
                level[rule.name] = max((find(m) + 1 for m in before), default=0)
            return level[rule.name]

        self.rules = sorted(rules, key=lambda r: (find(r), r.name))
        self.levels = level
        self.ways = {rule.name: minimal_ways(rule.when) for rule in rules}
        self.tests = {rule.name: tests_in(rule.when) for rule in rules}
        self.words = {id(t): wording(t) for tests in self.tests.values() for t in tests}

    def run(self, case: Case) -> Run:
        facts: dict[str, Values] = {}
        for attribute, values in case.said.items():
            for value in values:
                if value == value and not among(value, facts.get(attribute, ())):
                    facts[attribute] = (*facts.get(attribute, ()), value)
        said = dict(facts)
        proposed: dict[str, list[tuple[Value, str]]] = {}
        fired: list[tuple[EngineRule, tuple[Matched, ...]]] = []
        for level in range(max(self.levels.values(), default=-1) + 1):
            rules = [rule for rule in self.rules if self.levels[rule.name] == level]
            new = [(rule, self.match(rule, facts, case)) for rule in rules]
            for rule, matched in new:
                if matched is None:
                    continue
                fired.append((rule, matched))
                for attribute, value in rule.then:
                    denied = among(value, case.denied.get(attribute, ()))
                    if attribute in self.single:
                        if attribute not in said and not denied:
                            proposed.setdefault(attribute, []).append((value, rule.name))
                    elif not denied and not among(value, facts.get(attribute, ())):
                        facts[attribute] = (*facts.get(attribute, ()), value)
            for attribute, found in proposed.items():
                # Not read before all its makers are done: it may come and go until then.
                if all(same(value, found[0][0]) for value, _ in found):
                    facts[attribute] = (found[0][0],)
                else:
                    facts.pop(attribute, None)
        conflicts: list[Conflict] = []
        for attribute, found in proposed.items():
            wanted: Values = ()
            for value, _ in found:
                wanted = wanted if among(value, wanted) else (*wanted, value)
            if len(wanted) > 1:
                names = tuple(sorted({name for _, name in found}))
                conflicts.append(Conflict(attribute, wanted, names))
        lost = {conflict.attribute for conflict in conflicts}
        firings: list[Firing] = []
        for rule, matched in fired:
            concluded: list[tuple[str, Value]] = []
            overruled: list[tuple[str, Value]] = []
            for n, (attribute, value) in enumerate(rule.then):
                if any(attribute == a and same(value, v) for a, v in rule.then[:n]):
                    continue
                already = said.get(attribute, ())
                if not among(value, already) and (
                    (already and attribute in self.single)
                    or among(value, case.denied.get(attribute, ()))
                ):
                    overruled.append((attribute, value))
                elif attribute not in lost:
                    concluded.append((attribute, value))
            firings.append(Firing(rule.name, matched, tuple(concluded), tuple(overruled)))
        return Run(tuple(firings), facts, tuple(conflicts))

    def match(
        self, rule: EngineRule, facts: dict[str, Values], case: Case
    ) -> tuple[Matched, ...] | None:
        found: dict[str, Matched] = {}
        for test in self.tests[rule.name]:
            attribute = test.attribute
            values = witnesses(test, facts.get(attribute, ()), case.denied.get(attribute, ()))
            if values is not None and self.words[id(test)] not in found:
                found[self.words[id(test)]] = Matched(test, values)
        holding = [way for way in self.ways[rule.name] if way <= found.keys()]
        if not holding:
            return None
        needed = frozenset().union(*holding)
        return tuple(matched for words, matched in found.items() if words in needed)


def text(run: Run) -> str:
    """A run as exact text: 1, 1.0 and True stay apart; the order of facts and conflicts goes."""
    conflicts = sorted(map(repr, run.conflicts))
    return "\n".join([*map(repr, run.firings), repr(sorted(run.facts.items())), *conflicts])
