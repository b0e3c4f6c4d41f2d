"""What tests mean, when tests exclude each other, and how a condition becomes alternatives."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

from coachbot.engine.model import Any, Condition, Op, Test, Value

# More alternatives than this while a condition is being expanded: given up.
_WORKING_LIMIT = 1024
_PRODUCT_LIMIT = 32768

Key = tuple[bool, Value]


def key(value: Value) -> Key:
    """What makes a value itself: 1 and 1.0 are one value, 1 and True are two."""
    return (isinstance(value, bool), value)


def is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def distinct(values: Iterable[Value]) -> tuple[Value, ...]:
    """The values in their order, each once, without NaN."""
    if isinstance(values, tuple) and len(values) == 1 and values[0] == values[0]:
        return values
    found: dict[Key, Value] = {}
    for value in values:
        if value == value:
            found.setdefault(key(value), value)
    return tuple(found.values())


def operand(test: Test) -> tuple[Value, ...]:
    """The values that a test names, none for KNOWN and UNKNOWN."""
    if test.value is None:
        return ()
    return test.value if isinstance(test.value, tuple) else (test.value,)


AtomKey = tuple[str, Op, Key | frozenset[Key] | None]


def atom_key(test: Test) -> AtomKey:
    """Equal for two tests when they hold in the same cases by their wording alone."""
    value = test.value
    if value is None:
        return (test.attribute, test.op, None)
    if isinstance(value, tuple):
        return (test.attribute, test.op, frozenset(map(key, value)))
    return (test.attribute, test.op, key(value))


def support(test: Test, values: Sequence[Value]) -> tuple[Value, ...]:
    """Those of the values that make the test hold.

    For NOT_EQUAL they are all values, for UNKNOWN none; both say nothing about
    whether the test holds.
    """
    op = test.op
    if op is Op.UNKNOWN:
        return ()
    if op is Op.KNOWN or op is Op.NOT_EQUAL:
        return tuple(values)
    wanted = operand(test)
    if op is Op.AT_LEAST:
        return tuple(v for v in values if is_number(v) and v >= wanted[0])  # type: ignore[operator]
    if op is Op.AT_MOST:
        return tuple(v for v in values if is_number(v) and v <= wanted[0])  # type: ignore[operator]
    keys = set(map(key, wanted))
    return tuple(v for v in values if key(v) in keys)


def holds(test: Test, values: Sequence[Value], denied: Sequence[Value]) -> bool:
    """Whether the test holds when the attribute has these values and these were denied."""
    if test.op is Op.UNKNOWN:
        return not values
    if test.op is Op.NOT_EQUAL:
        refused = key(operand(test)[0])
        return refused not in map(key, values) and (bool(values) or refused in map(key, denied))
    return bool(support(test, values))


@dataclass(frozen=True, slots=True)
class Example:
    """Values and denied values of one attribute for which some tests hold together."""

    values: tuple[Value, ...] = ()
    denied: tuple[Value, ...] = ()


def example(tests: Collection[Test], single_valued: bool) -> Example | None:
    """Few values of one attribute for which all tests hold, or None when there are none."""
    ops = {test.op for test in tests}
    if ops <= {Op.UNKNOWN, Op.NOT_EQUAL}:
        return Example(denied=distinct(v for test in tests for v in operand(test)))
    if Op.UNKNOWN in ops:
        return None
    candidates = list(_candidates(tests))
    for value in candidates:
        if all(holds(test, (value,), ()) for test in tests):
            return Example((value,))
    if single_valued:
        return None
    refused = [test for test in tests if test.op is Op.NOT_EQUAL]
    allowed = [v for v in candidates if all(holds(test, (v,), ()) for test in refused)]
    chosen: list[Value] = []
    for test in tests:
        if not holds(test, chosen, ()):
            witness = next((v for v in allowed if holds(test, (v,), ())), None)
            if witness is None:
                return None
            chosen.append(witness)
    return Example(tuple(chosen))


def _candidates(tests: Collection[Test]) -> Iterator[Value]:
    """Enough values to decide whether tests can hold together.

    The truth of all tests changes only at the values they name, so these values, one
    between each two neighbours, one beyond each end and one that is no number are enough.
    """
    named = distinct(v for test in tests for v in operand(test))
    yield from named
    numbers = sorted(v for v in named if isinstance(v, (int, float)) and is_number(v))
    if numbers:
        for low, high in zip([-float("inf"), *numbers], [*numbers, float("inf")], strict=True):
            yield from _between(low, high)
        yield from (-float("inf"), float("inf"))
    other = "something else"
    while other in named:
        other += " again"
    yield other


def _between(low: float, high: float) -> Iterator[float]:
    for middle in (_middle, _above, _below):
        try:
            found = middle(low, high)
        except OverflowError:
            continue
        if low < found < high:
            yield found


def _middle(low: float, high: float) -> float:
    whole = (low + high) // 2
    return whole if low < whole < high else low / 2 + high / 2


def _above(low: float, _: float) -> float:
    return low + 1 if low + 1 > low else 2 * abs(low)


def _below(_: float, high: float) -> float:
    return high - 1 if high - 1 < high else -2 * abs(high)


class TooManyAlternativesError(Exception):
    """A condition expands to more alternatives than are allowed."""


@dataclass(frozen=True, slots=True)
class Expansion:
    """A condition as alternatives: it holds when all tests of one alternative hold.

    ``tests`` are the distinct tests in the order of the condition, ``keys`` their atom keys,
    ``alternatives`` ascending positions in both; none contains another, none contradicts
    itself.
    """

    tests: tuple[Test, ...]
    keys: tuple[AtomKey, ...]
    alternatives: tuple[tuple[int, ...], ...]


def tests_of(condition: Condition) -> Iterator[Test]:
    """Every test of the condition, in its order, repeats included."""
    if isinstance(condition, Test):
        yield condition
    else:
        for part in condition.parts:
            yield from tests_of(part)


def expand(when: Condition, single_valued: Collection[str], limit: int) -> Expansion:
    """Raises TooManyAlternativesError when more than ``limit`` alternatives remain."""
    numbers: dict[AtomKey, int] = {}
    tests: list[Test] = []
    number_of: dict[int, int] = {}
    for test in tests_of(when):
        number = numbers.setdefault(atom_key(test), len(tests))
        number_of[id(test)] = number
        if number == len(tests):
            tests.append(test)
    possible: dict[frozenset[int], bool] = {}

    def consistent(alternative: frozenset[int]) -> bool:
        by_attribute: dict[str, list[int]] = {}
        for number in alternative:
            by_attribute.setdefault(tests[number].attribute, []).append(number)
        for attribute, group in by_attribute.items():
            if len(group) > 1:
                together = frozenset(group)
                if together not in possible:
                    found = example([tests[n] for n in group], attribute in single_valued)
                    possible[together] = found is not None
                if not possible[together]:
                    return False
        return True

    def reduced(alternatives: Iterable[frozenset[int]]) -> list[frozenset[int]]:
        kept: list[frozenset[int]] = []
        for alternative in sorted(dict.fromkeys(alternatives), key=len):
            if not any(other <= alternative for other in kept) and consistent(alternative):
                kept.append(alternative)
                if len(kept) > _WORKING_LIMIT:
                    raise TooManyAlternativesError
        return kept

    def walk(condition: Condition) -> list[frozenset[int]]:
        if isinstance(condition, Test):
            return [frozenset((number_of[id(condition)],))]
        parts = [walk(part) for part in condition.parts]
        if isinstance(condition, Any):
            return reduced(alternative for part in parts for alternative in part)
        single = [part[0] for part in parts if len(part) == 1]
        result = reduced([frozenset().union(*single)])
        for part in sorted((part for part in parts if len(part) != 1), key=len):
            if len(result) * len(part) > _PRODUCT_LIMIT:
                raise TooManyAlternativesError
            result = reduced(left | right for left in result for right in part)
        return result

    found = walk(when)
    if len(found) > limit:
        raise TooManyAlternativesError
    return Expansion(
        tuple(tests), tuple(numbers), tuple(sorted(tuple(sorted(each)) for each in found))
    )
