"""What the book says, ready to be set: rules, situations, sources, skills and facts in order."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from coachbot.engine.logic import tests_of
from coachbot.engine.model import All, Any, Condition, Value
from coachbot.knowledge.book import COMMON_PRACTICE, ReadRule, RuleBook
from coachbot.knowledge.conditions import Unreadable, sentence
from coachbot.knowledge.model import Fact, RuleCheck, Situation, Source
from coachbot.knowledge.wording import condition_sentence, fact_sentence
from coachbot.review.rule_tests import Given, case_of


@dataclass(frozen=True, slots=True)
class Clause:
    """One condition: in plain words, its alternatives when there are any, and as written."""

    plain: tuple[str, ...]
    written: str


@dataclass(frozen=True, slots=True)
class Basis:
    """What a rule rests on. ``source`` is None for common practice."""

    says: str
    key: str
    source: Source | None
    place: str | None


@dataclass(frozen=True, slots=True)
class Entry:
    """One rule as the book shows it. ``kind`` says in a word what the rule does."""

    id: str
    family: str
    kind: str
    title: str
    read: ReadRule
    clauses: tuple[Clause, ...]
    concludes: tuple[str, ...]
    bases: tuple[Basis, ...]
    practice: str | None
    fires: tuple[str, ...]
    silent: tuple[str, ...]
    made_by: tuple[str, ...]
    used_by: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Served:
    """One situation with the rules that serve it, strongest first."""

    id: str
    situation: Situation
    rules: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class Contents:
    """The whole book. Families and groups of situations are in the order of the files."""

    book: RuleBook
    entries: Mapping[str, Entry]
    families: Mapping[str, tuple[Entry, ...]]
    situations: Mapping[str, tuple[Served, ...]]
    relying: Mapping[str, tuple[Entry, ...]]
    training: Mapping[str, tuple[Entry, ...]]
    reading: Mapping[str, tuple[Entry, ...]]
    making: Mapping[str, tuple[Entry, ...]]

    def concluded(self) -> tuple[tuple[str, Fact], ...]:
        """The facts that rules make."""
        return tuple((n, f) for n, f in self.book.facts.items() if f.concluded)


def contents(book: RuleBook, tests: Mapping[str, RuleCheck]) -> Contents:
    """Gather the book."""
    making = _by(book.rules.values(), _made)
    reading = _by(book.rules.values(), _read)
    entries = {r.id: _entry(book, r, tests.get(r.id), making, reading) for r in book.rules.values()}
    families: dict[str, tuple[Entry, ...]] = {}
    for entry in entries.values():
        families[entry.family] = (*families.get(entry.family, ()), entry)
    situations: dict[str, tuple[Served, ...]] = {}
    for i, situation in book.situations.items():
        serving = [e for e in entries.values() if i in e.read.rule.serves]
        served = Served(i, situation, tuple(sorted(serving, key=_strongest)))
        situations[situation.family] = (*situations.get(situation.family, ()), served)
    relying = {
        key: tuple(e for e in entries.values() if any(b.key == key for b in e.bases))
        for key in (*book.sources, COMMON_PRACTICE)
    }
    training = {
        skill: tuple(e for e in entries.values() if skill in _skills(e)) for skill in book.skills
    }
    return Contents(
        book,
        entries,
        families,
        situations,
        relying,
        training,
        {n: tuple(entries[i] for i in ids) for n, ids in reading.items()},
        {n: tuple(entries[i] for i in ids) for n, ids in making.items()},
    )


def _strongest(entry: Entry) -> tuple[bool, bool, float, str]:
    suggest = entry.read.rule.suggest
    weight = suggest.strength * suggest.sure if suggest else 0.0
    return (not entry.read.rule.stop, not entry.read.rule.safety, -weight, entry.id)


def _skills(entry: Entry) -> Sequence[str]:
    return entry.read.rule.suggest.skills if entry.read.rule.suggest else ()


def _made(rule: ReadRule) -> tuple[str, ...]:
    return (*(f for f, _ in rule.then), *(f for f, _, _ in rule.copies))


def _read(rule: ReadRule) -> tuple[str, ...]:
    return (*(t.attribute for t in tests_of(rule.when)), *(o for _, o, _ in rule.copies))


def _by(
    rules: Iterable[ReadRule], names: Callable[[ReadRule], Iterable[str]]
) -> dict[str, tuple[str, ...]]:
    found: dict[str, dict[str, None]] = {}
    for rule in rules:
        for name in names(rule):
            found.setdefault(name, {})[rule.id] = None
    return {name: tuple(ids) for name, ids in found.items()}


def _entry(
    book: RuleBook,
    read: ReadRule,
    test: RuleCheck | None,
    making: Mapping[str, tuple[str, ...]],
    reading: Mapping[str, tuple[str, ...]],
) -> Entry:
    rule = read.rule
    parts = read.when.parts if isinstance(read.when, All) else (read.when,)
    made_by = dict.fromkeys(i for f in dict.fromkeys(_read(read)) for i in making.get(f, ()))
    used_by = dict.fromkeys(i for f in dict.fromkeys(_made(read)) for i in reading.get(f, ()))
    return Entry(
        id=read.id,
        family=read.family,
        kind=_kind(read),
        title=_title(book, read),
        read=read,
        clauses=tuple(_clause(book, part) for part in parts),
        concludes=tuple(_concludes(book, read)),
        bases=tuple(
            Basis(g.says, g.key, book.sources.get(g.key), g.place) for g in rule.ground
        ),
        practice=test.practice if test else None,
        fires=tuple(_case(book, g) for g in test.fires) if test else (),
        silent=tuple(_case(book, g) for g in test.silent) if test else (),
        made_by=tuple(i for i in made_by if i != read.id),
        used_by=tuple(used_by),
    )  # fmt: skip


def _kind(read: ReadRule) -> str:
    rule = read.rule
    if rule.stop:
        return "stop"
    if rule.safety:
        return "safety"
    if rule.suggest:
        return "advice"
    if rule.caution:
        return "caution"
    if rule.reply:
        return "reply"
    return "conclusion"


def _title(book: RuleBook, read: ReadRule) -> str:
    """The cue, or what else the rule says."""
    rule = read.rule
    if rule.suggest:
        return rule.suggest.now
    said = rule.reply or rule.caution
    return said or "; ".join(_concludes(book, read))


def _concludes(book: RuleBook, read: ReadRule) -> list[str]:
    told = [fact_sentence(book, fact, value) for fact, value in read.then]
    told += [f"{fact} is the same as {origin}" for fact, origin, _ in read.copies]
    return told


def _clause(book: RuleBook, part: Condition) -> Clause:
    ways = part.parts if isinstance(part, Any) else (part,)
    return Clause(tuple(condition_sentence(book, way) for way in ways), sentence(part))


def _case(book: RuleBook, given: Given) -> str:
    """A test's case as sentences."""
    try:
        case = case_of(book, given)
    except Unreadable as error:
        return str(error)
    told = [_told(book, n, v, False) for n, values in case.said.items() for v in values]
    told += [_told(book, n, v, True) for n, values in case.denied.items() for v in values]
    return "; ".join(told) or "nothing is known"


def _told(book: RuleBook, name: str, value: Value, denied: bool) -> str:
    return fact_sentence(book, name, value, denied)
