"""What a rule would be with one condition removed, loosened or turned round.

A test that cannot tell the rule from such a variant does not need that condition. To
change one thing at a time and ask whether a test notices is mutation testing (DeMillo,
Lipton, Sayward 1978, from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from coachbot.engine.model import All, Any, Condition, Op, Test, Value
from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.conditions import sentence
from coachbot.knowledge.model import Fact


class Change(StrEnum):
    """How a condition was changed."""

    REMOVED = "removed"
    LOOSENED = "loosened"
    TURNED = "turned round"


@dataclass(frozen=True, slots=True)
class Variant:
    """A rule's condition with one part changed.

    ``instead`` tells in the coach's form what stands in its place, nothing when it was
    removed. ``alternative`` says that the part was one of several ways.
    """

    change: Change
    part: Condition
    instead: str
    alternative: bool
    when: Condition

    @property
    def was(self) -> str:
        """The part in the coach's form."""
        return sentence(self.part)

    def __str__(self) -> str:
        what = f'the alternative "{self.was}"' if self.alternative else f'"{self.was}"'
        instead = f' to "{self.instead}"' if self.instead else ""
        return f"{what} {self.change.value}{instead}"


class Variants:
    """Makes the variants of conditions of one book."""

    def __init__(self, book: RuleBook) -> None:
        self._facts = book.facts
        self._concluded = _concluded_values(book)

    def of(self, when: Condition) -> Iterator[Variant]:
        """Every variant of a condition, part by part, groups first as a whole."""
        if not isinstance(when, All | Any):
            return
        kind = type(when)
        for i, part in enumerate(when.parts):
            head, tail = when.parts[:i], when.parts[i + 1 :]
            one_way = kind is Any
            yield Variant(Change.REMOVED, part, "", one_way, kind((*head, *tail)))
            if isinstance(part, Test):
                for change, other in self._of_test(part):
                    changed = kind((*head, other, *tail))
                    yield Variant(change, part, sentence(other), one_way, changed)
                continue
            for inner in self.of(part):
                changed = kind((*head, inner.when, *tail))
                yield Variant(inner.change, inner.part, inner.instead, inner.alternative, changed)

    def _of_test(self, test: Test) -> Iterator[tuple[Change, Condition]]:
        loose = self._loosened(test)
        if loose is not None:
            yield Change.LOOSENED, loose
        yield Change.TURNED, _turned(test)

    def _loosened(self, test: Test) -> Test | None:
        """The test made wider, or None when no case could tell: any value, or one step more.

        "is not", "is known" and "is unknown" have nothing between themselves and nothing.
        """
        name = test.attribute
        if test.op in {Op.EQUAL, Op.ONE_OF}:
            named = set(test.value) if isinstance(test.value, tuple) else {test.value}
            if name in self._concluded and self._concluded[name] <= named:
                return None
            return Test(name, Op.KNOWN)
        if test.op in {Op.AT_LEAST, Op.AT_MOST}:
            bound = _number(test.value) + (-1 if test.op is Op.AT_LEAST else 1)
            return Test(name, test.op, bound) if _in_range(self._facts[name], bound) else None
        return None


def _turned(test: Test) -> Condition:
    name, value = test.attribute, test.value
    if isinstance(value, tuple):
        return All(tuple(Test(name, Op.NOT_EQUAL, v) for v in value))
    if test.op is Op.AT_LEAST:
        return Test(name, Op.AT_MOST, _number(value) - 1)
    if test.op is Op.AT_MOST:
        return Test(name, Op.AT_LEAST, _number(value) + 1)
    other = {
        Op.EQUAL: Op.NOT_EQUAL,
        Op.NOT_EQUAL: Op.EQUAL,
        Op.KNOWN: Op.UNKNOWN,
        Op.UNKNOWN: Op.KNOWN,
    }
    return Test(name, other[test.op], value)


def _number(value: object) -> int | float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TypeError(f"{value!r} is no number")
    return value


def _in_range(fact: Fact, bound: float) -> bool:
    low = 0.0 if fact.low is None else fact.low
    return bound >= low and (fact.high is None or bound <= fact.high)


def _concluded_values(book: RuleBook) -> Mapping[str, set[Value]]:
    """The values that rules make of each fact which only rules can make."""
    made: dict[str, set[Value]] = {n: set() for n, f in book.facts.items() if f.concluded}
    for rule in book.rules.values():
        pairs = [*rule.then, *((fact, v) for fact, _, values in rule.copies for v in values)]
        for name, value in pairs:
            if name in made:
                made[name].add(value)
    said = {n for n, f in book.facts.items() if f.asked} | set(book.words)
    return {name: values for name, values in made.items() if name not in said}
