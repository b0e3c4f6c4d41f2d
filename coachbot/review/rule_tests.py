"""Runs the written tests of rules: cases that fire, near misses, and what no test needs.

A rule's test is ``tests/rules/<family>/<rule id>.yaml``. Besides running its cases, every
condition of the rule is removed in turn: one of the near misses must then fire, or the
tests would not notice if the condition were lost.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from pydantic import ValidationError

from coachbot.engine import Network
from coachbot.engine.model import All, Any, Case, Condition, EngineRule, Value
from coachbot.knowledge import reading
from coachbot.knowledge.book import ReadRule, RuleBook
from coachbot.knowledge.conditions import Unreadable, sentence
from coachbot.knowledge.model import RuleCheck
from coachbot.knowledge.problems import BrokenRules, Problem

Given = Mapping[str, str | list[str]]


@dataclass(frozen=True, slots=True)
class Failure:
    """One thing that a test of a rule shows to be wrong."""

    rule: str
    message: str

    def __str__(self) -> str:
        return f"{self.rule}: {self.message}"


@dataclass(frozen=True, slots=True)
class Report:
    """The outcome for some rules: failures, and the known gaps that are still open."""

    rules: int
    cases: int
    removed: int
    failures: tuple[Failure, ...]
    someday: tuple[str, ...]


def read_tests(folder: Path) -> dict[str, RuleCheck]:
    """Every rule test below ``folder`` by rule id. Raises BrokenRules."""
    found: dict[str, RuleCheck] = {}
    problems: list[Problem] = []
    for file in sorted(folder.rglob("*.yaml")):
        doc = reading.read(file, f"{folder.name}/{file.relative_to(folder).as_posix()}", folder)
        problems += doc.problems
        if doc.tree is None:
            continue
        try:
            found[file.stem] = RuleCheck.model_validate(doc.tree)
        except ValidationError as error:
            for e in error.errors():
                loc = tuple(p for p in e["loc"] if isinstance(p, str | int))
                problems.append(doc.problem(loc, f"{e['msg']} ({'.'.join(map(str, loc))})"))
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
    """Run the tests of all rules, or of those whose id is in ``only``."""
    failures: list[Failure] = []
    someday: list[str] = []
    cases = removed = 0
    chosen = [r for r in book.rules.values() if not only or r.id in only]
    engine_rules = [e for r in book.rules.values() for e in r.for_engine()]
    for stray in sorted(set(tests) - set(book.rules)):
        if not only:
            failures.append(Failure(stray, "there is a test but no such rule"))
    with Network(engine_rules, book.single_valued) as network:
        for rule in chosen:
            test = tests.get(rule.id)
            if test is None:
                failures.append(Failure(rule.id, "has no test"))
                continue
            try:
                failures += _cases(book, network, rule, test)
                count, missing = _removed(book, network, rule, test)
            except Unreadable as error:
                failures.append(Failure(rule.id, str(error)))
                continue
            failures += missing
            removed += count
            cases += len(test.fires) + len(test.silent)
            for given in test.someday:
                if _fires(network, rule.id, case_of(book, given)):
                    failures.append(Failure(rule.id, f"now fires for {given}: move it to fires"))
                someday.append(f"{rule.id}: {given}")
    return Report(len(chosen), cases, removed, tuple(failures), tuple(someday))


def _fires(network: Network, rule_id: str, case: Case) -> bool:
    return any(f.rule.partition("@")[0] == rule_id for f in network.run(case).firings)


def _cases(book: RuleBook, network: Network, rule: ReadRule, test: RuleCheck) -> Iterator[Failure]:
    for given in test.fires:
        run = network.run(case_of(book, given))
        if not any(f.rule.partition("@")[0] == rule.id for f in run.firings):
            yield Failure(rule.id, f"should fire but does not, given {given}")
        for clash in run.conflicts:
            rules = " and ".join(clash.rules)
            yield Failure(rule.id, f"{rules} conclude different {clash.attribute}, given {given}")
    for given in test.silent:
        if _fires(network, rule.id, case_of(book, given)):
            yield Failure(rule.id, f"should be silent but fires, given {given}")


def _removed(
    book: RuleBook, network: Network, rule: ReadRule, test: RuleCheck
) -> tuple[int, list[Failure]]:
    """Remove each condition in turn; some near miss must then fire.

    The rule stands alone here, so its cases come with what the other rules conclude.
    """
    missing: list[Failure] = []
    near = [_with_conclusions(book, network, given) for given in test.silent]
    firing = [_with_conclusions(book, network, given) for given in test.fires]
    mutants = list(without_one(rule.when))
    for gone, when in mutants:
        mutant = EngineRule("mutant", when)
        with Network([mutant], book.single_valued) as network:
            noticed = any(network.run(case).firings for case in near)
            if not noticed and gone.startswith("alternative"):
                noticed = not all(network.run(case).firings for case in firing)
        if not noticed:
            missing.append(Failure(rule.id, f"no test notices when this is lost: {gone}"))
    return len(mutants), missing


def _with_conclusions(book: RuleBook, network: Network, given: Given) -> Case:
    case = case_of(book, given)
    return Case(network.run(case).facts, case.denied)


def without_one(when: Condition) -> Iterator[tuple[str, Condition]]:
    """Each way to take one condition out: what was taken, and what is left.

    A condition of an ``all`` group widens the rule, so a near miss must notice it; an
    alternative of an ``any`` group narrows it, so a firing case must.
    """
    if isinstance(when, All | Any):
        kind = type(when)
        for i, part in enumerate(when.parts):
            rest = when.parts[:i] + when.parts[i + 1 :]
            word = "" if kind is All else "alternative "
            yield f"{word}{sentence(part)}", kind(rest)
            if not isinstance(part, All | Any):
                continue
            for gone, inner in without_one(part):
                yield gone, kind((*when.parts[:i], inner, *when.parts[i + 1 :]))
