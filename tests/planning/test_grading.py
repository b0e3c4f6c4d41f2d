"""Grades against published tables."""

from __future__ import annotations

import pytest

from coachbot.knowledge.book import RuleBook
from coachbot.planning.grading import shifted, table, to_font, to_v, whole_grades

# Club table, cuneoclimbing.it, 2009: V grade and its Font grades.
CLUB = {
    "V0": ("4", "4"), "V1": ("5", "5"), "V2": ("5+", "5+"), "V3": ("6A", "6A+"),
    "V4": ("6B", "6B+"), "V5": ("6C", "6C+"), "V6": ("7A", "7A"), "V7": ("7A+", "7A+"),
    "V9": ("7C", "7C"), "V10": ("7C+", "7C+"), "V11": ("8A", "8A"), "V12": ("8A+", "8A+"),
    "V13": ("8B", "8B"), "V14": ("8B+", "8B+"),
}  # fmt: skip


@pytest.mark.parametrize(("v", "font"), CLUB.items())
def test_v_to_font_as_in_the_club_table(book: RuleBook, v: str, font: tuple[str, str]) -> None:
    assert to_font(book.ladder, v) == font


@pytest.mark.parametrize(("v", "font"), CLUB.items())
def test_font_to_v_is_the_way_back(book: RuleBook, v: str, font: tuple[str, str]) -> None:
    assert {to_v(book.ladder, font[0]), to_v(book.ladder, font[1])} == {(v, v)}


def test_v8_is_7b_and_may_reach_7b_plus(book: RuleBook) -> None:
    # The same table: V8 is 7B, and V8+ is 7B+.
    assert to_font(book.ladder, "V8") in {("7B", "7B"), ("7B", "7B+")}


def test_v15_is_8c(book: RuleBook) -> None:
    # An encyclopedia's table of bouldering grades.
    assert to_font(book.ladder, "v15") == ("8C", "8C")


def test_a_font_grade_that_two_v_grades_share_is_a_range(book: RuleBook) -> None:
    # Charts put Font 3 at VB or at V0-.
    assert to_v(book.ladder, "3") == ("VB", "V0-")


def test_the_font_ladder_has_26_steps_and_12_from_6a_to_8a(book: RuleBook) -> None:
    # Counted: 1 2 3 4 4+ 5 5+, then A A+ B B+ C C+ for 6, 7 and 8, then 9A.
    at = book.ladder.font_index
    assert len(book.ladder.font) == 26
    assert (at("8A") or 0) - (at("6A") or 0) == 12


@pytest.mark.parametrize(
    ("first", "last", "steps"), [("6A", "6C+", 3.5), ("7A", "7C+", 5), ("8A", "8C+", 6)]
)
def test_v_steps_are_coarser_low_down(book: RuleBook, first: str, last: str, steps: float) -> None:
    # A comparison page (mundovertical.com): V steps inside six Font steps, give or take a half.
    inside = {
        to_v(book.ladder, f) for f in book.ladder.font[_at(book, first) : _at(book, last) + 1]
    }
    assert abs(len(inside) - steps) <= 0.5


def _at(book: RuleBook, font: str) -> int:
    at = book.ladder.font_index(font)
    assert at is not None
    return at


def test_both_ends_of_the_font_range_never_fall(book: RuleBook) -> None:
    lows = [_at(book, s.font_low) for s in book.ladder.steps]
    highs = [_at(book, s.font_high) for s in book.ladder.steps]
    assert lows == sorted(lows)
    assert highs == sorted(highs)


@pytest.mark.parametrize(
    ("start", "by", "end"),
    [("V5", -1, "V4"), ("V5", -4, "V1"), ("V1", -1, "V0"), ("V1", -2, "VB"), ("V0", -4, "VB"),
     ("V0+", -1, "VB"), ("V17", 3, "V17"), ("V3", 2, "V5")],
)  # fmt: skip
def test_whole_grades_up_and_down(book: RuleBook, start: str, by: int, end: str) -> None:
    order = book.ladder.order(start)
    assert order is not None
    assert book.ladder.steps[shifted(book.ladder, order, by)].v == end


def test_no_grade_is_told(book: RuleBook) -> None:
    with pytest.raises(ValueError, match="no V grade"):
        to_font(book.ladder, "V99")
    with pytest.raises(ValueError, match="no Font grade"):
        to_v(book.ladder, "11d")


def test_the_table_marks_the_row_in_question(book: RuleBook) -> None:
    order = book.ladder.order("6B")
    rows = table(book.ladder, order).rows
    assert [(r.v, r.font) for r in rows if r.asked] == [("V4", "6B to 6B+")]
    assert len(rows) == 5
    whole = table(book.ladder, None).rows
    assert len(whole) == len(whole_grades(book.ladder)) == 19
    assert table(book.ladder, 0).rows[0].asked
