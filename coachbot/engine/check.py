"""What keeps rules from being run together, told in plain sentences."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from coachbot.engine.logic import (
    AtomKey,
    Example,
    Expansion,
    TooManyAlternativesError,
    example,
    expand,
    is_number,
    key,
    operand,
)
from coachbot.engine.model import All, Any, Condition, EngineRule, Op, Test, Value
from coachbot.engine.parts import MAX_ATOMS

MAX_ALTERNATIVES = 64


@dataclass(frozen=True, slots=True)
class CheckedRule:
    """A sound rule with its alternatives, the attributes it reads and its level."""

    rule: EngineRule
    expansion: Expansion
    reads: frozenset[str]
    makes: frozenset[str]
    level: int = 0


def say(value: Value) -> str:
    return ("yes" if value else "no") if isinstance(value, bool) else str(value)


def say_test(test: Test) -> str:
    """A test in words, such as ``angle is at least 40``."""
    words = " or ".join(map(say, operand(test)))
    return f"{test.attribute} {test.op.value}{' ' if words else ''}{words}"


def structure_problems(rules: Sequence[EngineRule]) -> tuple[list[str], list[EngineRule]]:
    """What is wrong with rules on their own, and the rules that are sound."""
    problems: list[str] = []
    sound: list[EngineRule] = []
    count: dict[str, int] = {}
    for number, rule in enumerate(rules, 1):
        if not isinstance(rule.name, str) or not rule.name.strip():
            problems.append(f"Rule number {number} has no name: give it one.")
            continue
        count[rule.name] = count.get(rule.name, 0) + 1
        found = list(dict.fromkeys(_rule_problems(rule)))
        problems.extend(f"Rule '{rule.name}': {problem}" for problem in found)
        if not found and count[rule.name] == 1:
            sound.append(rule)
    problems.extend(
        f"{times} rules are named '{name}': give each a name of its own."
        for name, times in count.items()
        if times > 1
    )
    return problems, sound


def _rule_problems(rule: EngineRule) -> Iterator[str]:
    yield from _condition_problems(rule.when)
    for attribute, value in rule.then:
        if not isinstance(attribute, str) or not attribute:
            yield "a conclusion names no attribute."
        elif not _is_value(value):
            yield (
                f"it concludes {attribute} is {value!r}, which is no value: "
                "use words, a number, yes or no."
            )


def _condition_problems(condition: Condition) -> Iterator[str]:
    if isinstance(condition, (All, Any)):
        for part in condition.parts:
            yield from _condition_problems(part)
        return
    if not isinstance(condition, Test):
        yield f"{condition!r} is no condition."
        return
    attribute, op, value = condition.attribute, condition.op, condition.value
    if not isinstance(attribute, str) or not attribute:
        yield "a condition names no attribute."
    elif not isinstance(op, Op):
        allowed = ", ".join(f"'{each.value}'" for each in Op)
        yield f"{attribute}: {op!r} is no test; the tests are {allowed}."
    elif op in (Op.KNOWN, Op.UNKNOWN):
        if value is not None:
            yield f"{attribute} {op.value}: this test takes no value, but {value!r} was given."
    elif op is Op.ONE_OF:
        if not isinstance(value, tuple) or not value or not all(map(_is_value, value)):
            yield f"{attribute} {op.value}: give one or more values, not {value!r}."
    elif op in (Op.AT_LEAST, Op.AT_MOST):
        if not _is_value(value) or not is_number(value):
            yield f"{attribute} {op.value}: give a number, not {value!r}."
    elif not _is_value(value):
        yield f"{attribute} {op.value}: give one value, not {value!r}."


def _is_value(value: object) -> bool:
    return isinstance(value, (str, bool, int, float)) and value == value


def expand_all(
    rules: Sequence[EngineRule], single_valued: Collection[str]
) -> tuple[list[str], list[CheckedRule]]:
    problems: list[str] = []
    checked: list[CheckedRule] = []
    for rule in rules:
        values: dict[str, dict[tuple[bool, Value], Value]] = {}
        for attribute, value in rule.then:
            values.setdefault(attribute, {}).setdefault(key(value), value)
        for attribute, several in values.items():
            if attribute in single_valued and len(several) > 1:
                words = " and ".join(map(say, several.values()))
                problems.append(
                    f"Rule '{rule.name}' concludes {attribute} is {words}, but {attribute} has "
                    "one value at a time: keep one of them."
                )
        try:
            expansion = expand(rule.when, single_valued, MAX_ALTERNATIVES)
        except TooManyAlternativesError:
            problems.append(
                f"Rule '{rule.name}' can hold in more than {MAX_ALTERNATIVES} ways, because its "
                "'any' parts multiply: split it into several rules."
            )
            continue
        longest = max(map(len, expansion.alternatives), default=0)
        if longest > MAX_ATOMS:
            problems.append(
                f"Rule '{rule.name}' asks for {longest} conditions at once and at most "
                f"{MAX_ATOMS} are possible: let other rules conclude a part of them."
            )
            continue
        reads = frozenset(test.attribute for test in expansion.tests)
        checked.append(CheckedRule(rule, expansion, reads, frozenset(values)))
    return problems, checked


def find_levels(rules: Sequence[CheckedRule]) -> tuple[list[str], dict[str, int]]:
    """Sentences for cycles, and the level of every rule that none of them holds up."""
    makers: dict[str, list[str]] = {}
    for rule in rules:
        for attribute in rule.makes:
            makers.setdefault(attribute, []).append(rule.rule.name)
    for names in makers.values():
        names.sort()
    derived_reads = {
        rule.rule.name: sorted(rule.reads & makers.keys())
        for rule in sorted(rules, key=lambda each: each.rule.name)
    }
    readers: dict[str, list[str]] = {}
    for name, attributes in derived_reads.items():
        for attribute in attributes:
            readers.setdefault(attribute, []).append(name)
    makes = {rule.rule.name: rule.makes for rule in rules}
    levels: dict[str, int] = {}
    unmade = {attribute: len(names) for attribute, names in makers.items()}
    missing = {name: len(attributes) for name, attributes in derived_reads.items()}
    problems: list[str] = []
    least = dict.fromkeys(missing, 0)
    done: set[str] = set()
    ready = [name for name, number in missing.items() if number == 0]
    while True:
        done.update(ready)
        while ready:
            name = ready.pop()
            levels[name] = least[name]
            for attribute in makes[name]:
                unmade[attribute] -= 1
                for reader in readers.get(attribute, ()):
                    least[reader] = max(least[reader], least[name] + 1)
                    missing[reader] -= unmade[attribute] == 0
                    if missing[reader] == 0 and reader not in done:
                        done.add(reader)
                        ready.append(reader)
        if len(done) == len(missing):
            return problems, levels
        cycle = _cycle(derived_reads, makers, done)
        problems.append(_say_cycle(cycle))
        # Taken as done, so that what depends on them can be looked at too.
        ready.extend(name for name, _ in cycle)


def _cycle(
    reads: Mapping[str, Sequence[str]], makers: Mapping[str, Sequence[str]], done: Collection[str]
) -> list[tuple[str, str]]:
    """A shortest cycle of (rule, attribute it reads that the next rule makes)."""

    def before(name: str) -> Iterator[tuple[str, str]]:
        for attribute in reads[name]:
            for maker in makers[attribute]:
                if maker not in done:
                    yield attribute, maker

    seen: set[str] = set()
    start = next(name for name in reads if name not in done)
    while start not in seen:
        seen.add(start)
        start = next(before(start))[1]
    paths: list[tuple[str, list[tuple[str, str]]]] = [(start, [])]
    reached: set[str] = set()
    for name, path in paths:
        for attribute, maker in before(name):
            longer = [*path, (name, attribute)]
            if maker == start:
                return longer
            if maker not in reached:
                reached.add(maker)
                paths.append((maker, longer))
    raise AssertionError("a rule that waits for itself is on a cycle")


def _say_cycle(cycle: Sequence[tuple[str, str]]) -> str:
    names = [name for name, _ in cycle]
    steps = [
        f"reads {attribute}, made by rule '{maker}'"
        for (_, attribute), maker in zip(cycle, [*names[1:], names[0]], strict=True)
    ]
    return (
        f"Rules depend on each other in a circle: rule '{names[0]}' {', which '.join(steps)}. "
        "Take one of these conditions or conclusions away."
    )


@dataclass(frozen=True, slots=True)
class _Given:
    """An alternative that reads no derived attribute: its tests by attribute."""

    tests: Mapping[str, tuple[int, ...]]


class _Clashes:
    """Finds rules that conclude different values of a single-valued attribute for sure."""

    def __init__(self, rules: Sequence[CheckedRule], single_valued: Collection[str]) -> None:
        self._single = single_valued
        self._numbers: dict[AtomKey, int] = {}
        self._tests: list[Test] = []
        self._joint: dict[tuple[tuple[int, ...], tuple[int, ...]], Example | None] = {}
        derived = frozenset(attribute for rule in rules for attribute in rule.makes)
        self._makers: dict[str, list[tuple[str, Value, list[_Given]]]] = {}
        for rule in sorted(rules, key=lambda each: each.rule.name):
            singles = sorted(rule.makes.intersection(single_valued))
            given = self._given(rule.expansion, derived) if singles else []
            for attribute in singles:
                values = {key(v): v for a, v in rule.rule.then if a == attribute}
                if given and len(values) == 1:
                    value = next(iter(values.values()))
                    self._makers.setdefault(attribute, []).append((rule.rule.name, value, given))

    def _given(self, expansion: Expansion, derived: Collection[str]) -> list[_Given]:
        found: list[_Given] = []
        for alternative in expansion.alternatives:
            groups: dict[str, list[int]] = {}
            for position in alternative:
                test = expansion.tests[position]
                number = self._numbers.setdefault(expansion.keys[position], len(self._tests))
                if number == len(self._tests):
                    self._tests.append(test)
                groups.setdefault(test.attribute, []).append(number)
            if not any(attribute in derived for attribute in groups):
                found.append(_Given({a: tuple(group) for a, group in groups.items()}))
        return found

    def problems(self) -> Iterator[str]:
        for attribute in sorted(self._makers):
            for left, right in combinations(self._makers[attribute], 2):
                if key(left[1]) != key(right[1]):
                    case = self._smallest(left[2], right[2])
                    if case is not None:
                        when = f"for example when {case}" if case else "always"
                        yield (
                            f"Rules '{left[0]}' and '{right[0]}' conclude different values of "
                            f"{attribute} ({say(left[1])} and {say(right[1])}) in the same case, "
                            f"{when}. Make their conditions exclude each other, or their "
                            "conclusions agree."
                        )

    def _smallest(self, left: Sequence[_Given], right: Sequence[_Given]) -> str | None:
        """The fewest facts, in words, under which both hold; None when they never do."""
        best: list[str] | None = None
        for one in left:
            for other in right:
                if self._together(one, other):
                    words = self._words(one, other)
                    if best is None or len(words) < len(best):
                        best = words
        return None if best is None else ", ".join(best)

    def _example(
        self, attribute: str, one: tuple[int, ...], other: tuple[int, ...]
    ) -> Example | None:
        both = (one, other)
        if both not in self._joint:
            tests = [self._tests[number] for number in dict.fromkeys(one + other)]
            self._joint[both] = example(tests, attribute in self._single)
        return self._joint[both]

    def _together(self, one: _Given, other: _Given) -> bool:
        return all(
            self._example(attribute, tests, other.tests[attribute]) is not None
            for attribute, tests in one.tests.items()
            if attribute in other.tests
        )

    def _words(self, one: _Given, other: _Given) -> list[str]:
        words: list[str] = []
        for attribute in {**one.tests, **other.tests}:
            mine, theirs = one.tests.get(attribute, ()), other.tests.get(attribute, ())
            ops = {self._tests[number].op for number in mine + theirs}
            found = self._example(attribute, mine, theirs)
            if found is None:
                raise AssertionError("the alternatives were found to hold together")
            if ops == {Op.KNOWN}:
                words.append(f"{attribute} is known")
            elif found.values:
                words.extend(f"{attribute} is {say(value)}" for value in found.values)
            elif found.denied:
                words.extend(f"{attribute} was denied to be {say(v)}" for v in found.denied)
            else:
                words.append(f"{attribute} is unknown")
        return words


def clash_problems(rules: Sequence[CheckedRule], single_valued: Collection[str]) -> list[str]:
    """Exact for given attributes of any value; what depends on derived ones is left open.

    The engine does not know which values an attribute may take: two rules that ask for
    "is not a" and "is not b" clash even where a and b are its only values.
    """
    return list(_Clashes(rules, single_valued).problems())


def check(
    rules: Sequence[EngineRule], single_valued: Collection[str]
) -> tuple[list[str], list[CheckedRule]]:
    """All problems of a rule set, and its sound rules with their levels."""
    single = frozenset(single_valued)
    problems, sound = structure_problems(rules)
    expansion_problems, expanded = expand_all(sound, single)
    cycles, levels = find_levels(expanded)
    clashes = clash_problems(expanded, single)
    return [*problems, *expansion_problems, *cycles, *clashes], [
        CheckedRule(each.rule, each.expansion, each.reads, each.makes, levels[each.rule.name])
        for each in expanded
    ]
