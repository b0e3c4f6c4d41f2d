"""Finds cases for a rule's test: near misses that only one condition keeps silent.

Starting from cases in which the rule fires, one fact at a time is set to another value,
moved past a bound, denied or left out, then two at a time. The engine says in which of
these the rule and its variants fire; no condition is judged here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, islice

from coachbot.engine import Network
from coachbot.engine.logic import tests_of
from coachbot.engine.model import Condition, EngineRule, Op, Value
from coachbot.knowledge.book import ReadRule, RuleBook
from coachbot.knowledge.conditions import Unreadable
from coachbot.review.rule_tests import case_of
from coachbot.review.variants import Change, Variant, Variants

from .drafting import Given, value_text

MOST_PAIRS = 2500
VALUES_EACH = 4


@dataclass(frozen=True, slots=True)
class Proposed:
    """A case for a test: whether the rule fires in it, and the changes that it shows up."""

    given: Given
    fires: bool
    shows: tuple[Variant, ...]


@dataclass(frozen=True, slots=True)
class Proposal:
    """The cases found, and the changes for which none was found."""

    cases: tuple[Proposed, ...]
    left: tuple[Variant, ...]


def propose(
    book: RuleBook, rule: ReadRule, firing: Sequence[Given], near: Sequence[Given] = ()
) -> Proposal:
    """Cases beside those there are, so that each condition of a rule of the book is needed.

    ``firing`` are cases in which the rule fires, ``near`` near misses that stand already.
    Raises Unreadable for a case that the book cannot read.
    """
    search = _Search(book, rule)
    search.look(firing, near)
    return search.result()


class _Search:
    def __init__(self, book: RuleBook, rule: ReadRule) -> None:
        self._book = book
        self._rule = rule
        self._variants = tuple(Variants(book).of(rule.when))
        self._direct = tuple(dict.fromkeys(t.attribute for t in tests_of(rule.when)))
        self._upstream = upstream(book, rule)
        self._missing = set(range(len(self._variants)))
        self._found: list[Proposed] = []
        self._named = _named_values(self._upstream, rule.when)

    def look(self, firing: Sequence[Given], near: Sequence[Given]) -> None:
        rules = [e for r in self._upstream for e in r.for_engine()]
        rules.append(EngineRule("the rule", self._rule.when))
        rules += [EngineRule(f"variant {i}", v.when) for i, v in enumerate(self._variants)]
        with Network(rules, self._book.single_valued) as network:
            for given in (*firing, *near):
                self._missing -= self._shown(network, given)[1]
            starts = [g for g in firing if self._shown(network, g)[0]]
            self._take(network, self._single(starts))
            for number in sorted(self._missing):
                if number in self._missing:
                    part = self._variants[number].part
                    self._take(network, islice(self._double(starts, part), MOST_PAIRS))

    def _take(self, network: Network, candidates: Iterator[Given]) -> None:
        """Take the cases that show most of what is missing, the earliest among equals."""
        open_cases: list[tuple[Given, bool, set[int]]] = []
        for given in candidates:
            fires, shown = self._shown(network, given)
            if shown & self._missing:
                open_cases.append((given, fires, shown))
        while self._missing:
            best = max(open_cases, key=lambda c: len(c[2] & self._missing), default=None)
            if best is None or not best[2] & self._missing:
                return
            given, fires, shown = best
            news = tuple(self._variants[i] for i in sorted(shown & self._missing))
            self._found.append(Proposed(given, fires, news))
            self._missing -= shown

    def _shown(self, network: Network, given: Given) -> tuple[bool, set[int]]:
        """Whether the rule fires, and the variants that go the other way."""
        fired = {f.rule for f in network.run(case_of(self._book, given)).firings}
        fires = "the rule" in fired
        return fires, {i for i in range(len(self._variants)) if (f"variant {i}" in fired) != fires}

    def _single(self, starts: Sequence[Given]) -> Iterator[Given]:
        for start in starts:
            for fact in self._facts(start):
                yield from self._moves(start, fact)

    def _double(self, starts: Sequence[Given], part: Condition) -> Iterator[Given]:
        """Two facts otherwise at once, of which one bears on a part of the rule."""
        bearing = set(self._made_from(part))
        for start in starts:
            pairs = combinations(self._facts(start), 2)
            weighed = sorted(
                ((one, other) for one, other in pairs if bearing & {one, other}),
                key=lambda pair: -len(start.keys() & set(pair)) - len(bearing & set(pair)),
            )
            for one, other in weighed:
                for first in self._moves(start, one):
                    yield from self._moves(first, other)

    def _facts(self, start: Given) -> tuple[str, ...]:
        """The facts worth changing: the rule's own first, then what they are made from."""
        upstream = (t.attribute for r in self._upstream for t in tests_of(r.when))
        names = dict.fromkeys((*self._direct, *start, *upstream))
        return tuple(n for n in names if not self._book.facts[n].concluded or n in start)

    def _made_from(self, part: Condition) -> Iterator[str]:
        """The facts that a part of the rule reads, and those that they are made from."""
        waiting = [t.attribute for t in tests_of(part)]
        seen: set[str] = set()
        while waiting:
            fact = waiting.pop()
            if fact in seen:
                continue
            seen.add(fact)
            yield fact
            for rule in self._upstream:
                if fact in {f for f, _ in rule.then} | {f for f, _, _ in rule.copies}:
                    waiting += _reads(rule)

    def _moves(self, start: Given, fact: str) -> Iterator[Given]:
        """A case with one fact otherwise: other values first, then left out, then denied."""
        held = start.get(fact)
        for word in self._words(fact, held):
            yield {**start, fact: word}
        if held is not None:
            yield {name: text for name, text in start.items() if name != fact}
        declared = self._book.facts[fact]
        if declared.kind == "several" and held is not None:
            yield from self._among_several(start, fact, [held] if isinstance(held, str) else held)
        if declared.kind in {"choice", "several"}:
            for value in self._named.get(fact, ()):
                yield {**start, fact: f"not {value}"}

    def _among_several(self, start: Given, fact: str, held: list[str]) -> Iterator[Given]:
        """A case in which one value of several is gone, changed or added."""
        for word in held if len(held) > 1 else ():
            rest = [w for w in held if w != word]
            yield {**start, fact: rest[0] if len(rest) == 1 else rest}
            for other in self._words(fact, held):
                yield {**start, fact: [*rest, other]}
        for other in self._words(fact, held):
            yield {**start, fact: [*held, other]}

    def _words(self, fact: str, held: str | list[str] | None) -> Iterator[str]:
        declared = self._book.facts[fact]
        now = {held} if isinstance(held, str) else set(held or ())
        if declared.kind == "yes-no":
            yield from (w for w in ("no", "yes") if w not in now)
        elif declared.kind in {"choice", "several"}:
            named = self._named.get(fact, ())
            others = [v for v in declared.values if v not in named and v not in now]
            others.sort(key=lambda v: -declared.values[v].likely)
            yield from others[:VALUES_EACH]
            yield from (v for v in named if v not in now)
        else:
            for value in self._named.get(fact, ()):
                for near in (float(value) - 1, float(value) + 1, float(value)):
                    number = int(near) if near.is_integer() else near
                    word = self._number(fact, number)
                    if word is not None and word not in now:
                        yield word

    def _number(self, fact: str, number: float) -> str | None:
        try:
            word = value_text(self._book, fact, number)
            self._book.grammar.value(fact, word)
        except (Unreadable, IndexError):
            return None
        return word

    def result(self) -> Proposal:
        order = {change: i for i, change in enumerate(Change)}
        left = sorted(self._missing, key=lambda i: (order[self._variants[i].change], i))
        return Proposal(tuple(self._found), tuple(self._variants[i] for i in left))


def upstream(book: RuleBook, rule: ReadRule) -> tuple[ReadRule, ...]:
    """The rules that make, directly or by way of others, what a rule reads."""
    makers: dict[str, list[ReadRule]] = {}
    for other in book.rules.values():
        for fact in {f for f, _ in other.then} | {f for f, _, _ in other.copies}:
            makers.setdefault(fact, []).append(other)
    found: dict[str, ReadRule] = {}
    waiting = [rule]
    while waiting:
        for fact in _reads(waiting.pop()):
            for maker in makers.get(fact, ()):
                if maker.id not in found and maker.id != rule.id:
                    found[maker.id] = maker
                    waiting.append(maker)
    return tuple(found.values())


def _reads(rule: ReadRule) -> Iterator[str]:
    yield from (t.attribute for t in tests_of(rule.when))
    yield from (origin for _, origin, _ in rule.copies)


def _named_values(rules: Sequence[ReadRule], when: Condition) -> dict[str, tuple[str, ...]]:
    """The values that conditions name, by fact, numbers as figures."""
    named: dict[str, dict[str, None]] = {}
    for test in (*tests_of(when), *(t for r in rules for t in tests_of(r.when))):
        if test.value is None or test.op in {Op.KNOWN, Op.UNKNOWN}:
            continue
        values: tuple[Value, ...] = test.value if isinstance(test.value, tuple) else (test.value,)
        for value in values:
            if not isinstance(value, bool):
                named.setdefault(test.attribute, {})[str(value)] = None
    return {fact: tuple(values) for fact, values in named.items()}
