"""The rule book: everything in one or more rule folders, checked as a whole.

``load`` reads every file, gathers every mistake, and gives a book only when there is
none. A later folder adds to an earlier one; the same name in it replaces; the ids in
its ``off.yaml`` switch rules off. Its folder ``tests`` and its ``replaces.yaml`` are kept
for the coach's workshop and are no part of the book.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, TypeAdapter, ValidationError

from coachbot.engine.model import All, Condition, EngineRule, Op, Test, Value

from . import reading
from .conditions import Grammar, Unreadable
from .grades import GradeLadder, GradeStep
from .model import (
    Accepted,
    Cases,
    Contradiction,
    Doses,
    Fact,
    Ground,
    Hearing,
    PinnedCase,
    Rule,
    SafetyProperty,
    Situation,
    Source,
    Telling,
)
from .phrases import BadPhrase, Phrase, concepts_in, firsts, parse, say_the_same
from .problems import BrokenRules, Problem, nearest

COMMON_PRACTICE = "common-practice"
RULE_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
NO_ID = 'no name: write small letters, figures and "-" between words'
TESTS = "tests"
REPLACES = "replaces"
NAMED_SETS = frozenset({"concepts", "cues"})
NOT_ALLOWED = "not_allowed"
HOLD_PARTS = ("target", "hold", "foot")
ANY_LOAD = "any_load"

M = TypeVar("M")
Words = Mapping[str, Mapping[str, tuple[str, ...]]]


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands: the file as the coach knows it, and its first line."""

    path: str
    line: int


@dataclass(frozen=True, slots=True)
class ReadRule:
    """A rule with its id, family (its folder), place, and conditions ready for the engine."""

    id: str
    family: str
    place: Place
    rule: Rule
    when: Condition
    then: tuple[tuple[str, Value], ...]
    copies: tuple[tuple[str, str, tuple[Value, ...]], ...] = ()

    def for_engine(self) -> Iterator[EngineRule]:
        """The engine's rules for it: one, and one more for each value that it hands on.

        ``copies`` are (fact, fact it is taken from, values that both can have); their
        engine rules are named ``id@value``.
        """
        if self.then or not self.copies:
            yield EngineRule(self.id, self.when, self.then)
        for fact, origin, values in self.copies:
            for value in values:
                when = All((self.when, Test(origin, Op.EQUAL, value)))
                yield EngineRule(f"{self.id}@{value}", when, ((fact, value),))


@dataclass(frozen=True, slots=True)
class ReadProperty:
    """A safety property with its place, and its conditions ready for the engine."""

    name: str
    place: Place
    property: SafetyProperty
    when: Condition


@dataclass(frozen=True, slots=True)
class ReadContradiction:
    """Advice that must not stand together, with its place."""

    name: str
    place: Place
    contradiction: Contradiction


@dataclass(frozen=True, slots=True)
class ReadAccepted:
    """An accepted finding of the audit, with its place."""

    place: Place
    accepted: Accepted


@dataclass(frozen=True, slots=True)
class Study:
    """What staff study needs beside the rules: ``apart`` as read conditions."""

    telling: Telling
    hearing: Hearing
    pinned: Mapping[str, PinnedCase]
    apart: tuple[Condition, ...]
    about: tuple[str, ...]
    beside: tuple[str, ...]
    after: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class RuleBook:
    """A sound rule set. Mappings keep the order of the files."""

    facts: Mapping[str, Fact]
    ask_when: Mapping[str, Condition]
    words: Words
    concepts: Mapping[str, tuple[str, ...]]
    rules: Mapping[str, ReadRule]
    situations: Mapping[str, Situation]
    sources: Mapping[str, Source]
    skills: Mapping[str, str]
    ladder: GradeLadder
    folders: tuple[Path, ...]
    doses: Doses | None = None
    properties: Mapping[str, ReadProperty] = field(default_factory=dict)
    contradictions: Mapping[str, ReadContradiction] = field(default_factory=dict)
    study: Study | None = None
    accepted: tuple[ReadAccepted, ...] = ()
    said_too: Mapping[tuple[str, Value], tuple[tuple[str, Value], ...]] = field(
        default_factory=dict
    )
    aimed_at: Mapping[str, frozenset[tuple[str, Value]]] = field(default_factory=dict)
    heard_beside: Mapping[str, frozenset[tuple[str, Value]]] = field(default_factory=dict)

    @property
    def single_valued(self) -> frozenset[str]:
        """The facts that hold at most one value."""
        return frozenset(n for n, f in self.facts.items() if f.kind != "several")

    @property
    def grammar(self) -> Grammar:
        return Grammar(self.facts, self.ladder)


def load(*folders: Path) -> RuleBook:
    """Read and check rule folders. Raises BrokenRules with every mistake."""
    reader = _Reader()
    for folder in folders:
        reader.take(folder)
    return reader.book(tuple(folders))


class _Reader:
    def __init__(self) -> None:
        self.problems: list[Problem] = []
        self.facts: dict[str, tuple[Fact, reading.Document]] = {}
        self.words: dict[str, dict[str, tuple[str, ...]]] = {}
        self.word_places: list[tuple[reading.Document, str, str]] = []
        self.phrase_places: list[tuple[reading.Document, tuple[str | int, ...], str]] = []
        self.concepts: dict[str, tuple[str, ...]] = {}
        self.said_too: tuple[dict[str, list[str]], reading.Document] | None = None
        self.aimed_at: tuple[dict[str, list[str]], reading.Document] | None = None
        self.rules: dict[str, tuple[Rule, reading.Document, str]] = {}
        self.situations: dict[str, Situation] = {}
        self.sources: dict[str, Source] = {}
        self.skills: dict[str, str] = {}
        self.ladder: GradeLadder | None = None
        self.doses: tuple[Doses, reading.Document] | None = None
        self.properties: dict[str, tuple[SafetyProperty, reading.Document]] = {}
        self.contradictions: dict[str, ReadContradiction] = {}
        self.telling: tuple[Telling, reading.Document] | None = None
        self.hearing: tuple[Hearing, reading.Document] | None = None
        self.cases: list[tuple[Cases, reading.Document]] = []
        self.accepted: list[ReadAccepted] = []
        self.seen_here: dict[str, str] = {}
        self.half_read: list[reading.Document] = []
        self.names_unread = False

    def take(self, folder: Path) -> None:
        """Read every file of one folder."""
        if not folder.is_dir():
            self.problems.append(Problem(str(folder), 1, 1, "there is no such rule folder"))
            return
        self.seen_here = {}
        for place in sorted(folder.rglob("*")):
            if place.is_symlink() and place.is_dir():
                shown = f"{folder.name}/{place.relative_to(folder).as_posix()}"
                self.problems.append(
                    Problem(shown, 1, 1, "is a link to a folder; copy the folder here instead")
                )
        for file in sorted(folder.rglob("*.yaml")) + sorted(folder.rglob("*.yml")):
            inside = file.relative_to(folder)
            if any(part.startswith(".") for part in inside.parts) or _kept_aside(inside):
                continue
            doc = reading.read(file, f"{folder.name}/{inside.as_posix()}", folder)
            self.problems += doc.problems
            if doc.tree is not None:
                self._file(inside, doc)
            elif inside.stem in NAMED_SETS:
                self.names_unread = True

    def _file(self, inside: Path, doc: reading.Document) -> None:
        top, stem = inside.parts[0], inside.stem
        if inside.suffix == ".yml":
            self.problems.append(doc.problem((), f'name it "{stem}.yaml", with the full ending'))
        elif len(inside.parts) == 1:
            self._top_file(stem, doc)
        elif top == "vocabulary":
            for name, fact in self._named(Fact, doc):
                self._once("fact", name, doc, (name,))
                self.facts[name] = (fact, doc)
        elif top == "words":
            if stem == "said_too":
                self.said_too = (self._whole(dict[str, list[str]], doc) or {}, doc)
            elif stem == "aimed_at":
                self.aimed_at = (self._whole(dict[str, list[str]], doc) or {}, doc)
            else:
                self._words(doc, concepts=stem in NAMED_SETS)
        elif len(inside.parts) == 2:
            rule = self._whole(Rule, doc)
            for what, name in (("id", stem), ("family", top)):
                if not RULE_ID.fullmatch(name):
                    self.problems.append(doc.problem((), f'the {what} "{name}" is {NO_ID}'))
            if rule is None:
                self.half_read.append(doc)
            else:
                self._once("rule", stem, doc, ())
                self.rules[stem] = (rule, doc, top)
        else:
            self.problems.append(doc.problem((), "rules stand one folder deep: family/rule.yaml"))

    def _top_file(self, stem: str, doc: reading.Document) -> None:
        if stem == "situations":
            self.situations.update(self._named(Situation, doc))
        elif stem == "sources":
            self.sources.update(self._named(Source, doc))
        elif stem == "skills":
            self.skills.update(self._whole(dict[str, str], doc) or {})
        elif stem == "safety":
            for name, safety in self._named(SafetyProperty, doc):
                self.properties[name] = (safety, doc)
        elif stem == "contradictions":
            for name, sides in self._named(Contradiction, doc):
                self.contradictions[name] = ReadContradiction(name, _line(doc, (name,)), sides)
        elif stem == "audit":
            for i, accepted in enumerate(self._whole(list[Accepted], doc) or []):
                self.accepted.append(ReadAccepted(_line(doc, (i,)), accepted))
        elif stem == "off":
            for i, rule_id in enumerate(self._whole(list[str], doc) or []):
                if self.rules.pop(rule_id, None) is None:
                    hint = nearest(rule_id, self.rules)
                    self.problems.append(
                        doc.problem((i,), f'no rule "{rule_id}" to switch off.{hint}')
                    )
        elif stem == "grades":
            grades = self._whole(_Grades, doc)
            if grades is not None:
                self.ladder = GradeLadder(tuple(grades.steps), tuple(grades.font))
        elif stem == "doses":
            doses = self._whole(Doses, doc)
            if doses is not None:
                self.doses = (doses, doc)
        elif stem == "telling":
            telling = self._whole(Telling, doc)
            if telling is not None:
                self.telling = (telling, doc)
        elif stem == "hearing":
            hearing = self._whole(Hearing, doc)
            if hearing is not None:
                self.hearing = (hearing, doc)
        elif stem == "cases":
            cases = self._whole(Cases, doc)
            if cases is not None:
                self.cases.append((cases, doc))
        else:
            known = [
                "situations", "sources", "skills", "grades", "doses", "safety", "contradictions",
                "telling", "hearing", "cases", "audit", "off",
            ]  # fmt: skip
            self.problems.append(
                doc.problem((), f'"{stem}.yaml" is no file of a rule folder.{nearest(stem, known)}')
            )

    def _words(self, doc: reading.Document, concepts: bool) -> None:
        if concepts:
            for name, phrases in (self._whole(dict[str, list[str]], doc) or {}).items():
                self.concepts[name] = self.concepts.get(name, ()) + tuple(phrases)
                self.phrase_places += ((doc, (name, i), p) for i, p in enumerate(phrases))
            return
        for fact, values in (self._whole(dict[str, dict[str, list[str]]], doc) or {}).items():
            for value, phrases in values.items():
                here = self.words.setdefault(fact, {})
                here[value] = here.get(value, ()) + tuple(phrases)
                self.word_places.append((doc, fact, value))
                at = enumerate(phrases)
                self.phrase_places += ((doc, (fact, value, i), p) for i, p in at)

    def _once(self, what: str, name: str, doc: reading.Document, loc: reading.Loc) -> None:
        before = self.seen_here.get(f"{what} {name}")
        if before:
            self.problems.append(doc.problem(loc, f'the {what} "{name}" stands in {before} too'))
        self.seen_here[f"{what} {name}"] = doc.path

    def _named(self, model: type[M], doc: reading.Document) -> Iterator[tuple[str, M]]:
        if not isinstance(doc.tree, dict):
            self.problems.append(doc.problem((), "names with their entries are wanted here"))
            return
        for name, tree in doc.tree.items():
            entry = self._convert(model, tree, doc, (name,))
            if entry is not None:
                yield name, entry

    def _whole(self, model: Any, doc: reading.Document) -> Any:
        return self._convert(model, doc.tree, doc, ())

    def _convert(self, model: Any, tree: object, doc: reading.Document, at: reading.Loc) -> Any:
        try:
            if isinstance(model, type) and issubclass(model, BaseModel):
                return model.model_validate(tree)
            return TypeAdapter(model).validate_python(tree)
        except ValidationError as error:
            self.problems += (plainly(e, model, doc, at) for e in error.errors())
            return None

    def book(self, folders: tuple[Path, ...]) -> RuleBook:
        """Check everything against everything else."""
        if self.ladder is None:
            if not self.problems:
                where = folders[0].name if folders else "rules"
                self.problems.append(Problem(f"{where}/grades.yaml", 1, 1, "this file is missing"))
            raise BrokenRules(self.problems)
        facts = {name: fact for name, (fact, _) in self.facts.items()}
        grammar = Grammar(facts, self.ladder)
        ask_when = {n: self._ask_when(n, f, d, grammar) for n, (f, d) in self.facts.items()}
        rules = {i: self._rule(i, r, d, fam, grammar) for i, (r, d, fam) in self.rules.items()}
        for half in self.half_read:
            self._sentences_of(half, grammar)
        properties = {n: self._property(n, p, d, grammar) for n, (p, d) in self.properties.items()}
        self._check_words(grammar)
        if self.doses is not None:
            self._check_doses(*self.doses, grammar)
        study = self._study(grammar)
        said_too = self._said_too(grammar)
        aimed_at = self._aimed_at(grammar)
        heard_beside = self._heard_beside(grammar)
        if self.problems:
            raise BrokenRules(self.problems)
        return RuleBook(
            facts, ask_when, self.words, self.concepts, rules, self.situations,
            self.sources, self.skills, self.ladder, folders,
            self.doses[0] if self.doses else None, properties, self.contradictions, study,
            tuple(self.accepted),
            said_too, aimed_at, heard_beside,
        )  # fmt: skip

    def _ask_when(
        self, name: str, fact: Fact, doc: reading.Document, grammar: Grammar
    ) -> Condition:
        parts = self._conditions(fact.ask_when, doc, (name, "ask_when"), grammar)
        return All(tuple(parts))

    def _conditions(
        self, parts: Sequence[Any], doc: reading.Document, at: reading.Loc, grammar: Grammar
    ) -> list[Condition]:
        read: list[Condition] = []
        for i, part in enumerate(parts):
            try:
                read.append(grammar.condition(part))
            except Unreadable as error:
                self.problems.append(doc.problem(_place_in(part, (*at, i), grammar), str(error)))
        return read

    def _rule(
        self, rule_id: str, rule: Rule, doc: reading.Document, family: str, grammar: Grammar
    ) -> ReadRule:
        when = self._conditions(rule.when, doc, ("when",), grammar)
        then: list[tuple[str, Value]] = []
        copies: list[tuple[str, str, tuple[Value, ...]]] = []
        for i, sentence in enumerate(rule.then):
            try:
                copy = grammar.copied(sentence)
                if copy is None:
                    then.append(grammar.conclusion(sentence))
                else:
                    copies.append(copy)
            except Unreadable as error:
                self.problems.append(doc.problem(("then", i), str(error)))
        self._names(rule.serves, self.situations, "situation", doc, ("serves",))
        if rule.suggest:
            self._names(rule.suggest.skills, self.skills, "skill", doc, ("suggest", "skills"))
            if NOT_ALLOWED in grammar.facts:
                allowed = grammar.facts[NOT_ALLOWED].values
                self._names(rule.suggest.loads, allowed, "load", doc, ("suggest", "loads"))
        self._grounds(rule.ground, doc, ("ground",))
        place = Place(doc.path, 1)
        return ReadRule(rule_id, family, place, rule, All(tuple(when)), tuple(then), tuple(copies))

    def _property(
        self, name: str, safety: SafetyProperty, doc: reading.Document, grammar: Grammar
    ) -> ReadProperty:
        when = self._conditions(safety.when, doc, (name, "when"), grammar)
        loads = grammar.facts[NOT_ALLOWED].values if NOT_ALLOWED in grammar.facts else {}
        known = {**loads, **self.skills, ANY_LOAD: None}
        self._names(safety.never, known, "load or skill", doc, (name, "never"))
        return ReadProperty(name, _line(doc, (name,)), safety, All(tuple(when)))

    def _grounds(self, grounds: Sequence[Ground], doc: reading.Document, at: reading.Loc) -> None:
        known = {**self.sources, COMMON_PRACTICE: None}
        for i, ground in enumerate(grounds):
            self._names([ground.key], known, "source", doc, (*at, i, "key"), alone=True)
            if ground.key != COMMON_PRACTICE and not (ground.place and ground.checked):
                self.problems.append(
                    doc.problem((*at, i), 'a publication needs "place" and "checked" (a date)')
                )

    def _check_doses(self, doses: Doses, doc: reading.Document, grammar: Grammar) -> None:
        for part in type(doses).model_fields:
            self._grounds(getattr(doses, part).ground, doc, (part, "ground"))
        held = grammar.facts[NOT_ALLOWED].values if NOT_ALLOWED in grammar.facts else {}
        for i, block in enumerate(doses.session.blocks):
            at = ("session", "blocks", i)
            self._names(block.loads, held, "load", doc, (*at, "loads"))
            if block.instead:
                known = {b.name: None for b in doses.session.blocks}
                self._names([block.instead], known, "block", doc, (*at, "instead"), alone=True)

    def _sentences_of(self, doc: reading.Document, grammar: Grammar) -> None:
        """Check the conditions of a rule that has other mistakes, so that all are told at once."""
        when = doc.tree.get("when") if isinstance(doc.tree, dict) else None
        parts = when if isinstance(when, list) else []
        for i, part in enumerate(parts):
            if isinstance(part, str):
                try:
                    grammar.test(part)
                except Unreadable as error:
                    self.problems.append(doc.problem(("when", i), str(error)))

    def _study(self, grammar: Grammar) -> Study | None:
        pinned: dict[str, PinnedCase] = {}
        apart: list[Condition] = []
        about: dict[str, None] = {}
        beside: dict[str, None] = {}
        after: dict[str, str] = {}
        for cases, doc in self.cases:
            for i, group in enumerate(cases.apart):
                apart.append(All(tuple(self._conditions(group, doc, ("apart", i), grammar))))
            self._names(cases.about, grammar.facts, "fact", doc, ("about",))
            about |= dict.fromkeys(cases.about)
            self._names(cases.beside, grammar.facts, "fact", doc, ("beside",))
            beside |= dict.fromkeys(cases.beside)
            self._names(
                [*cases.after, *cases.after.values()], grammar.facts, "fact", doc, ("after",)
            )
            after |= cases.after
            for name, case in cases.pinned.items():
                at = ("pinned", name)
                self._names(case.wants, self.rules, "rule", doc, (*at, "wants"))
                for fact, given in case.facts.items():
                    for text in [given] if isinstance(given, str) else given:
                        self._value(fact, text.removeprefix("not "), doc, (*at, "facts"), grammar)
                pinned[name] = case
        if self.telling is None or self.hearing is None:
            return None
        telling, doc = self.telling
        for fact, phrases in telling.facts.items():
            for value in phrases:
                if value == "number" and fact in grammar.facts:
                    continue
                self._value(fact, value, doc, ("facts", fact), grammar)
        hearing, doc = self.hearing
        self._names(list(hearing.skills), self.skills, "skill", doc, ("skills",), alone=True)
        if NOT_ALLOWED in grammar.facts:
            held = grammar.facts[NOT_ALLOWED].values
            self._names(list(hearing.loads), held, "load", doc, ("loads",), alone=True)
        return Study(telling, hearing, pinned, tuple(apart), tuple(about), tuple(beside), after)

    def _value(
        self, fact: str, text: str, doc: reading.Document, at: reading.Loc, grammar: Grammar
    ) -> None:
        try:
            grammar.value(fact, text)
        except Unreadable as error:
            self.problems.append(doc.problem(at, str(error)))

    def _names(
        self,
        names: Sequence[str],
        known: Mapping[str, object],
        what: str,
        doc: reading.Document,
        at: reading.Loc,
        alone: bool = False,
    ) -> None:
        for i, name in enumerate(names):
            if name not in known:
                loc = at if alone else (*at, i)
                self.problems.append(
                    doc.problem(loc, f'unknown {what} "{name}".{nearest(name, known)}')
                )

    def _aimed_at(self, grammar: Grammar) -> dict[str, frozenset[tuple[str, Value]]]:
        """By part, what tells of a hold whose part is open; a problem for each unknown part."""
        parts, doc = self.aimed_at or ({}, None)
        for part in parts.keys() - set(HOLD_PARTS):
            assert doc is not None
            self.problems.append(
                doc.problem((part,), f'"{part}" is none of {", ".join(HOLD_PARTS)}')
            )
        read = {
            part: {
                self._said(t, grammar, doc, (part, i)) for i, t in enumerate(parts.get(part, ()))
            }
            for part in HOLD_PARTS
        }
        return {part: frozenset(p for p in said if p is not None) for part, said in read.items()}

    def _heard_beside(self, grammar: Grammar) -> dict[str, frozenset[tuple[str, Value]]]:
        """For each fact that is heard only beside certain values, those values."""
        read: dict[str, frozenset[tuple[str, Value]]] = {}
        for name, (fact, doc) in self.facts.items():
            said = [
                self._said(text, grammar, doc, (name, "heard_beside", i))
                for i, text in enumerate(fact.heard_beside)
            ]
            if said:
                read[name] = frozenset(pair for pair in said if pair is not None)
        return read

    def _said_too(self, grammar: Grammar) -> dict[tuple[str, Value], tuple[tuple[str, Value], ...]]:
        """What each value says too: "trouble is heel_slips" says "foot_move is heel_hook"."""
        read: dict[tuple[str, Value], tuple[tuple[str, Value], ...]] = {}
        sentences, doc = self.said_too or ({}, None)
        for sentence, others in sentences.items():
            said = self._said(sentence, grammar, doc, (sentence,))
            found = [self._said(text, grammar, doc, (sentence,)) for text in others]
            if said is not None:
                read[said] = tuple(pair for pair in found if pair is not None)
        return read

    def _said(
        self, text: str, grammar: Grammar, doc: reading.Document | None, at: reading.Loc
    ) -> tuple[str, Value] | None:
        """The fact and value of "fact is value"; a problem when they are unknown."""
        fact, _, value = text.partition(" is ")
        try:
            return fact, grammar.value(fact, value)
        except Unreadable as error:
            if doc is not None:
                self.problems.append(doc.problem(at, str(error)))
            return None

    def _check_words(self, grammar: Grammar) -> None:
        for doc, fact, value in self.word_places:
            declared = grammar.facts.get(fact)
            if declared is None:
                message = f'unknown fact "{fact}".{nearest(fact, grammar.facts)}'
                self.problems.append(doc.problem((fact,), message))
                continue
            try:
                if declared.kind in {"choice", "several", "yes-no"}:
                    grammar.value(fact, value)
                elif value != "number":
                    raise Unreadable(f'the words of a number stand under "number", not "{value}"')
            except Unreadable as error:
                self.problems.append(doc.problem((fact, value), str(error)))
        self._check_phrases()

    def _check_phrases(self) -> None:
        """Phrases that cannot be read, unknown <names>, and one phrase under two values."""
        seen: dict[tuple[str, str], list[tuple[str, Phrase, Place]]] = {}
        for doc, loc, text in self.phrase_places:
            try:
                phrase = parse(text)
            except BadPhrase as error:
                self.problems.append(doc.problem(loc, str(error)))
                continue
            unknown = set() if self.names_unread else concepts_in(phrase) - self.concepts.keys()
            for name in sorted(unknown):
                hint = nearest(name, self.concepts)
                self.problems.append(doc.problem(loc, f'unknown name "<{name}>".{hint}'))
            if len(loc) == 3 and not phrase.blocks:
                self._once_only(phrase, doc, (str(loc[0]), str(loc[1])), loc, seen)

    def _once_only(
        self,
        phrase: Phrase,
        doc: reading.Document,
        meaning: tuple[str, str],
        loc: reading.Loc,
        seen: dict[tuple[str, str], list[tuple[str, Phrase, Place]]],
    ) -> None:
        fact, value = meaning
        here = Place(doc.path, doc.problem(loc, "").line)
        told = False
        for first in firsts(phrase):
            others = seen.setdefault((fact, first), [])
            for other, said, place in others:
                if not told and other != value and say_the_same(phrase, said):
                    told = True
                    self.problems.append(
                        doc.problem(
                            loc,
                            f'"{phrase.text}" stands for {fact} {value} here and for'
                            f" {fact} {other} in {place.path}:{place.line}; keep it in one place",
                        )
                    )
            others.append((value, phrase, here))


def _kept_aside(inside: Path) -> bool:
    """Whether a file belongs to the workshop and not to the book."""
    if len(inside.parts) == 1:
        return inside.stem == REPLACES
    return inside.parts[0] == TESTS


class _Grades(BaseModel):
    font: list[str]
    steps: list[GradeStep]


def _line(doc: reading.Document, at: reading.Loc) -> Place:
    return Place(doc.path, doc.marks.get(at, (1, 1))[0])


def _place_in(part: Any, at: reading.Loc, grammar: Grammar) -> reading.Loc:
    """The place of the first unreadable sentence inside a group."""
    if isinstance(part, dict):
        for key, parts in part.items():
            for i, inner in enumerate(parts):
                try:
                    grammar.condition(inner)
                except Unreadable:
                    return _place_in(inner, (*at, key, i), grammar)
    return at


def plainly(error: Any, model: Any, doc: reading.Document, at: reading.Loc) -> Problem:
    """One pydantic error as a sentence at its place in the file."""
    loc = tuple(p for p in error["loc"] if isinstance(p, str | int))
    key = loc[-1] if loc else ""
    if error["type"] == "extra_forbidden":
        allowed = sorted(_fields_at(model, loc[:-1]))
        message = f'the key "{key}" is not used here.{nearest(str(key), allowed)}'
        if allowed:
            message += f" Allowed: {', '.join(allowed)}"
    elif error["type"] == "missing":
        message = f'"{key}" is missing'
    elif error["type"] == "value_error":
        message = str(error["ctx"]["error"])
    elif error["type"] == "literal_error":
        message = (
            f'"{error["input"]}" is not allowed for "{key}"; allowed: {error["ctx"]["expected"]}'
        )
    elif error["type"] == "string_pattern_mismatch":
        message = f'"{error["input"]}" is no name: small letters, figures and _ (or -)'
    else:
        shown = error["input"] if isinstance(error["input"], str | None) else "this"
        message = f'{error["msg"][0].lower()}{error["msg"][1:]} (here: "{shown}")'
    return doc.problem((*at, *loc), message)


def _fields_at(model: Any, loc: tuple[str | int, ...]) -> set[str]:
    """The keys that the model allows at a place, as far as they can be named."""
    for part in loc:
        if isinstance(part, int):
            continue
        fields = getattr(model, "model_fields", {})
        if part not in fields:
            return set()
        model = fields[part].annotation
        inner = [m for m in _arguments(model) if hasattr(m, "model_fields")]
        model = inner[0] if inner else model
    return set(getattr(model, "model_fields", {}))


def _arguments(annotation: Any) -> Iterator[Any]:
    yield annotation
    for part in getattr(annotation, "__args__", ()):
        yield from _arguments(part)
