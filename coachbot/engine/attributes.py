"""Finding the tests on one attribute that hold, by looking them up."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable

from coachbot.engine.logic import Key, distinct, key, operand
from coachbot.engine.model import Op, Test, Value


class AttributeTests:
    """The tests on one attribute, each with a number, its atom."""

    __slots__ = (
        "_bools",
        "_ceilings",
        "_floors",
        "_known",
        "_others",
        "_ranges",
        "_refused",
        "unknown",
    )

    def __init__(self, tests: Iterable[tuple[Test, int]]) -> None:
        self.unknown: list[int] = []
        named: dict[Key, set[int]] = {}
        known: set[int] = set()
        refused: dict[Key, int] = {}
        floors: list[tuple[float, int]] = []
        ceilings: list[tuple[float, int]] = []
        for test, atom in tests:
            values = operand(test)
            match test.op:
                case Op.EQUAL | Op.ONE_OF:
                    for value in distinct(values):
                        named.setdefault(key(value), set()).add(atom)
                case Op.AT_LEAST:
                    floors.append((_number(values[0]), atom))
                case Op.AT_MOST:
                    ceilings.append((_number(values[0]), atom))
                case Op.NOT_EQUAL:
                    refused[key(values[0])] = atom
                    named.setdefault(key(values[0]), set())
                    known.add(atom)
                case Op.KNOWN:
                    known.add(atom)
                case Op.UNKNOWN:
                    self.unknown.append(atom)
        # The atoms, but for ranges, that hold for a value that is alone, if some test names it.
        # True and 1 are one key of a dictionary, but two values.
        self._bools: dict[Value, frozenset[int]] = {}
        self._others: dict[Value, frozenset[int]] = {}
        for (is_bool, value), atoms in named.items():
            table = self._bools if is_bool else self._others
            table[value] = frozenset(known | atoms) - {refused.get((is_bool, value))}
        self._known = frozenset(known)
        self._refused = refused
        self._floors = _Bounds(floors)
        self._ceilings = _Bounds(ceilings)
        self._ranges = bool(floors or ceilings)

    def hold(self, values: tuple[Value, ...], held: set[int]) -> None:
        """Adds the atoms that hold for these values; there must be one or more."""
        for value in values:
            if isinstance(value, bool):
                held |= self._bools.get(value, self._known)
                continue
            held |= self._others.get(value, self._known)
            if self._ranges and isinstance(value, (int, float)):
                held.update(self._floors.atoms[: bisect_right(self._floors.bounds, value)])
                held.update(self._ceilings.atoms[bisect_left(self._ceilings.bounds, value) :])
        if len(values) > 1 and self._refused:
            for value in values:
                refused = self._refused.get(key(value))
                if refused is not None:
                    held.discard(refused)

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
