"""Grades against a published club table (2009) and the ladder counts.

Source: comparison of the two scales on a club page, cuneoclimbing.it, 2009-09-15, which
gives V0 to V14; V15 = 8C from an encyclopedia mirror. V16, V17 and VB are from memory and
not checked here.
"""

from __future__ import annotations

import itertools

import pytest

from coachbot.knowledge.book import RuleBook

CLUB_TABLE = {
    "V0": "4", "V1": "5", "V2": "5+", "V3": "6A to 6A+", "V4": "6B to 6B+", "V5": "6C to 6C+",
    "V6": "7A", "V7": "7A+", "V9": "7C", "V10": "7C+", "V11": "8A", "V12": "8A+", "V13": "8B",
    "V14": "8B+", "V15": "8C",
}  # fmt: skip


@pytest.mark.parametrize(("v", "font"), CLUB_TABLE.items())
def test_v_to_font_as_the_club_table_has_it(book: RuleBook, v: str, font: str) -> None:
    order = book.ladder.order(v)
    assert order is not None
    assert book.ladder.font_range(order) == font


def test_v8_takes_in_both_published_readings(book: RuleBook) -> None:
    """The table puts 7B at V8 and 7B+ at "V8+": a range says both."""
    order = book.ladder.order("V8")
    assert order is not None
    assert book.ladder.font_range(order) == "7B to 7B+"


def test_the_font_ladder_has_26_steps_and_twelve_from_6a_to_8a(book: RuleBook) -> None:
    assert len(book.ladder.font) == 26
    low, high = book.ladder.font_index("6A"), book.ladder.font_index("8A")
    assert low is not None
    assert high is not None
    assert high - low == 12


def test_font_never_falls_as_v_rises(book: RuleBook) -> None:
    index = book.ladder.font.index
    pairs = [(index(s.font_low), index(s.font_high)) for s in book.ladder.steps]
    assert all(low <= high for low, high in pairs)
    assert all(a[0] <= b[0] and a[1] <= b[1] for a, b in itertools.pairwise(pairs))


@pytest.mark.parametrize(("font", "v"), [("6a", "V3"), ("6A+", "V3"), ("7b+", "V8"), ("8a", "V11")])
def test_font_finds_its_v_step(book: RuleBook, font: str, v: str) -> None:
    assert book.ladder.order(font) == book.ladder.order(v)


@pytest.mark.parametrize("text", ["V99", "9Z", "", "6D", "v"])
def test_what_is_no_grade_is_none(book: RuleBook, text: str) -> None:
    assert book.ladder.order(text) is None
