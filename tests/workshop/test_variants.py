"""Conditions removed, loosened and turned round, and whether tests notice."""

from __future__ import annotations

import pytest

from coachbot.engine.model import All, Any, Condition, Op, Test
from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.model import RuleCheck
from coachbot.review.rule_tests import run
from coachbot.review.variants import Change, Variant, Variants


def variants(book: RuleBook, *parts: Condition) -> list[Variant]:
    return list(Variants(book).of(All(parts)))


@pytest.mark.parametrize(
    ("sentence", "loosened", "turned"),
    [
        ("hold is sloper", "hold is known", "hold is not sloper"),
        ("hold is not sloper", None, "hold is sloper"),
        ("hold is one of jug, edge", "hold is known", "(hold is not jug and hold is not edge)"),
        ("wall_angle is at least 20", "wall_angle is at least 19", "wall_angle is at most 19"),
        ("wall_angle is at most 69", "wall_angle is at most 70", "wall_angle is at least 70"),
        ("wall_angle is at most 95", None, "wall_angle is at least 96"),
        ("hold is known", None, "hold is unknown"),
        ("hold is unknown", None, "hold is known"),
    ],
)
def test_each_condition_is_removed_loosened_and_turned_round(
    book: RuleBook, sentence: str, loosened: str | None, turned: str
) -> None:
    found = variants(book, book.grammar.test(sentence))
    by_change = {v.change: v for v in found}
    assert by_change[Change.REMOVED].when == All(())
    assert by_change[Change.TURNED].instead == turned
    assert by_change.get(Change.LOOSENED) is None or loosened is not None
    if loosened is not None:
        assert by_change[Change.LOOSENED].instead == loosened
    assert all(v.was == sentence for v in found)


def test_a_fact_that_rules_make_with_one_value_cannot_be_loosened(book: RuleBook) -> None:
    made = {f: v for r in book.rules.values() for f, v in r.then if f == "grip_question"}
    assert set(made.values()) == {True}, "choose another fact for this test"
    found = variants(book, Test("grip_question", Op.EQUAL, True))
    assert {v.change for v in found} == {Change.REMOVED, Change.TURNED}


def test_groups_are_changed_as_a_whole_and_inside(book: RuleBook) -> None:
    slab, roof = book.grammar.test("wall is slab"), book.grammar.test("wall is roof")
    found = variants(book, Any((slab, roof)))
    assert [str(v) for v in found] == [
        '"(wall is slab or wall is roof)" removed',
        'the alternative "wall is slab" removed',
        'the alternative "wall is slab" loosened to "wall is known"',
        'the alternative "wall is slab" turned round to "wall is not slab"',
        'the alternative "wall is roof" removed',
        'the alternative "wall is roof" loosened to "wall is known"',
        'the alternative "wall is roof" turned round to "wall is not roof"',
    ]


def test_what_no_case_needs_is_told_and_what_one_needs_is_not(book: RuleBook) -> None:
    rule = next(r for r in book.rules.values() if r.id == "sloper-look-for-the-dish")
    firing = {"hold": "sloper", "trouble": "hand_slips"}
    practice = "common practice, no source: a test of the test"
    weak = RuleCheck.model_validate({"practice": practice, "fires": [firing], "silent": [{}]})
    report = run(book, {rule.id: weak}, [rule.id])
    assert not report.failures
    weakly = {str(u.variant) for u in report.unneeded}
    assert any("removed" in w for w in weakly)
    better = RuleCheck.model_validate(
        {"practice": practice, "fires": [firing], "silent": [{}, {**firing, "hold": "jug"}]}
    )
    strongly = {str(u.variant) for u in run(book, {rule.id: better}, [rule.id]).unneeded}
    assert strongly < weakly
