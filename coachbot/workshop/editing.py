"""Single fields of a rule changed in the own folder; shipped files are copied, never touched."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from ruamel.yaml.comments import CommentedMap, CommentedSeq

from coachbot.engine.logic import tests_of
from coachbot.engine.model import Op, Test
from coachbot.knowledge.book import COMMON_PRACTICE, TESTS, ReadRule, RuleBook
from coachbot.knowledge.model import RuleCheck
from coachbot.knowledge.places import shipped_rules
from coachbot.knowledge.problems import Refused
from coachbot.review.rule_tests import Report, case_of, network_of, run

from . import roundtrip
from .drafting import Given, test_text, value_text
from .folder import OwnFolder
from .layers import noting, rule_files
from .near_misses import propose
from .trying import as_if


@dataclass(frozen=True, slots=True)
class Edited:
    """A changed rule ready to save: its files, the book with it in, its test's outcome."""

    rule_id: str
    files: dict[str, str | None]
    before_text: str
    after: RuleBook
    tests: dict[str, RuleCheck]
    report: Report


def fields(text: str) -> Iterator[tuple[str, str]]:
    """The fields of a rule's file that can be set, with what stands there, lists one by one."""
    yield from _fields(roundtrip.read(text), "")


def _fields(tree: object, path: str) -> Iterator[tuple[str, str]]:
    if isinstance(tree, CommentedMap):
        for key, part in tree.items():
            yield from _fields(part, f"{path}.{key}" if path else str(key))
    elif isinstance(tree, CommentedSeq):
        if path.rpartition(".")[2] in roundtrip.WORD_LISTS:
            yield path, ", ".join(map(str, tree))
            return
        for i, part in enumerate(tree, 1):
            yield from _fields(part, f"{path}[{i}]")
    else:
        yield path, str(tree)


def standing_text(below: Sequence[Path], own: OwnFolder, rule_id: str) -> tuple[str, str, bool]:
    """A rule's file name, its text, and whether it is the shipped one. Raises Refused."""
    mine = rule_files(own.path)
    if rule_id in mine:
        return mine[rule_id], own.text(mine[rule_id]) or "", False
    for folder in reversed(below):
        files = rule_files(folder)
        if rule_id in files:
            text = (folder / files[rule_id]).read_text("utf-8")
            return files[rule_id], text, folder.resolve() == shipped_rules().resolve()
    raise Refused(f'there is no rule "{rule_id}"')


def edit(
    below: Sequence[Path],
    own: OwnFolder,
    book: RuleBook,
    tests: Mapping[str, RuleCheck],
    rule_id: str,
    changes: Sequence[tuple[str, str]],
    on: date,
) -> Edited:
    """Change fields of a rule on a copy of the own folder.

    ``changes`` are (field, text). Where the conditions change, the rule's test is brought
    along: a case that comes out otherwise changes sides, and near misses are found for
    what is new. Raises Refused, and BrokenRules when the book would not be sound.
    """
    name, text, from_shipped = standing_text(below, own, rule_id)
    tree = roundtrip.read(text)
    for path, value in changes:
        roundtrip.put(tree, path, value)
    if not any(roundtrip.whole_path(p) == "reviewed" for p, _ in changes):
        roundtrip.put(tree, "reviewed", on.isoformat())
    files: dict[str, str | None] = {name: roundtrip.write(tree)}
    if from_shipped:
        files |= noting(own, rule_id, text, on)
    with as_if(below, own, files) as (after, _):
        rule = after.rules[rule_id]
        if rule.when != book.rules[rule_id].when or rule_id not in tests:
            test = tests.get(rule_id)
            files[f"{TESTS}/{rule.family}/{rule_id}.yaml"] = _test_for(
                after, rule, book.rules[rule_id], test
            )
    with as_if(below, own, files) as (after, after_tests):
        report = run(after, after_tests, [rule_id])
        return Edited(rule_id, files, text, after, after_tests, report)


def _test_for(book: RuleBook, rule: ReadRule, old: ReadRule, test: RuleCheck | None) -> str:
    """The test of a rule whose conditions have changed."""
    before: list[Given] = [dict(g) for g in (*test.fires, *test.silent)] if test else [{}]
    with network_of(book) as network:

        def fire(given: Given) -> bool:
            run_ = network.run(case_of(book, given))
            return any(f.rule.partition("@")[0] == rule.id for f in run_.firings)

        fires = [g for g in before if fire(g)]
        silent = [g for g in before if g not in fires]
        if not fires:
            fires = [g for g in _helped(book, rule, old, before) if fire(g)][:1]
    if not fires:
        raise Refused(
            "no case is left in which the rule fires. Change its conditions one at a time, or"
            " write its test by hand"
        )
    proposal = propose(book, rule, fires, silent)
    fires += [c.given for c in proposal.cases if c.fires]
    silent += [c.given for c in proposal.cases if not c.fires]
    ground = rule.rule.ground[0]
    common = ground.key == COMMON_PRACTICE
    source = "common practice, no source" if common else book.sources[ground.key].cite
    practice = test.practice if test else f"{source}: {ground.says}"
    return test_text(practice, fires, silent or [{}])


def _helped(
    book: RuleBook, rule: ReadRule, old: ReadRule, before: Sequence[Given]
) -> Iterator[Given]:
    """Cases with values for what the rule asks newly, for all that can be said, for all."""
    was = set(tests_of(old.when))
    new = [t for t in tests_of(rule.when) if t not in was]
    sayable = [t for t in tests_of(rule.when) if not book.facts[t.attribute].concluded]
    for tests in (new, sayable, list(tests_of(rule.when))):
        for given in before:
            yield {**given, **_values(book, tests)}


def _values(book: RuleBook, tests: Sequence[Test]) -> Given:
    """A value for every condition that names one."""
    given: Given = {}
    for test in tests:
        if test.value is None or test.op is Op.NOT_EQUAL or test.attribute in given:
            continue
        value = test.value[0] if isinstance(test.value, tuple) else test.value
        given[test.attribute] = value_text(book, test.attribute, value)
    return given
