"""A rule set ready to run: tests are made here, durable-rules joins them and fires rules."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from types import MappingProxyType, TracebackType

from coachbot.engine.attributes import AttributeTests
from coachbot.engine.check import CheckedRule, check
from coachbot.engine.logic import AtomKey, Key, distinct, key, support
from coachbot.engine.model import (
    Case,
    Conflict,
    EngineRule,
    Firing,
    Matched,
    Op,
    RuleSetError,
    Run,
    Test,
    Value,
)
from coachbot.engine.parts import MAX_ATOMS, MAX_RULES, Part, check_version

# The atom of a conjunction without tests; it holds in every case.
_ALWAYS = 0

# How rarely a test holds, as a rule of thumb: the rarest test of a rule is tried first.
_COMMONNESS = {
    Op.EQUAL: 0,
    Op.ONE_OF: 1,
    Op.AT_LEAST: 2,
    Op.AT_MOST: 2,
    Op.NOT_EQUAL: 3,
    Op.KNOWN: 4,
    Op.UNKNOWN: 5,
}

Values = tuple[Value, ...]
_Conclusions = tuple[tuple[str, Value], ...]


class Network:
    """A rule set ready to run. It runs one case at a time and may be shared between threads.

    ``single_valued`` names the attributes that hold at most one value at a time. Raises
    RuleSetError with all problems when the rules cannot be run together, and EngineError
    when durable-rules is not the version that coachbot runs on.

    To reload, build a new network first, put it in place, then close the old one.
    """

    def __init__(self, rules: Sequence[EngineRule], single_valued: Collection[str]) -> None:
        self._lock = threading.Lock()
        self._closed = False
        self._single_valued = frozenset(single_valued)
        problems, checked = check(rules, self._single_valued)
        if problems:
            raise RuleSetError(tuple(problems))
        check_version()
        layout = _Layout(checked, self._single_valued)
        self._levels_by_name = {each.rule.name: each.level for each in checked}
        self._rules = layout.rules
        self._tests = layout.tests
        self._levels = layout.levels

    @property
    def levels(self) -> Mapping[str, int]:
        """The level of every rule by its name; level 0 reads nothing that rules conclude."""
        return MappingProxyType(self._levels_by_name)

    def run(self, case: Case) -> Run:
        """Runs all rules on one case.

        Raises ValueError when several values were said of a single-valued attribute, and
        RuntimeError when the network is closed.
        """
        with self._lock:
            if self._closed:
                raise RuntimeError("this network is closed: run the case on the one in its place")
            return self._run(case)

    def close(self) -> None:
        """Frees what durable-rules holds, once a running case is done. May be repeated."""
        with self._lock:
            self._closed = True
            for level in self._levels:
                for part, _ in level.parts:
                    part.close()

    def __enter__(self) -> Network:
        return self

    def __exit__(
        self,
        exc_type: type[BaseException] | None,
        exc: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    def _run(self, case: Case) -> Run:
        memory = _WorkingMemory(case, self._single_valued)
        facts = memory.facts
        held = {_ALWAYS}
        fired: dict[int, tuple[int, ...]] = {}
        for level in self._levels:
            memory.settle(level.single_valued)
            level.hold(facts, case.denied, held)
            now: dict[int, tuple[int, ...]] = {}
            for place, atoms in level.awakened(held).items():
                part, meanings = level.parts[place]
                for index in part.match(atoms):
                    rank, positions = meanings[index]
                    now[rank] = now[rank] + positions if rank in now else positions
            for rank in sorted(now):
                fired[rank] = now[rank]
                memory.conclude(rank, self._rules[rank])
        return Run(tuple(self._firings(fired, memory)), facts, tuple(memory.conflicts))

    def _firings(
        self, fired: Mapping[int, tuple[int, ...]], memory: _WorkingMemory
    ) -> Iterator[Firing]:
        """What fired, told with the facts at the end: what a rule reads is complete before it."""
        matches = _MatchedTests(self._tests, memory.facts)
        for rank, positions in fired.items():
            rule = self._rules[rank]
            if rule.several_alternatives:
                positions = tuple(sorted(set(positions)))
            tests = rule.tests
            matched = tuple([matches[tests[position]] for position in positions])
            if rank in memory.overruled or memory.lost:
                yield Firing(rule.name, matched, *memory.outcome(rank, rule))
            else:
                yield Firing(rule.name, matched, rule.then)


@dataclass(frozen=True, slots=True)
class _Rule:
    """``tests`` are the numbers of its tests as written, in its order."""

    name: str
    tests: tuple[int, ...]
    several_alternatives: bool
    then: _Conclusions


# The rank of a rule that a conjunction belongs to, and the positions of the tests in the rule.
_Meaning = tuple[int, tuple[int, ...]]


class _Level:
    """The attributes that are complete before this level, and its conjunctions in parts.

    ``single_valued`` are those that rules of lower levels conclude.
    """

    __slots__ = ("_by_pivot", "_pivots", "_tests", "_unknown", "parts", "single_valued")

    def __init__(
        self,
        tests: dict[str, AttributeTests],
        single_valued: frozenset[str],
        chunks: Sequence[Sequence[_Alternative]],
    ) -> None:
        self._tests = tests
        self._unknown = frozenset(atom for each in tests.values() for atom in each.unknown)
        self.single_valued = single_valued
        self.parts = [
            (Part([each.atoms for each in chunk]), [each.meaning for each in chunk])
            for chunk in chunks
        ]
        self._by_pivot: dict[int, list[tuple[int, frozenset[int], int]]] = {}
        for place, chunk in enumerate(chunks):
            for pivot, group in groupby(chunk, key=lambda each: each.atoms[0]):
                conjunctions = [each.atoms for each in group]
                self._by_pivot.setdefault(pivot, []).append(
                    (place, frozenset().union(*conjunctions), min(map(len, conjunctions)))
                )
        self._pivots = frozenset(self._by_pivot)

    def awakened(self, held: set[int]) -> dict[int, set[int]]:
        """The places of parts in which something may fire, and what holds of their atoms.

        Only conjunctions are looked at whose pivot holds, and only if as many of their atoms
        hold as the shortest of them has.
        """
        found: dict[int, set[int]] = {}
        for pivot in held & self._pivots:
            for place, atoms, shortest in self._by_pivot[pivot]:
                useful = held & atoms
                if len(useful) >= shortest:
                    if place in found:
                        found[place] |= useful
                    else:
                        found[place] = useful
        return found

    def hold(
        self,
        facts: Mapping[str, Values],
        denied: Mapping[str, Sequence[Value]],
        held: set[int],
    ) -> None:
        """Adds the atoms that hold on attributes that are complete now."""
        tests = self._tests
        held |= self._unknown
        for attribute in facts.keys() & tests.keys():
            held.difference_update(tests[attribute].unknown)
            tests[attribute].hold(facts[attribute], held)
        for attribute in denied:
            if attribute in tests and attribute not in facts:
                tests[attribute].hold_denied(denied[attribute], held)


@dataclass(frozen=True, slots=True)
class _Alternative:
    """A conjunction of atoms, pivot first."""

    atoms: list[int]
    meaning: _Meaning


class _Layout:
    """How rules are numbered and laid out in levels and parts.

    The rank of a rule is its place in the order of levels and, within a level, of names.
    ``tests`` are numbered as written; tests that hold in the same cases share an atom.
    """

    def __init__(self, checked: Sequence[CheckedRule], single_valued: Collection[str]) -> None:
        self.rules: list[_Rule] = []
        self.tests: list[Test] = []
        self.levels: list[_Level] = []
        self._test_numbers: dict[tuple[AtomKey, str], int] = {}
        self._atoms: dict[AtomKey, int] = {}
        self._commonness: dict[int, int] = {_ALWAYS: len(_COMMONNESS)}
        by_level: dict[int, list[_Alternative]] = {}
        tests_on: dict[str, list[tuple[Test, int]]] = {}
        settled_at: dict[str, int] = {}
        for rank, each in enumerate(sorted(checked, key=lambda c: (c.level, c.rule.name))):
            expansion = each.expansion
            named = list(zip(expansion.tests, expansion.keys, strict=True))
            atoms = [self._atom(test, known_as, tests_on) for test, known_as in named]
            then: dict[tuple[str, Key], tuple[str, Value]] = {}
            for attribute, value in each.rule.then:
                then.setdefault((attribute, key(value)), (attribute, value))
            self.rules.append(
                _Rule(
                    each.rule.name,
                    tuple([self._test(test, known_as) for test, known_as in named]),
                    len(expansion.alternatives) > 1,
                    tuple(then.values()),
                )
            )
            by_level.setdefault(each.level, []).extend(
                _Alternative([atoms[p] for p in positions] or [_ALWAYS], (rank, positions))
                for positions in expansion.alternatives
            )
            for attribute in each.makes:
                # Levels ascend, so that the last maker decides.
                settled_at[attribute] = each.level + 1
        complete: dict[int, dict[str, AttributeTests]] = {}
        for attribute, tests in tests_on.items():
            level = settled_at.get(attribute, 0)
            complete.setdefault(level, {})[attribute] = AttributeTests(tests)
        for level in range(max([-1, *by_level, *settled_at.values()]) + 1):
            settled = {a for a in single_valued if settled_at.get(a) == level}
            chunks = self._chunks(by_level.get(level, []))
            self.levels.append(_Level(complete.get(level, {}), frozenset(settled), chunks))

    def _atom(
        self, test: Test, known_as: AtomKey, tests_on: dict[str, list[tuple[Test, int]]]
    ) -> int:
        new = len(self._atoms) + 1
        atom = self._atoms.setdefault(known_as, new)
        if atom == new:
            self._commonness[atom] = _COMMONNESS[test.op]
            tests_on.setdefault(test.attribute, []).append((test, atom))
        return atom

    def _test(self, test: Test, known_as: AtomKey) -> int:
        exactly = (known_as, repr(test.value))
        number = self._test_numbers.setdefault(exactly, len(self.tests))
        if number == len(self.tests):
            self.tests.append(test)
        return number

    def _chunks(self, alternatives: list[_Alternative]) -> list[list[_Alternative]]:
        """The conjunctions of a level, those with the same pivot side by side, cut into parts."""
        uses = Counter(atom for each in alternatives for atom in each.atoms)

        def rarity(atom: int) -> tuple[int, int, int]:
            return (self._commonness[atom], uses[atom], atom)

        for each in alternatives:
            each.atoms.sort(key=rarity)
        chunks: list[list[_Alternative]] = []
        atoms: set[int] = set()
        for each in sorted(alternatives, key=lambda a: [rarity(atom) for atom in a.atoms]):
            atoms.update(each.atoms)
            if not chunks or len(chunks[-1]) == MAX_RULES or len(atoms) > MAX_ATOMS:
                chunks.append([])
                atoms = set(each.atoms)
            chunks[-1].append(each)
        return chunks


class _WorkingMemory:
    """The facts of one case, and what becomes of conclusions."""

    def __init__(self, case: Case, single_valued: Collection[str]) -> None:
        self.facts: dict[str, Values] = {}
        # By rank of rule, the positions of conclusions against the person's word.
        self.overruled: dict[int, set[int]] = {}
        self.conflicts: list[Conflict] = []
        # Attributes in conflict.
        self.lost: set[str] = set()
        self._single_valued = single_valued
        self._denied = {
            attribute: frozenset(map(key, values)) for attribute, values in case.denied.items()
        }
        # Conclusions on a single-valued attribute wait until all its makers are done.
        self._proposed: dict[str, list[tuple[Value, str]]] = {}
        for attribute, values in case.said.items():
            kept = distinct(values)
            if len(kept) > 1 and attribute in single_valued:
                raise ValueError(
                    f"{attribute} has one value at a time, but the case has {len(kept)}: {kept}"
                )
            if kept:
                self.facts[attribute] = kept

    def conclude(self, rank: int, rule: _Rule) -> None:
        facts = self.facts
        for position, (attribute, value) in enumerate(rule.then):
            single = attribute in self._single_valued
            values = facts.get(attribute)
            if values:
                if key(value) in map(key, values):
                    continue
                # A single-valued attribute has a value before it is settled only if it was said.
                refused = single or key(value) in self._denied.get(attribute, ())
            else:
                refused = attribute in self._denied and key(value) in self._denied[attribute]
            if refused:
                self.overruled.setdefault(rank, set()).add(position)
            elif single:
                self._proposed.setdefault(attribute, []).append((value, rule.name))
            else:
                facts[attribute] = (*values, value) if values else (value,)

    def outcome(self, rank: int, rule: _Rule) -> tuple[_Conclusions, _Conclusions]:
        """What of a rule's conclusions stands, and what was overruled."""
        overruled = self.overruled.get(rank, ())
        return (
            tuple(
                each
                for position, each in enumerate(rule.then)
                if position not in overruled and each[0] not in self.lost
            ),
            tuple(each for position, each in enumerate(rule.then) if position in overruled),
        )

    def settle(self, complete: frozenset[str]) -> None:
        """Lets the one value stand that rules concluded of each attribute, or none.

        ``complete`` are single-valued attributes whose makers are all done.
        """
        if not self._proposed:
            return
        for attribute in sorted(complete & self._proposed.keys()):
            proposed = self._proposed.pop(attribute)
            values = distinct(value for value, _ in proposed)
            if len(values) == 1:
                self.facts[attribute] = values
            else:
                rules = tuple(sorted({name for _, name in proposed}))
                self.conflicts.append(Conflict(attribute, values, rules))
                self.lost.add(attribute)


class _MatchedTests(dict[int, Matched]):
    """What matched in one case, by number of test, made when first asked for."""

    def __init__(self, tests: Sequence[Test], facts: Mapping[str, Values]) -> None:
        super().__init__()
        self._tests = tests
        self._facts = facts

    def __missing__(self, number: int) -> Matched:
        test = self._tests[number]
        values = self._facts.get(test.attribute, ())
        # The test held, so that a value that is alone is the one that made it hold.
        matched = Matched(test, values if len(values) < 2 else support(test, values))
        self[number] = matched
        return matched
