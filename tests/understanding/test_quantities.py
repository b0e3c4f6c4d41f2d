"""Numbers with units against pint, grades against the chart in rules/grades.yaml."""

from __future__ import annotations

from typing import Any

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coachbot.knowledge.book import RuleBook
from coachbot.understanding import Reader
from coachbot.understanding.quantities import grades, quantities
from coachbot.understanding.tokens import fold, tokens

UNITS: Any = pint.UnitRegistry()
WRITTEN = {
    "centimeter": ["cm", " cm", " centimetres"],
    "meter": ["m", " metres", " meters"],
    "foot": ["ft", " feet", " foot"],
    "inch": [" inches", '"', " inch"],
    "millimeter": ["mm", " millimetres"],
}


def one(text: str, unit: str) -> float | None:
    """The only quantity of a text, in a declared unit."""
    (found,) = quantities(tokens(fold(text)), set())
    return found.to(unit)


@pytest.mark.parametrize(("unit", "form"), [(u, f) for u, fs in WRITTEN.items() for f in fs])
@given(amount=st.integers(1, 400))
@settings(max_examples=20, deadline=None)
def test_lengths_agree_with_pint(unit: str, form: str, amount: int) -> None:
    wanted = UNITS.Quantity(amount, unit).to("centimeter").magnitude
    assert one(f"{amount}{form}", "cm") == pytest.approx(wanted)


@given(feet=st.integers(4, 6), inches=st.integers(0, 11))
@settings(max_examples=40, deadline=None)
def test_feet_and_inches_agree_with_pint(feet: int, inches: int) -> None:
    whole = UNITS.Quantity(feet, "foot") + UNITS.Quantity(inches, "inch")
    for text in (f"{feet}'{inches}\"", f"{feet} foot {inches}", f"{feet}ft{inches}"):
        assert one(text, "cm") == pytest.approx(whole.to("centimeter").magnitude)


@given(hours=st.integers(1, 8))
@settings(max_examples=8, deadline=None)
def test_hours_agree_with_pint(hours: int) -> None:
    wanted = UNITS.Quantity(hours, "hour").to("minute").magnitude
    assert one(f"{hours} hours", "minute") == pytest.approx(wanted)


@pytest.mark.parametrize(
    ("text", "unit", "amount"),
    [
        ("two years", "month", 24),
        ("a year and a half", "month", 18),
        ("2.5 years", "month", 30),
        ("2,5 years", "month", 30),
        ("half a year", "month", 6),
        ("six months", "month", 6),
        ("three weeks", "week", 3),
        ("2 months", "week", 8),
        ("an hour and a half", "minute", 90),
        ("forty-five minutes", "minute", 45),
        ("twenty five minutes", "minute", 25),
        ("30-35 degrees", "degree", 32.5),
        ("40°", "degree", 40),
        ("forty degrees", "degree", 40),
        ("1m70", "cm", 170),
        ("1.70", "cm", 170),
        ("1,70 m", "cm", 170),
        ("a couple of cm", "cm", 2),
        ("one metre eighty-three", "cm", 183),
        ("1 meter 91", "cm", 191),
        ("a metre thirty", "cm", 130),
        ("two metres and four centimetres", "cm", 204),
        ("one sixty-six", "cm", 166),
        ("one-forty-two tall", "cm", 142),
        ("five eleven", "cm", 180.34),
        ("a hundred and eighty-seven centimetres", "cm", 187),
        ("three quarters of an hour", "minute", 45),
        ("an hour and a quarter", "minute", 75),
        ("hour and a half", "minute", 90),
        ("1h30", "minute", 90),
        ("1 hour 15 minutes", "minute", 75),
        ("one and a half years", "month", 18),
        ("two years and three months", "month", 27),
    ],
)
def test_as_people_say_them(text: str, unit: str, amount: float) -> None:
    assert one(text, unit) == pytest.approx(amount)


def test_every_grade_of_the_chart(book: RuleBook) -> None:
    """V grades are steps of the chart; a Font grade is the step in whose range it lies."""
    for order, step in enumerate(book.ladder.steps):
        assert [g[2] for g in grades(fold(f"a {step.v} slab"), book.ladder)] == [order]
        for font in (step.font_low, step.font_high):
            if font[-1].isalpha() or (font.endswith("+") and len(font) == 3):
                for written in (font, font.lower()):
                    assert [g[2] for g in grades(fold(f"a {written},"), book.ladder)] == [
                        book.ladder.order(font)
                    ]


@pytest.mark.parametrize(
    ("text", "grade"),
    [
        ("V4-5", "V4"),
        ("v4/5", "V4"),
        ("V4+", "V4"),
        ("v 4", "V4"),
        ("vee four", "V4"),
        ("6b+", "6B+"),
        ("6B/6B+", "6B"),
        ("six b", "6B"),
        ("6a to 6b", "6A"),
        ("VB", "VB"),
        ("V0-", "V0-"),
    ],
)
def test_grades_as_people_write_them(book: RuleBook, text: str, grade: str) -> None:
    assert [g[2] for g in grades(fold(text), book.ladder)] == [book.ladder.order(grade)]


@pytest.mark.parametrize("text", ["6 a side", "on a 40", "5 cm", "3+ tries", "4 b", "8 am"])
def test_no_grades(book: RuleBook, text: str) -> None:
    assert grades(fold(text), book.ladder) == []


@pytest.mark.parametrize(
    ("text", "fact", "value"),
    [
        ("I'm 14", "age", 14),
        ("my 12 year old son", "age", 12),
        ("14yo", "age", 14),
        ("she's fourteen", "age", 14),
        ("climbing for two years", "experience", 24),
        ("I'm 5'7", "height", 170.18),
        ("i am 1m60", "height", 160),
        ("my foot slips on a 40", "wall_angle", 40),
        ("on the 40 board", "wall_angle", 40),
        ("thirty degrees overhanging", "wall_angle", 30),
        ("tried it 20 times", "tries", 20),
        ("three times a week", "sessions_a_week", 3),
        ("I have 90 minutes", "session_minutes", 90),
        ("hurt for three weeks", "pain_weeks", 3),
        ("4 out of 10", "pain_level", 4),
        ("i climb V4", "climber_grade", "V4"),
        ("a V6 slab", "problem_grade", "V6"),
        ("this 6c", "problem_grade", "6C"),
    ],
)
def test_what_a_number_is_about(
    reader: Reader, book: RuleBook, text: str, fact: str, value: float | str
) -> None:
    wanted = book.ladder.order(value) if isinstance(value, str) else value
    found = [h.value for h in reader.read(text).heard if h.fact == fact]
    assert found == [pytest.approx(wanted, abs=0.5)]


def test_a_slab_leans_the_other_way(reader: Reader) -> None:
    found = [h.value for h in reader.read("a 10 degree slab").heard if h.fact == "wall_angle"]
    assert found == [-10]


def test_out_of_range_is_not_heard(reader: Reader) -> None:
    assert not [h for h in reader.read("I'm 300 years old").heard if h.fact == "age"]


@pytest.mark.parametrize(
    ("text", "times"),
    [("twice a week", 2), ("once", 1), ("Monday, Wednesday and Saturday", 3), ("tue/thu", 2)],
)
def test_how_often(text: str, times: int) -> None:
    (found,) = quantities(tokens(fold(text)), set())
    assert (found.kind, found.amount) == ("often", times)


@pytest.mark.parametrize("text", ["three evenings a week", "twice a day", "two hours a day"])
def test_a_rate_is_no_length_of_time(text: str) -> None:
    (found,) = quantities(tokens(fold(text)), set())
    assert found.amount in {2, 3}


@pytest.mark.parametrize("text", ["six moves in", "red one thirty times", "five ten minute laps"])
def test_no_heights(text: str) -> None:
    assert all(q.kind != "length" for q in quantities(tokens(fold(text)), set()))
