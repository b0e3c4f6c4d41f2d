"""Safety and consistency of the shipped rules, proved over every case that can be said.

What is claimed stands in ``rules/safety.yaml`` and ``rules/contradictions.yaml``. Growing
climbers: Morrison and Schoeffl 2007 (no intensive finger-strength training under 16) and the
guidance of the mountaineering council (no campus board under 18). Rules that conclude different
values in one case: "conflicting rules" of Nguyen, Perkins, Laffey and Pecora, AI Magazine 8(2),
1987, after Suwa, Scott and Shortliffe, AI Magazine 3(4), 1982.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest

from coachbot.engine.model import Op, Test
from coachbot.knowledge.book import ANY_LOAD, NOT_ALLOWED, ReadRule, RuleBook
from coachbot.knowledge.model import Contradiction, Suggestion
from coachbot.review import proofs
from coachbot.review.cases import Cases


def proved(book: RuleBook) -> Mapping[str, proofs.Proof]:
    found = proofs.prove(Cases(book, proofs.conditions(book)))
    return {f"{p.kind} {p.name}": p for p in found}


@pytest.fixture(scope="module")
def cases(book: RuleBook) -> Cases:
    return Cases(book, proofs.conditions(book))


def test_every_claim_about_the_shipped_rules_is_proved(book: RuleBook) -> None:
    found = proved(book)
    wrong = [f"{k}: {p.wrong} when {p.case}" for k, p in found.items() if not p.proved]
    assert not wrong, "\n".join(wrong)
    assert len(found) > len(book.properties) + len(book.contradictions)


def test_each_sign_that_always_stops_stands_in_the_safety_properties(
    book: RuleBook, cases: Cases
) -> None:
    told = " ".join(
        str(part) for p in book.properties.values() if p.property.stop for part in p.property.when
    )
    for fact in ("pain_sign", "alarm"):
        for value in book.facts[fact].values:
            if not cases.solver.possible(cases.solver.has(fact, value), -cases.stops()):
                assert value in told, f"{fact} is {value} stops, but no property says so"


@pytest.mark.parametrize(
    ("name", "when", "never"),
    [
        ("under 16", "age is at most 15", {"hang_training", "added_weight", "campus"}),
        ("under 16", "age is at most 17", {"campus", "added_weight", "one_finger_pocket"}),
        ("alarm", "alarm is one of", {ANY_LOAD}),
        ("sign", "pain_sign is one of", {ANY_LOAD}),
    ],
)
def test_the_properties_claim_what_matters_most(
    book: RuleBook, name: str, when: str, never: set[str]
) -> None:
    assert any(
        any(str(part).startswith(when) for part in p.property.when)
        and never <= set(p.property.never)
        for p in book.properties.values()
    ), name


def test_a_lost_safety_rule_is_found_with_the_smallest_case(book: RuleBook) -> None:
    found = proved(_without(book, "chest-pain"))
    broken = found["safety alarm-is-an-emergency/stop"]
    assert not broken.proved
    assert broken.case is not None
    assert broken.case.written == ("alarm is chest_pain",)


def test_campus_moves_come_back_when_their_limit_is_lost(book: RuleBook) -> None:
    broken = proved(_without(book, "growing-limits"))["safety no-campus-under-eighteen"]
    assert broken.case is not None
    assert broken.rules
    ages = [v for v in broken.case.case.said["age"] if isinstance(v, int)]
    assert ages[0] <= 17


def test_a_suggestion_that_does_not_tell_its_load_is_outside_of_the_proof(book: RuleBook) -> None:
    """Loads are honest or the proof is not: the same rule is found once it names its load."""
    rule = book.rules["lightest-grip-laps"]
    assert rule.rule.suggest is not None
    heavier = rule.rule.suggest.model_copy(update={"loads": ["back_load"]})
    assert proved(book)["safety sore-back-is-not-loaded"].proved
    book = _with(book, _suggesting(rule, heavier))
    assert proved(book)["safety sore-back-is-not-loaded"].proved  # held back by a safety rule
    broken = proved(_without(book, "back-pain-no-swings"))["safety sore-back-is-not-loaded"]
    assert broken.case is not None
    assert "pain_place is back" in broken.case.written


def test_two_rules_that_conclude_different_values_are_found(book: RuleBook) -> None:
    rule = book.rules["adult-by-age"]
    planted = replace(
        rule, id="planted", when=Test("height", Op.AT_LEAST, 200), then=(("stage", "child"),)
    )
    broken = proved(_with(book, planted))["conflict stage"]
    assert broken.case is not None
    assert "planted" in broken.rules
    assert len(broken.rules) == 2
    assert [text.split()[0] for text in broken.case.written] == ["age", "height"]


def test_advice_that_contradicts_is_found_unless_a_fact_decides(book: RuleBook) -> None:
    one, other = "barn-door-flag", "arete-squeeze-both-sides"
    read = next(iter(book.contradictions.values()))

    def claim(*decided_by: str) -> RuleBook:
        sides = Contradiction(sides=[[one], [other]], decided_by=list(decided_by), because="a test")
        return replace(book, contradictions={"c": replace(read, name="c", contradiction=sides)})

    broken = proved(claim())["contradiction c"]
    assert broken.case is not None
    assert broken.rules == (one, other)


def test_a_claim_about_no_case_is_no_proof(book: RuleBook) -> None:
    name, read = next(iter(book.properties.items()))
    never = Test(NOT_ALLOWED, Op.EQUAL, "no such load")
    book = replace(book, properties={name: replace(read, when=never)})
    found = [p for p in proved(book).values() if p.kind == proofs.SAFETY]
    assert found
    assert all(p.vacuous and not p.proved for p in found)


def _without(book: RuleBook, rule: str) -> RuleBook:
    return replace(book, rules={k: v for k, v in book.rules.items() if k != rule})


def _with(book: RuleBook, rule: ReadRule) -> RuleBook:
    return replace(book, rules={**book.rules, rule.id: rule})


def _suggesting(rule: ReadRule, suggestion: Suggestion) -> ReadRule:
    return replace(rule, rule=rule.rule.model_copy(update={"suggest": suggestion}))
