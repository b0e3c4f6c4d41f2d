"""What the engine takes and what it gives back: plain data, no knowledge of climbing.

A *fact* is an attribute with the values that hold for it in one case. An attribute
may hold several values at once; a *single-valued* attribute holds at most one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum

Value = str | bool | int | float


class Op(Enum):
    """The tests that a condition can make on one attribute.

    Values are compared as Python does, except that True and False equal no number.
    With V the values that hold and D the values that were denied outright:
    EQUAL: value in V. NOT_EQUAL: value not in V, and V is not empty or value in D.
    AT_LEAST, AT_MOST: some number in V is on that side (inclusive).
    ONE_OF: V meets the tuple. KNOWN: V is not empty. UNKNOWN: V is empty.
    """

    EQUAL = "is"
    NOT_EQUAL = "is not"
    AT_LEAST = "is at least"
    AT_MOST = "is at most"
    ONE_OF = "is one of"
    KNOWN = "is known"
    UNKNOWN = "is unknown"


@dataclass(frozen=True, slots=True)
class Test:
    """One condition: ``value`` is a tuple for ONE_OF and None for KNOWN and UNKNOWN."""

    __test__ = False  # its name would make pytest take it for a class of tests

    attribute: str
    op: Op
    value: Value | tuple[Value, ...] | None = None


@dataclass(frozen=True, slots=True)
class All:
    """Holds when every part holds. An empty All holds always."""

    parts: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class Any:
    """Holds when some part holds. An empty Any never holds."""

    parts: tuple[Condition, ...]


Condition = Test | All | Any


@dataclass(frozen=True, slots=True)
class EngineRule:
    """``when`` the condition holds, every (attribute, value) of ``then`` is concluded."""

    name: str
    when: Condition
    then: tuple[tuple[str, Value], ...] = ()


@dataclass(frozen=True, slots=True)
class Matched:
    """A test that held, and the values of its attribute that made it hold (none for UNKNOWN)."""

    test: Test
    values: tuple[Value, ...]


@dataclass(frozen=True, slots=True)
class Firing:
    """One rule that fired in one case.

    ``matched`` lists the tests of every alternative that held, without repeats, in the
    rule's order. ``concluded`` lists what entered the case or was there already;
    ``overruled`` what did not, because the person had said otherwise. A value that fell to
    a conflict is in neither: see ``Run.conflicts``.
    """

    rule: str
    matched: tuple[Matched, ...]
    concluded: tuple[tuple[str, Value], ...] = ()
    overruled: tuple[tuple[str, Value], ...] = ()


@dataclass(frozen=True, slots=True)
class Conflict:
    """Rules that concluded different values of one single-valued attribute in one case.

    No value of the attribute stands in that case.
    """

    attribute: str
    values: tuple[Value, ...]
    rules: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Run:
    """The outcome of one case: firings in the order of levels, all facts, all conflicts.

    Within a level firings are in the order of rule names. ``facts`` holds what was said and
    what was concluded; an attribute without a value is not in it.
    """

    firings: tuple[Firing, ...]
    facts: Mapping[str, tuple[Value, ...]]
    conflicts: tuple[Conflict, ...] = ()


@dataclass(frozen=True, slots=True)
class Case:
    """``said`` values by attribute, and values ``denied`` outright by attribute.

    Repeated values and NaN, which is no value, are passed over.
    """

    said: Mapping[str, tuple[Value, ...]] = field(default_factory=dict)
    denied: Mapping[str, tuple[Value, ...]] = field(default_factory=dict)


class RuleSetError(Exception):
    """The rules cannot be run together; ``problems`` holds one plain sentence for each reason."""

    def __init__(self, problems: tuple[str, ...]) -> None:
        super().__init__("\n".join(problems))
        self.problems = problems
