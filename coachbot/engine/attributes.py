"""Finding the tests on one attribute that hold, by looking them up."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable

from coachbot.engine.logic import Key, distinct, key, operand
from coachbot.engine.model import Op, Test, Value


class AttributeTests:
    """The tests on one attribute, each with a number, its atom."""

    __slots__ = (
        "_always",
        "_bools",
        "_ceilings",
        "_floors",
        "_others",
        "_ranges",
        "_refused",
        "unknown",
    )

    def __init__(self, tests: Iterable[tuple[Test, int]]) -> None:
        self.unknown: list[int] = []
        # Equality and one-of by value; True and 1 are one key of a dictionary, but two values.
        self._bools: dict[Value, list[int]] = {}
        self._others: dict[Value, list[int]] = {}
        # Not-equal by the value that it names.
        self._refused: dict[Key, int] = {}
        # Known and not-equal.
        self._always: list[int] = []
        floors: list[tuple[float, int]] = []
        ceilings: list[tuple[float, int]] = []
        for test, atom in tests:
            values = operand(test)
            match test.op:
                case Op.EQUAL | Op.ONE_OF:
                    for value in distinct(values):
                        table = self._bools if isinstance(value, bool) else self._others
                        table.setdefault(value, []).append(atom)
                case Op.AT_LEAST:
                    floors.append((_number(values[0]), atom))
                case Op.AT_MOST:
                    ceilings.append((_number(values[0]), atom))
                case Op.NOT_EQUAL:
                    self._refused[key(values[0])] = atom
                    self._always.append(atom)
                case Op.KNOWN:
                    self._always.append(atom)
                case Op.UNKNOWN:
                    self.unknown.append(atom)
        self._floors = _Bounds(floors)
        self._ceilings = _Bounds(ceilings)
        self._ranges = bool(floors or ceilings)

    def hold(self, values: tuple[Value, ...], held: set[int]) -> None:
        """Adds the atoms that hold for these values; there must be one or more."""
        if self._always:
            held.update(self._always)
            for value in values if self._refused else ():
                refused = self._refused.get(key(value))
                if refused is not None:
                    held.discard(refused)
        for value in values:
            if isinstance(value, bool):
                held.update(self._bools.get(value, ()))
                continue
            held.update(self._others.get(value, ()))
            if self._ranges and isinstance(value, (int, float)):
                held.update(self._floors.atoms[: bisect_right(self._floors.bounds, value)])
                held.update(self._ceilings.atoms[bisect_left(self._ceilings.bounds, value) :])

    def hold_denied(self, denied: Iterable[Value], held: set[int]) -> None:
        """Adds the atoms that hold because these values were denied and none is known."""
        for value in denied:
            refused = self._refused.get(key(value))
            if refused is not None:
                held.add(refused)


class _Bounds:
    """Atoms of one-sided tests in the order of their bounds."""

    __slots__ = ("atoms", "bounds")

    def __init__(self, pairs: list[tuple[float, int]]) -> None:
        pairs.sort()
        self.bounds = [bound for bound, _ in pairs]
        self.atoms = [atom for _, atom in pairs]


def _number(value: Value) -> float:
    if not isinstance(value, (int, float)):
        raise TypeError(f"a bound must be a number, not {value!r}")
    return value
