"""What the audit says: findings, each with its place, its reason and what to do about it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from pathlib import Path

from coachbot.knowledge import reading
from coachbot.knowledge.book import Place, ReadRule, RuleBook

from .cases import Cases, ToldCase
from .proofs import CONFLICT, CONTRADICTION, SAFETY, Proof, conflicts, contradictions, safety


class Severity(StrEnum):
    """How much a finding matters, worst first."""

    WRONG = "wrong"
    DOUBTFUL = "doubtful"
    UNTIDY = "untidy"

    @property
    def meaning(self) -> str:
        return {
            Severity.WRONG: "breaks a promise, or can never do anything",
            Severity.DOUBTFUL: "may not be what was meant",
            Severity.UNTIDY: "does no harm, but nobody needs it",
        }[self]


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that the audit found.

    ``about`` names what it is about (a rule, a fact, ``fact is value``, two rules); ``within``
    the fact that a value belongs to. ``also`` are further places. Severity is its check's.
    """

    check: str
    severity: Severity
    about: tuple[str, ...]
    place: Place
    message: str
    repair: str
    case: ToldCase | None = None
    also: tuple[Place, ...] = ()
    within: str | None = None


@dataclass(frozen=True)
class Audited:
    """A rule book under audit. With ``only`` the rules named there are looked at alone."""

    book: RuleBook
    cases: Cases
    only: frozenset[str] = frozenset()
    tell: Callable[[str], None] = field(default=lambda _: None)

    @cached_property
    def places(self) -> Places:
        return Places(self.book)

    @cached_property
    def rules(self) -> tuple[ReadRule, ...]:
        """The rules that are looked at, without those that cannot be run."""
        broken = {name.partition("@")[0] for name in self.cases.left_out}
        return tuple(
            rule
            for rule in self.book.rules.values()
            if rule.id not in broken and (not self.only or rule.id in self.only)
        )

    def looks_at(self, *rules: str) -> bool:
        """Whether one of the rules is looked at."""
        return not self.only or not self.only.isdisjoint(rules)

    @cached_property
    def claims(self) -> Mapping[str, tuple[Proof, ...]]:
        """The proofs of all claims by their kind."""
        self.tell("proving safety, contradictions and conflicts")
        return {
            SAFETY: safety(self.cases, self.only),
            CONTRADICTION: contradictions(self.cases, self.only),
            CONFLICT: conflicts(self.cases, self.only),
        }

    @cached_property
    def made(self) -> frozenset[str]:
        """The facts that rules conclude."""
        rules = self.book.rules.values()
        return frozenset(name for r in rules for e in r.for_engine() for name, _ in e.then)

    @cached_property
    def never_fire(self) -> frozenset[str]:
        """The rules that are looked at and fire in no case."""
        fired = {rule.id: self.cases.fired(rule.id) for rule in self.rules}
        possible = self.cases.solver.possible_each(fired.values())
        return frozenset(rule for rule, literal in fired.items() if literal not in possible)


Run = Callable[[Audited], Iterator[Finding]]


@dataclass(frozen=True, slots=True)
class Check:
    """One question that the audit asks.

    ``exact`` checks are proofs over every case; the others read words or count.
    ``whole`` checks look at the book as a whole, so that they are left out with ``only``.
    """

    name: str
    severity: Severity
    asks: str
    exact: bool
    run: Run
    whole: bool = False


class Places:
    """Where things stand, read again from the files when a finding needs it."""

    def __init__(self, book: RuleBook) -> None:
        self._book = book
        self._documents: dict[str, reading.Document | None] = {}

    def rule(self, rule: str, at: reading.Loc = ()) -> Place:
        """A rule, or the nearest place in its file to a part of it."""
        place = self._book.rules[rule].place
        return self._in(place.path, at) or place

    def fact(self, name: str, value: str | None = None) -> Place:
        """A fact or one of its values in the vocabulary."""
        at: reading.Loc = (name,) if value is None else (name, "values", value)
        return self._search("vocabulary", at) or Place("vocabulary", 1)

    def words(self, fact: str, value: str) -> Place:
        return self._search("words", (fact, value)) or Place("words", 1)

    def situation(self, name: str) -> Place:
        return self._search("situations.yaml", (name,)) or Place("situations.yaml", 1)

    def _search(self, part: str, at: reading.Loc) -> Place | None:
        for folder in reversed(self._book.folders):
            top = folder / part
            for file in [top] if top.suffix else sorted(top.glob("*.yaml")):
                shown = f"{folder.name}/{file.relative_to(folder).as_posix()}"
                document = self._document(folder, file, shown)
                if document is not None and at in document.marks:
                    return Place(shown, document.marks[at][0])
        return None

    def _in(self, path: str, at: reading.Loc) -> Place | None:
        for folder in reversed(self._book.folders):
            top, _, inside = path.partition("/")
            if top == folder.name and (folder / inside).is_file():
                document = self._document(folder, folder / inside, path)
                while document is not None and at and at not in document.marks:
                    at = at[:-1]
                if document is not None:
                    return Place(path, document.marks.get(at, (1, 1))[0])
        return None

    def _document(self, folder: Path, file: Path, shown: str) -> reading.Document | None:
        key = str(file)
        if key not in self._documents:
            self._documents[key] = reading.read(file, shown, folder) if file.is_file() else None
        return self._documents[key]
