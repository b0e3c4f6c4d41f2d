"""Runs the written tests of rules: cases that fire, near misses, and what no test needs.

A rule's test is ``<family>/<rule id>.yaml`` in a folder of tests. Besides running its cases,
every condition of the rule is removed, loosened and turned round in turn: one of the cases
must then go the other way, or the tests would not notice if the condition were lost.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from pydantic import ValidationError

from coachbot.engine import Network
from coachbot.engine.model import Case, EngineRule, RuleSetError, Run, Value
from coachbot.knowledge import reading
from coachbot.knowledge.book import ReadRule, RuleBook, plainly
from coachbot.knowledge.conditions import Unreadable
from coachbot.knowledge.model import RuleCheck
from coachbot.knowledge.problems import BrokenRules, Problem

from .cases import Cases
from .variants import Change, Variant, Variants

Given = Mapping[str, str | list[str]]


@dataclass(frozen=True, slots=True)
class Failure:
    """One thing that a test of a rule shows to be wrong."""

    rule: str
    message: str

    def __str__(self) -> str:
        return f"{self.rule}: {self.message}"


@dataclass(frozen=True, slots=True)
class Unneeded:
    """A change to a rule's conditions that none of its cases notices."""

    rule: str
    variant: Variant

    def __str__(self) -> str:
        return f"{self.rule}: no case notices when this is lost: {self.variant}"


@dataclass(frozen=True, slots=True)
class Report:
    """The outcome for some rules: counts, failures, unneeded conditions, known gaps.

    ``rules`` are the ids that were looked at, ``variants`` the changes tried.
    """

    rules: tuple[str, ...] = ()
    cases: int = 0
    variants: int = 0
    failures: tuple[Failure, ...] = ()
    unneeded: tuple[Unneeded, ...] = ()
    someday: tuple[str, ...] = ()

    def __add__(self, other: Report) -> Report:
        return Report(
            self.rules + other.rules,
            self.cases + other.cases,
            self.variants + other.variants,
            self.failures + other.failures,
            self.unneeded + other.unneeded,
            self.someday + other.someday,
        )


def read_tests(folder: Path, shown_as: str | None = None) -> dict[str, RuleCheck]:
    """Every rule test below ``folder`` by rule id. Raises BrokenRules with every mistake.

    ``shown_as`` is the folder's name in messages, its own name when not given.
    """
    found: dict[str, RuleCheck] = {}
    places: dict[str, str] = {}
    problems: list[Problem] = []
    name = shown_as or folder.name
    for file in sorted([*folder.rglob("*.yaml"), *folder.rglob("*.yml")]):
        inside = file.relative_to(folder)
        if any(part.startswith(".") for part in inside.parts):
            continue
        doc = reading.read(file, f"{name}/{inside.as_posix()}", folder)
        problems += doc.problems
        if file.suffix == ".yml":
            problems.append(doc.problem((), f'name it "{file.stem}.yaml", with the full ending'))
        if len(inside.parts) != 2:
            problems.append(doc.problem((), "tests stand one folder deep: family/rule-id.yaml"))
        if file.stem in places:
            problems.append(doc.problem((), f"a test of this rule stands in {places[file.stem]}"))
        places[file.stem] = doc.path
        if doc.tree is None:
            continue
        try:
            found[file.stem] = RuleCheck.model_validate(doc.tree)
        except ValidationError as error:
            problems += (plainly(e, RuleCheck, doc, ()) for e in error.errors())
    if problems:
        raise BrokenRules(problems)
    return found


def case_of(book: RuleBook, given: Given) -> Case:
    """The engine's case for what a test gives. Raises Unreadable."""
    said: dict[str, tuple[Value, ...]] = {}
    denied: dict[str, tuple[Value, ...]] = {}
    for name, texts in given.items():
        for text in [texts] if isinstance(texts, str) else texts:
            into, word = (denied, text[4:]) if text.startswith("not ") else (said, text)
            value = book.grammar.value(name, word)
            if into is said and name in said and name in book.single_valued:
                raise Unreadable(f'"{name}" holds one value; the case gives two')
            into[name] = (*into.get(name, ()), value)
    return Case(said, denied)


def run(book: RuleBook, tests: Mapping[str, RuleCheck], only: Sequence[str] = ()) -> Report:
    """Run the tests of all rules, or of those whose id is in ``only``.

    Raises BrokenRules when the engine cannot run the rules together.
    """
    chosen = [r for r in book.rules.values() if not only or r.id in only]
    report = Report(failures=() if only else strays(book, tests))
    variants = Variants(book)
    with network_of(book) as network:
        for rule in chosen:
            test = tests.get(rule.id)
            if test is None:
                failures = (Failure(rule.id, "has no test"),)
                report += Report((rule.id,), failures=failures)
                continue
            try:
                report += _one(book, network, variants, rule, test)
            except Unreadable as error:
                report += Report((rule.id,), failures=(Failure(rule.id, str(error)),))
    return report


def network_of(book: RuleBook) -> Network:
    """The rules in the engine. Raises BrokenRules when they cannot run together."""
    try:
        rules = [e for r in book.rules.values() for e in r.for_engine()]
        return Network(rules, book.single_valued)
    except RuleSetError as error:
        where = book.folders[-1].name if book.folders else "rules"
        raise BrokenRules(Problem(where, 1, 1, p) for p in error.problems) from None


def strays(book: RuleBook, tests: Mapping[str, RuleCheck]) -> tuple[Failure, ...]:
    """The tests of rules that are not in the book."""
    missing = sorted(set(tests) - set(book.rules))
    return tuple(Failure(i, "there is a test but no such rule") for i in missing)


def tellable(book: RuleBook, unneeded: Sequence[Unneeded]) -> tuple[Unneeded, ...]:
    """Without the loosened conditions that no case could show, because the rest implies them.

    Proved over every case that can be said.
    """
    loosened = [u for u in unneeded if u.variant.change is Change.LOOSENED]
    if not loosened:
        return tuple(unneeded)
    cases = Cases(book, [u.variant.when for u in loosened])
    alike = {id(u) for u in loosened if cases.alike(book.rules[u.rule].when, u.variant.when)}
    return tuple(u for u in unneeded if id(u) not in alike)


def _one(
    book: RuleBook, network: Network, variants: Variants, rule: ReadRule, test: RuleCheck
) -> Report:
    failures: list[Failure] = []
    firing: list[Case] = []
    near: list[Case] = []
    for cases, givens, wanted in ((firing, test.fires, True), (near, test.silent, False)):
        for given in givens:
            case = case_of(book, given)
            run = network.run(case)
            cases.append(Case(run.facts, case.denied))
            if _fired(run, rule.id) != wanted:
                what = "fire but does not" if wanted else "be silent but fires"
                failures.append(Failure(rule.id, f"should {what}, given {told_case(given)}"))
            for clash in run.conflicts if wanted else ():
                rules = " and ".join(clash.rules)
                message = f"{rules} conclude different {clash.attribute}, given {told_case(given)}"
                failures.append(Failure(rule.id, message))
    for given in test.someday:
        if _fired(network.run(case_of(book, given)), rule.id):
            message = f"now fires, given {told_case(given)}: move it to fires"
            failures.append(Failure(rule.id, message))
    tried = tuple(variants.of(rule.when))
    unnoticed = _unnoticed(book, tried, firing, near)
    return Report(
        (rule.id,),
        len(test.fires) + len(test.silent),
        len(tried),
        tuple(failures),
        tuple(Unneeded(rule.id, variant) for variant in unnoticed),
        tuple(f"{rule.id}: {told_case(given)}" for given in test.someday),
    )


def told_case(given: Given) -> str:
    """A test's case on one line, as a coach writes it."""
    parts = (
        f"{name}: {texts if isinstance(texts, str) else '[' + ', '.join(texts) + ']'}"
        for name, texts in given.items()
    )
    return "{" + ", ".join(parts) + "}"


def _fired(run: Run, rule_id: str) -> bool:
    return any(f.rule.partition("@")[0] == rule_id for f in run.firings)


def _unnoticed(
    book: RuleBook, tried: Sequence[Variant], firing: Sequence[Case], near: Sequence[Case]
) -> Iterator[Variant]:
    """The variants that fire in every firing case and in no near miss.

    They stand alone in their network, so the cases come with what the other rules conclude.
    """
    rules = [EngineRule(str(i), variant.when) for i, variant in enumerate(tried)]
    with Network(rules, book.single_valued) as network:
        fired = [{f.rule for f in network.run(case).firings} for case in firing]
        near_fired = [{f.rule for f in network.run(case).firings} for case in near]
    for i, variant in enumerate(tried):
        name = str(i)
        if all(name in f for f in fired) and not any(name in f for f in near_fired):
            yield variant
