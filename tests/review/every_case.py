"""Everything that can happen in a small rule book, by going through every case there is.

A second opinion on the solver that shares nothing with it: a fact, a firing or a conclusion is
the set of the numbers of the cases in which it holds, kept as the bits of one whole number.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import chain, combinations

from coachbot.engine.model import All, Any, Case, Condition, EngineRule, Op, Test, Value
from coachbot.knowledge.book import NOT_ALLOWED, ReadRule, RuleBook

Said = tuple[tuple[Value, ...], tuple[Value, ...]]


@dataclass(frozen=True)
class Fact:
    """What can be said of a fact, and the values that can be denied."""

    values: tuple[Value, ...]
    single: bool
    deniable: tuple[Value, ...]

    def ways(self) -> Iterator[Said]:
        most = 1 if self.single else len(self.values)
        for said in _up_to(self.values, most):
            for denied in _up_to(self.deniable, len(self.deniable)):
                if not set(said) & set(denied):
                    yield said, denied


def _up_to(values: tuple[Value, ...], most: int) -> Iterable[tuple[Value, ...]]:
    return chain.from_iterable(combinations(values, n) for n in range(most + 1))


def sayable_facts(*books: RuleBook) -> dict[str, Fact]:
    """All values of all facts that somebody can say, every one of which can be denied.

    Every whole number of a range is a value; numbers cannot be denied.
    """
    found: dict[str, Fact] = {}
    for book in books:
        for name, fact in book.facts.items():
            if fact.concluded and not fact.asked and name not in book.words:
                continue
            values: tuple[Value, ...]
            if fact.kind == "yes-no":
                values = (True, False)
            elif fact.kind == "number":
                assert fact.low is not None
                assert fact.high is not None
                values = tuple(range(int(fact.low), int(fact.high) + 1))
            else:
                values = tuple(fact.values)
            before = found[name].values if name in found else ()
            values = tuple(dict.fromkeys((*before, *values)))
            deniable = () if fact.kind == "number" else values
            found[name] = Fact(values, fact.kind != "several", deniable)
    return found


class EveryCase:
    """A book run on every case. ``facts`` are those of the book itself unless given."""

    def __init__(self, book: RuleBook, facts: Mapping[str, Fact] | None = None) -> None:
        self.book = book
        self.facts = dict(facts if facts is not None else sayable_facts(book))
        self._rules = [e for r in book.rules.values() for e in r.for_engine()]
        self._made: dict[tuple[str, Value], int] = {}
        self._fired: dict[str, int] = {}
        self.said: dict[tuple[str, Value], int] = {}
        self.denied: dict[tuple[str, Value], int] = {}
        self.count = 1
        self._sizes: list[int] = [0]
        for name, fact in self.facts.items():
            self._multiply(name, list(fact.ways()))
        self.all = (1 << self.count) - 1

    def _multiply(self, name: str, ways: list[Said]) -> None:
        """Each case so far once with each way of saying one more fact: block after block."""
        block = (1 << self.count) - 1
        for table in (self.said, self.denied):
            for entry, mask in table.items():
                table[entry] = sum(mask << (i * self.count) for i in range(len(ways)))
        for i, (said, denied) in enumerate(ways):
            for table, values in ((self.said, said), (self.denied, denied)):
                for value in values:
                    table[name, value] = table.get((name, value), 0) | block << (i * self.count)
        self._sizes = [n + len(s) + len(d) for s, d in ways for n in self._sizes]
        self.count *= len(ways)

    # What holds where

    def holds(self, when: Condition) -> int:
        if isinstance(when, All):
            found = self.all
            for part in when.parts:
                found &= self.holds(part)
            return found
        if isinstance(when, Any):
            found = 0
            for part in when.parts:
                found |= self.holds(part)
            return found
        return self._test(when)

    def _test(self, test: Test) -> int:
        values = {v: self.has(test.attribute, v) for v in self._values(test.attribute)}
        known = 0
        for mask in values.values():
            known |= mask
        if test.op is Op.KNOWN:
            return known
        if test.op is Op.UNKNOWN:
            return self.all & ~known
        if test.op is Op.NOT_EQUAL:
            denied = self.denied.get((test.attribute, test.value), 0)  # type: ignore[arg-type]
            there = self.has(test.attribute, test.value)  # type: ignore[arg-type]
            return (known | denied) & ~there
        found = 0
        for value, mask in values.items():
            if test.op is Op.EQUAL:
                fits = value == test.value
            elif test.op is Op.ONE_OF:
                assert isinstance(test.value, tuple)
                fits = value in test.value
            else:
                assert isinstance(test.value, int | float)
                assert isinstance(value, int | float)
                below = test.op is Op.AT_MOST
                fits = value <= test.value if below else value >= test.value
            found |= mask if fits else 0
        return found

    def _values(self, fact: str) -> list[Value]:
        said = [v for name, v in self.said if name == fact]
        made = [v for e in self._rules for name, v in e.then if name == fact]
        return list(dict.fromkeys((*said, *made)))

    def has(self, fact: str, value: Value) -> int:
        if (fact, value) not in self._made:
            wanted = self._wanted(fact, value) & ~self.conflict(fact)
            self._made[fact, value] = self.said.get((fact, value), 0) | wanted
        return self._made[fact, value]

    def _wanted(self, fact: str, value: Value) -> int:
        """Where rules conclude the value and nothing said stands against it."""
        found = 0
        for engine_rule in self._rules:
            if (fact, value) in engine_rule.then:
                found |= self.engine_fired(engine_rule)
        found &= ~self.denied.get((fact, value), 0)
        if fact in self.book.single_valued:
            for (name, _), mask in self.said.items():
                if name == fact:
                    found &= ~mask
        return found

    def conflict(self, fact: str) -> int:
        """Where rules conclude two or more values of a fact that holds one."""
        if fact not in self.book.single_valued:
            return 0
        made = {v for e in self._rules for name, v in e.then if name == fact}
        found = 0
        for one, other in combinations(sorted(made, key=str), 2):
            found |= self._wanted(fact, one) & self._wanted(fact, other)
        return found

    def engine_fired(self, engine_rule: EngineRule) -> int:
        if engine_rule.name not in self._fired:
            self._fired[engine_rule.name] = self.holds(engine_rule.when)
        return self._fired[engine_rule.name]

    def fired(self, rule: str) -> int:
        found = 0
        for engine_rule in self.book.rules[rule].for_engine():
            found |= self.engine_fired(engine_rule)
        return found

    def concluding(self, rule: str, fact: str, value: Value) -> int:
        found = 0
        for engine_rule in self.book.rules[rule].for_engine():
            if (fact, value) in engine_rule.then:
                found |= self.engine_fired(engine_rule)
        return found

    # What the ranking may show

    @cached_property
    def stop(self) -> int:
        return self._any(r for r in self.book.rules.values() if r.rule.stop)

    @cached_property
    def emergency(self) -> int:
        return self._any(r for r in self.book.rules.values() if r.rule.stop == "emergency")

    @cached_property
    def alone(self) -> int:
        return self._any(r for r in self.book.rules.values() if r.rule.alone)

    def _any(self, rules: Iterable[ReadRule]) -> int:
        found = 0
        for read in rules:
            found |= self.fired(read.id)
        return found

    def shown(self, rule: str) -> int:
        """Where a rule's suggestion is neither held back nor silenced."""
        read = self.book.rules[rule].rule
        if read.suggest is None:
            return 0
        found = self.fired(rule)
        for load in read.suggest.loads:
            found &= ~self.has(NOT_ALLOWED, load)
        if read.stop:
            return found if read.stop == "emergency" else found & ~self.emergency
        found &= ~self.stop
        return found if read.safety else found & ~self.alone

    # Cases by number

    def smallest(self, where: int) -> int | None:
        """How much is said in the smallest of these cases, None when there is none."""
        return min((self._sizes[i] for i in bits(where)), default=None)

    def case(self, number: int) -> Case:
        def of(table: Mapping[tuple[str, Value], int]) -> dict[str, tuple[Value, ...]]:
            found: dict[str, tuple[Value, ...]] = {}
            for (name, value), mask in table.items():
                if mask >> number & 1:
                    found[name] = (*found.get(name, ()), value)
            return found

        return Case(of(self.said), of(self.denied))

    def only(self, case: Case) -> int:
        """The set that holds this case alone."""
        found = self.all
        for table, given in ((self.said, case.said), (self.denied, case.denied)):
            for (name, value), mask in table.items():
                found &= mask if value in given.get(name, ()) else ~mask
        assert found.bit_count() == 1
        return found


def bits(mask: int) -> Iterator[int]:
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low
