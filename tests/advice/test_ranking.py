"""The ranking formula, what safety holds back, and what the talk puts aside."""

from __future__ import annotations

import pytest

from coachbot.advice import Coach
from coachbot.advice.ranking import FAINT, SAME_SKILL, UNSAID
from coachbot.case import Case, Known
from coachbot.engine.model import Value
from coachbot.knowledge.book import RuleBook


def case_of(book: RuleBook, **said: Value | list[Value]) -> Case:
    known = [
        Known(fact, value)
        for fact, values in said.items()
        for value in (values if isinstance(values, list) else [values])
    ]
    return Case().with_known(known, book.single_valued)


def test_scores_follow_the_written_formula(coach: Coach, book: RuleBook) -> None:
    case = case_of(book, trouble="hand_slips", hold="sloper", wall="steep")
    ranking = coach.rank(coach.infer(case))
    assert len(ranking.suggestions) >= 2
    skills: set[str] = set()
    for r in ranking.suggestions:
        suggestion = book.rules[r.rule].rule.suggest
        assert suggestion is not None
        score = suggestion.strength * suggestion.sure * (1 - UNSAID ** len(r.facts))
        if suggestion.skills[0] in skills:
            score *= SAME_SKILL
        skills.add(suggestion.skills[0])
        assert r.score == pytest.approx(score)


def test_order_is_by_tier_then_score_and_faint_ones_are_left_out(
    coach: Coach, book: RuleBook
) -> None:
    case = case_of(book, trouble=["hand_slips", "foot_slips"], hold="sloper")
    ranked = coach.rank(coach.infer(case)).suggestions
    keys = [(r.tier, -r.score) for r in ranked]
    assert keys == sorted(keys)
    best = max(r.score for r in ranked)
    assert all(r.score >= FAINT * best * SAME_SKILL for r in ranked)


def test_what_was_put_aside_does_not_come_back(coach: Coach, book: RuleBook) -> None:
    case = case_of(book, trouble="hand_slips", hold="sloper")
    first = coach.rank(coach.infer(case)).first_three[0]
    again = coach.rank(coach.infer(case), put_aside=[first])
    assert first not in [r.rule for r in again.suggestions]
    assert again.suggestions


@pytest.mark.parametrize("sign", ["pop", "swelling", "numb", "cannot_bend", "deformity"])
def test_after_a_red_flag_nothing_loads_the_body(coach: Coach, book: RuleBook, sign: str) -> None:
    case = case_of(book, trouble="hand_slips", hold="pocket", pain_place="finger", pain_sign=sign)
    advice, _ = coach.advise(case)
    assert advice.stop
    assert advice.ask is None
    assert advice.suggestions
    for s in advice.suggestions:
        suggestion = book.rules[s.rule].rule.suggest
        assert suggestion is not None
        assert suggestion.loads == []
        assert s.skills[0] == "stop-and-refer"


def test_a_load_that_is_not_allowed_is_held_back_and_said_so(coach: Coach, book: RuleBook) -> None:
    """Common practice, no source: a sore shoulder rules out advice that loads it."""
    before, _ = coach.advise(case_of(book, hold="sloper", trouble="hand_slips"))
    after, _ = coach.advise(case_of(book, hold="sloper", trouble="hand_slips", pain_place="finger"))
    held = {h.rule for h in after.held_back}
    assert held & {s.rule for s in before.suggestions}
    for h in after.held_back:
        assert h.because
        assert h.rule not in {s.rule for s in after.suggestions}


def test_every_suggestion_rests_on_what_was_said(coach: Coach, book: RuleBook) -> None:
    case = case_of(book, hold="sloper", trouble="hand_slips", wall="steep")
    advice, outcome = coach.advise(case)
    said = {(k.fact, k.value, k.denied) for k in case.known}
    for s in advice.suggestions:
        facts, chain = outcome.rests_on(s.rule)
        assert facts
        assert facts <= said
        assert chain[-1] == s.rule
        assert set(chain) <= set(outcome.firings)
