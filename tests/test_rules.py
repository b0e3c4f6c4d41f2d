"""Every rule's own test: it fires, it is silent at near misses, and each condition is needed."""

from __future__ import annotations

from pathlib import Path

import pytest

from coachbot.knowledge.book import RuleBook
from coachbot.review import rule_tests
from coachbot.review.variants import Change

FOLDER = Path(__file__).parent / "rules"
FAMILIES = sorted(f.name for f in FOLDER.iterdir() if f.is_dir())


@pytest.mark.parametrize("family", FAMILIES)
def test_every_rule_of_a_family_holds_and_needs_each_condition(book: RuleBook, family: str) -> None:
    tests = rule_tests.read_tests(FOLDER)
    ids = [r.id for r in book.rules.values() if r.family == family]
    assert ids, f"no rules in {family}"
    report = rule_tests.run(book, tests, only=ids)
    assert report.cases >= 2 * len(ids)
    assert not report.failures, "\n".join(map(str, report.failures))
    lost = rule_tests.tellable(book, report.unneeded)
    advice = "coachbot rules sharpen <id> --write finds and writes the cases"
    assert not lost, "\n".join([*map(str, lost), advice])


def test_each_rule_has_a_test_that_cites_its_practice_and_none_is_left_over(book: RuleBook) -> None:
    tests = rule_tests.read_tests(FOLDER)
    assert set(tests) == set(book.rules)
    for rule_id, test in tests.items():
        keys = [g.key for g in book.rules[rule_id].rule.ground if g.key in book.sources]
        names = [*keys, *(book.sources[k].cite[:20] for k in keys), "common practice"]
        cites = any(name in test.practice for name in names)
        assert cites, (
            f'{rule_id}: "practice" names neither "common practice" nor a source of the rule'
        )


def test_a_lost_condition_is_noticed(book: RuleBook) -> None:
    """The check itself can fail: without its near misses a rule's conditions are unproved."""
    tests = dict(rule_tests.read_tests(FOLDER))
    rule = next(r for r in book.rules.values() if len(r.rule.when) > 1)
    test = tests[rule.id]
    tests[rule.id] = test.model_copy(update={"silent": [{}]})
    report = rule_tests.run(book, tests, only=[rule.id])
    assert {u.variant.change for u in report.unneeded} >= {Change.REMOVED}
