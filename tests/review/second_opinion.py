"""What an audit ought to find in a small book, worked out by going through every case.

The kinds are defined here once more, from what each check asks, and share no code with the
audit. ``found`` gives the findings by check; each is named by what it is about.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, product

from coachbot.engine.model import All, Any, Condition, Op, Test, Value
from coachbot.knowledge.book import ANY_LOAD, NOT_ALLOWED, ReadRule, RuleBook
from coachbot.knowledge.conditions import sentence
from tests.review.every_case import EveryCase

About = tuple[str, ...]


class SecondOpinion:
    def __init__(self, book: RuleBook) -> None:
        self.book = book
        self.table = EveryCase(book)
        self.firing = [r for r in book.rules.values() if self.table.fired(r.id)]

    def found(self) -> dict[str, set[About]]:
        """Every check whose findings are determined to the last one."""
        return {
            "never-fires": {(r.id,) for r in self.book.rules.values() if r not in self.firing},
            "never-shown": {
                (r.id,) for r in self.firing if r.rule.suggest and not self.table.shown(r.id)
            },
            "dead-condition": set(self._dead()),
            "needless-condition": set(self._needless()),
            "split-rule": set(self._split()),
            "broken-promise": {(name,) for name, where in self.promises() if where},
            "contradiction": {pair for pair, where in self.contradictions() if where},
            "empty-promise": set(self._empty()),
            "unread-fact": {(f,) for f in self.book.facts if f not in self._tested()},
            "missing-fact": {
                (f,) for f in self.book.facts if f in self._tested() and not self._given(f)
            },
            "idle-conclusion": set(self._idle_conclusions()),
            "idle-value": set(self._idle(with_words=False)),
            "idle-words": set(self._idle(with_words=True)),
            "unanswered": {(f"trouble is {v}",) for v, where in self.unanswered() if where},
            "late-advice": set(self._late()),
        }

    # Rules

    def _dead(self) -> Iterator[About]:
        for rule in self.firing:
            for part, _, _ in parts(rule.when):
                if isinstance(part, Test) and not self.table.holds(part):
                    yield rule.id, sentence(part)

    def _needless(self) -> Iterator[About]:
        for rule in self.firing:
            for part, rest, _ in parts(rule.when):
                if self.table.holds(rest) == self.table.holds(rule.when) and self.table.holds(part):
                    yield rule.id, sentence(part)

    def redundant(self) -> dict[str, set[str]]:
        """Rules that only conclude, all of which others conclude in all their cases, with those
        that fire in the same cases and conclude the same."""
        found: dict[str, set[str]] = {}
        only = [r for r in self.firing if concludes_only(r)]
        for rule in only:
            made = conclusions(rule)
            others = [r for r in self.book.rules.values()
                      if r is not rule and conclusions(r) & made]  # fmt: skip
            if any(self._rests_on(other, {f for f, _ in made}) for other in others):
                continue
            covered = True
            for fact, value in made:
                by_others = 0
                for other in others:
                    by_others |= self.table.concluding(other.id, fact, value)
                covered &= not self.table.concluding(rule.id, fact, value) & ~by_others
            if covered:
                found[rule.id] = {
                    r.id
                    for r in only
                    if r is not rule
                    and conclusions(r) == made
                    and self.table.fired(r.id) == self.table.fired(rule.id)
                }
        return found

    def _rests_on(self, rule: ReadRule, facts: set[str]) -> bool:
        """Whether a rule may fire because of these facts, by way of others too."""
        seen: set[str] = set()
        waiting = [t.attribute for t in tests(rule.when)]
        while waiting:
            fact = waiting.pop()
            if fact in facts:
                return True
            if fact not in seen:
                seen.add(fact)
                for other in self.book.rules.values():
                    if fact in {f for f, _ in conclusions(other)}:
                        waiting += [t.attribute for t in tests(other.when)]
        return False

    def _split(self) -> Iterator[About]:
        only = [r for r in self.firing if concludes_only(r)]
        for one, other in combinations(only, 2):
            a, b = self.table.fired(one.id), self.table.fired(other.id)
            if one.then and set(one.then) == set(other.then) and a & ~b and b & ~a:
                for _, rest, alternative in parts(one.when):
                    wider = self.table.holds(rest)
                    if not alternative and wider & ~a and not wider & ~(a | b):
                        yield one.id, other.id
                        break

    # Promises

    def promises(self) -> Iterator[tuple[str, int]]:
        """Each safety claim with the cases that break it."""
        for name, read in self.book.properties.items():
            where = self.table.holds(read.when)
            if read.property.stop:
                ends = (
                    self.table.emergency if read.property.stop == "emergency" else self.table.stop
                )
                yield f"{name}/stop", where & ~ends
            if read.property.never:
                shown = 0
                for rule in self.book.rules.values():
                    if self._carries(rule, set(read.property.never)):
                        shown |= self.table.shown(rule.id)
                yield name, where & shown

    def _carries(self, rule: ReadRule, names: set[str]) -> bool:
        suggestion = rule.rule.suggest
        if suggestion is None:
            return False
        any_load = ANY_LOAD in names and bool(suggestion.loads)
        return any_load or bool(names & {*suggestion.loads, *suggestion.skills})

    def contradictions(self) -> Iterator[tuple[About, int]]:
        """Each pair of opposed rules with the cases in which both are shown."""
        for read in self.book.contradictions.values():
            undecided = 0
            for fact in read.contradiction.decided_by:
                unknown = self.table.holds(Test(fact, Op.UNKNOWN))
                undecided |= unknown & self.table.holds(self.book.ask_when[fact])
            for left, right in combinations(read.contradiction.sides, 2):
                for one, other in product(self._side(left), self._side(right)):
                    if one != other:
                        both = self.table.shown(one) & self.table.shown(other)
                        yield (one, other), both & ~undecided

    def _side(self, names: list[str]) -> list[str]:
        return [
            rule.id
            for name in names
            for rule in self.book.rules.values()
            if rule.id == name or (rule.rule.suggest and rule.rule.suggest.skills[0] == name)
        ]

    def _empty(self) -> Iterator[About]:
        for name, read in self.book.properties.items():
            if not self.table.holds(read.when):
                yield from ((n,) for n, _ in self.promises() if n.partition("/")[0] == name)
        for name, sides in self.book.contradictions.items():
            for each in (n for side in sides.contradiction.sides for n in side):
                if not self._side([each]):
                    yield name, each

    def conflicts(self) -> dict[str, int]:
        """The facts of which two values are concluded somewhere, with where."""
        return {f: where for f in self.book.facts if (where := self.table.conflict(f))}

    # Vocabulary

    def _whens(self) -> Iterator[Condition]:
        yield from self.book.ask_when.values()
        yield from (p.when for p in self.book.properties.values())
        for rule in self.book.rules.values():
            yield from (e.when for e in rule.for_engine())

    def _tested(self) -> set[str]:
        return {t.attribute for when in self._whens() for t in tests(when)} | {NOT_ALLOWED}

    def _named(self) -> set[tuple[str, Value]]:
        """What conditions name, with the loads that the ranking looks for."""
        named: set[tuple[str, Value]] = set()
        for when in self._whens():
            for test in tests(when):
                values = test.value if isinstance(test.value, tuple) else (test.value,)
                named |= {(test.attribute, v) for v in values if v is not None}
        for rule in self.book.rules.values():
            if rule.rule.suggest:
                named |= {(NOT_ALLOWED, load) for load in rule.rule.suggest.loads}
        return named

    def _present(self) -> set[str]:
        return {t.attribute for when in self._whens() for t in tests(when) if t.op is Op.KNOWN}

    def _made(self) -> set[tuple[str, Value]]:
        return {c for rule in self.book.rules.values() for c in conclusions(rule)}

    def _given(self, fact: str) -> bool:
        made = {f for f, _ in self._made()}
        return self.book.facts[fact].asked or fact in self.book.words or fact in made

    def _idle_conclusions(self) -> Iterator[About]:
        for fact, value in self._made():
            if fact in self._tested() - self._present() and (fact, value) not in self._named():
                yield (
                    f"{fact} is {'yes' if value is True else 'no' if value is False else value}",
                )

    def _idle(self, with_words: bool) -> Iterator[About]:
        for fact, declared in self.book.facts.items():
            if fact not in self._tested() - self._present():
                continue
            for value in declared.values:
                idle = (fact, value) not in self._named() | self._made()
                if idle and bool(self.book.words.get(fact, {}).get(value)) == with_words:
                    yield (f"{fact} is {value}",)

    # What is missing

    def _advice(self) -> int:
        found = 0
        for rule in self.book.rules.values():
            if rule.rule.suggest or rule.rule.reply:
                found |= self.table.fired(rule.id)
        return found

    def _open_question(self) -> int:
        found = 0
        for name, fact in self.book.facts.items():
            if fact.asked and name != "trouble":
                open_still = self.table.holds(self.book.ask_when[name])
                open_still &= self.table.holds(Test(name, Op.UNKNOWN))
                for value in self.table.facts[name].deniable:
                    open_still &= ~self.table.denied[name, value]
                found |= open_still
        return found

    def unanswered(self) -> Iterator[tuple[str, int]]:
        """Each trouble with the cases that get neither advice nor a question."""
        quiet = self.table.all & ~self._advice() & ~self._open_question()
        for value in self.book.facts["trouble"].values if "trouble" in self.book.facts else ():
            yield value, quiet & self.table.said["trouble", value]

    def _late(self) -> Iterator[About]:
        for value in self.book.facts["trouble"].values if "trouble" in self.book.facts else ():
            alone = self.table.said["trouble", value]
            for entry, mask in self.table.said.items():
                alone &= self.table.all if entry == ("trouble", value) else ~mask
            # A denial beside it does no harm: nothing else is said.
            if alone & ~self._advice() & self._open_question():
                yield (f"trouble is {value}",)

    def never_asked(self) -> set[str]:
        """Questions that make sense only where they are answered already."""
        found = set()
        for name, fact in self.book.facts.items():
            if fact.asked:
                sense = self.table.holds(self.book.ask_when[name])
                for value in self.table.facts[name].values:
                    sense &= ~self.table.said[name, value]
                if not sense:
                    found.add(name)
        return found


def tests(when: Condition) -> Iterator[Test]:
    if isinstance(when, Test):
        yield when
    else:
        for part in when.parts:
            yield from tests(part)


def parts(when: Condition) -> Iterator[tuple[Condition, Condition, bool]]:
    """Each part of a condition, the condition without it, and whether it is one of several ways.

    The only way of an "any" has nothing left to stand in its place.
    """
    if isinstance(when, Test):
        return
    for i, part in enumerate(when.parts):
        others = [p for j, p in enumerate(when.parts) if j != i]
        if isinstance(when, All):
            yield part, All(tuple(others)), False
        elif others:
            yield part, Any(tuple(others)), True
        for inner, rest, alternative in parts(part):
            yield inner, type(when)((*when.parts[:i], rest, *when.parts[i + 1 :])), alternative


def conclusions(rule: ReadRule) -> set[tuple[str, Value]]:
    return {c for e in rule.for_engine() for c in e.then}


def concludes_only(rule: ReadRule) -> bool:
    says = rule.rule
    return not (says.suggest or says.caution or says.reply or says.stop)
