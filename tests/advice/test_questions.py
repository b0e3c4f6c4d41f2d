"""The worth of a question against a statistics library and worked examples."""

from __future__ import annotations

import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import entropy as scipy_entropy

from coachbot.advice import Coach
from coachbot.advice.questions import entropy
from coachbot.case import Case, Known
from coachbot.knowledge.book import RuleBook
from tests.advice import steady


@given(st.lists(st.floats(0.001, 1000), min_size=1, max_size=30))
def test_entropy_is_scipys(weights: list[float]) -> None:
    assert entropy(weights) == pytest.approx(scipy_entropy(weights, base=2), abs=1e-9)


def test_entropy_of_quinlans_weather_data() -> None:
    """9 yes and 5 no are 0.940 bits (Quinlan's weather data, as printed in textbooks)."""
    assert entropy([9, 5]) == pytest.approx(0.940, abs=0.001)


def test_gain_of_outlook_in_quinlans_weather_data() -> None:
    """Outlook tells 0.2467 bits: sunny 2/3, overcast 4/0, rain 3/2 (same source)."""
    parts = [(2, 3), (4, 0), (3, 2)]
    after = sum(sum(p) / 14 * entropy(p) for p in parts)
    assert entropy([9, 5]) - after == pytest.approx(0.2467, abs=0.0001)


@pytest.mark.parametrize(("k", "bits"), [(1, 0.544), (2, 0.811), (3, 0.954), (4, 1.0)])
def test_a_yes_no_question_over_eight_equal_causes(k: int, bits: float) -> None:
    """By the definition of entropy."""
    assert entropy([k, 8 - k]) == pytest.approx(bits, abs=0.001)


def test_nothing_known_weighs_nothing() -> None:
    assert entropy([]) == 0
    assert entropy([0, 0]) == 0


CASES = [
    {"trouble": "foot_slips"},
    {"trouble": "cannot_reach"},
    {"trouble": "feet_cut", "wall": "steep"},
    {"hold": "pocket"},
    {"trouble": "cannot_leave_ground"},
]


@pytest.mark.parametrize("said", CASES)
def test_a_question_is_asked_only_when_an_answer_changes_the_first_three(
    coach: Coach, book: RuleBook, said: dict[str, str]
) -> None:
    case = Case().with_known([Known(f, v) for f, v in said.items()], book.single_valued)
    advice, outcome = coach.advise(case)
    if advice.ask is None:
        pytest.skip("no question is worth asking here")  # the property speaks of asked ones
    now = coach.rank(outcome).first_three
    fact = book.facts[advice.ask.fact]
    answers: list[object] = list(fact.values) or [True, False]
    if fact.kind in {"number", "grade"}:
        answers = [fact.low or 0, fact.high or 10]
    changed = [
        coach.rank(coach.infer(case.with_known([Known(advice.ask.fact, v)], book.single_valued)))  # type: ignore[arg-type]
        for v in answers
    ]
    assert any(r.first_three != now for r in changed)
    assert not case.settled(advice.ask.fact)


def test_a_declined_fact_is_not_asked_again(coach: Coach, book: RuleBook) -> None:
    case = Case().with_known([Known("trouble", "foot_slips")], book.single_valued)
    asked: list[str] = []
    for _ in range(12):
        ask = coach.advise(case)[0].ask
        if ask is None:
            break
        assert ask.fact not in asked
        asked.append(ask.fact)
        case = case.declining(ask.fact)
    else:
        pytest.fail("it never stops asking")


def test_it_takes_at_most_three_questions_at_the_median(coach: Coach, book: RuleBook) -> None:
    """How the number is got stands in ``steady.py``."""
    assert statistics.median(steady.measure(book, coach)) <= 3
