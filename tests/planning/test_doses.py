"""Circuits, laps, rests, hangs and load against published numbers."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from coachbot.knowledge.book import RuleBook, load
from coachbot.knowledge.model import Doses
from coachbot.knowledge.problems import BrokenRules
from coachbot.planning.circuits import circuit, endurance, flash_grade, sets_in
from coachbot.planning.fingers import added_weight, hangs
from coachbot.planning.limits import Limits
from coachbot.planning.load import load_ratio, session_load, week_load
from coachbot.planning.model import Span
from coachbot.planning.rests import rest_for, rests

FREE = Limits({}, None, None)


def test_the_circuit_is_the_trades_own(book: RuleBook, doses: Doses) -> None:
    # Common practice, no source: moderate up, easy down, the same moderate up; 20 to 25 moves;
    # 3 to 5 sets; rest twice the climbing; up one grade under flash, down about four under.
    v5 = book.ladder.order("V5")
    made = circuit(doses.circuit, book.ladder, v5)
    assert made.legs == ("V4 (6B to 6B+)", "V1 (5)", "V4 (6B to 6B+)")
    assert (made.moves, made.sets) == (Span(low=20, high=25), Span(low=3, high=5))
    assert made.rest_seconds.low == 2 * made.work_seconds.low
    assert made.rest_seconds.high == 2 * made.work_seconds.high
    assert made.total_minutes.low == pytest.approx((3 * 120 + 2 * 240) / 60)
    assert made.total_minutes.high == pytest.approx((5 * 200 + 4 * 400) / 60)


def test_an_unknown_grade_is_said_in_words(book: RuleBook, doses: Doses) -> None:
    made = circuit(doses.circuit, book.ladder, None)
    assert "flash" in made.up
    assert made.how.count(made.up) == 2
    assert "five grades" in endurance(doses.endurance, book.ladder, None).how


def test_seconds_a_move(doses: Doses) -> None:
    # Front Sports Act Living 2022, doi 10.3389/fspor.2022.790336, women's lead: contact 6.4 s
    # and reach 1.4 s, 31.6 actions in 4:09. Thirty moves at 6 to 8 s are 180 to 240 s.
    a_move = doses.circuit.seconds_a_move
    assert a_move.low <= 6.4 + 1.4 <= a_move.high
    assert 31.6 * a_move.low <= 249 <= 31.6 * a_move.high
    assert (30 * a_move.low, 30 * a_move.high) == (180, 240)


def test_a_circuit_is_longer_than_a_contest_boulder(doses: Doses) -> None:
    # IFSC rules, 2021 event version: at most 12 handholds on one boulder.
    assert doses.circuit.moves.low > 12


def test_long_laps_rest_within_the_table(book: RuleBook, doses: Doses) -> None:
    # NSCA table: over three minutes of work, work to rest 1:1 to 1:3.
    made = endurance(doses.endurance, book.ladder, book.ladder.order("V7"))
    assert made.grade == "V2 (5+)"
    for lap, rest in ((made.lap_minutes.low, made.rest_minutes.low), (12, made.rest_minutes.high)):
        span = rest_for(doses.rests, lap * 60)
        assert span.low <= rest * 60 <= span.high
    assert made.moves == Span(low=60, high=120)
    assert made.total_minutes == Span(low=24, high=60)


def test_sets_that_fit(doses: Doses) -> None:
    # 20 moves at 7 s are 140 s of work and 280 s of rest; the last rest is not needed.
    assert [sets_in(doses.circuit, m) for m in (2, 3, 9, 10, 16, 17, 60)] == [0, 1, 1, 2, 2, 3, 5]


@pytest.mark.parametrize(
    ("seconds", "low", "high"),
    [(10, 120, 200), (30, 90, 150), (120, 360, 480), (5, 60, 100), (300, 300, 900)],
)
def test_rests_as_in_the_table(doses: Doses, seconds: float, low: float, high: float) -> None:
    # NSCA table: 5-10 s 1:12 to 1:20, 15-30 s 1:3 to 1:5, 1-3 min 1:3 to 1:4,
    # over 3 min 1:1 to 1:3.
    assert rest_for(doses.rests, seconds) == Span(low=low, high=high)


def test_between_two_bands_the_longer_rest_holds(doses: Doses) -> None:
    assert rest_for(doses.rests, 12) == Span(low=144, high=240)
    assert rest_for(doses.rests, 3) == Span(low=36, high=60)
    with pytest.raises(ValueError, match="longer than 0"):
        rest_for(doses.rests, 0)


def test_a_contest_try_rests_within_the_table(doses: Doses) -> None:
    # White and Olsen, JSCR 24(5), 2010: tries of 28.9 s, 114 s between them, about 1:4.
    span = rest_for(doses.rests, 28.9)
    assert span.low <= 114 <= span.high


def test_the_minutes_to_keep_in_mind_are_never_under_the_table(doses: Doses) -> None:
    rows = rests(doses.rests).rows
    assert len(rows) == 3
    for row in rows:
        assert row.minutes.low * 60 >= row.table_seconds.low
        assert row.minutes.high >= row.minutes.low


def test_strength_hangs_rest_two_to_five_minutes(doses: Doses) -> None:
    # NSCA table: strength 85-100 %, 2 to 6 sets, rest 2 to 5 min. Hang study, doi
    # 10.3389/fspor.2022.862782: 80 and 100 % raised strength.
    made = hangs(doses.hangs, "full", 30, "some", FREE)
    assert made.rest_seconds is not None
    assert 120 <= made.rest_seconds.low <= made.rest_seconds.high <= 300
    assert made.hangs is not None
    assert 2 <= made.hangs.low <= made.hangs.high <= 6
    assert made.percent == Span(low=80, high=100)
    # Medernach et al., JSCR 29(8), 2015: sessions at least 48 h apart, a block of 4 weeks.
    assert (made.apart_hours, made.weeks) == (48, 4)
    assert made.kg_by_week == ()
    assert made.total_minutes == Span(low=(50 + 4 * 180) / 60, high=(60 + 5 * 300) / 60)


def test_a_light_dose_is_lighter_in_every_way(doses: Doses) -> None:
    light = hangs(doses.hangs, "light", 30, "regular", FREE)
    full = hangs(doses.hangs, "full", 30, "regular", FREE)
    assert light.percent is not None
    assert full.percent is not None
    assert light.percent.high < full.percent.low
    assert light.hangs is not None
    assert full.hangs is not None
    assert light.hangs.high <= full.hangs.low
    assert not light.kg_by_week
    assert full.kg_by_week == (0, 1.25, 2.5, 3.75)


def test_weight_grows_as_in_the_study() -> None:
    # doi 10.1038/s41598-021-92898-2: 1.25 kg more a week for eight weeks, 8.75 to 10 kg.
    assert added_weight(1.25, 8)[-1] == 8.75


@pytest.mark.parametrize("age", [6, 12, 15])
@pytest.mark.parametrize("dose", ["none", "light", "full"])
def test_no_hangs_under_sixteen_whatever_was_said(doses: Doses, age: float, dose: str) -> None:
    # Morrison and Schöffl, Br J Sports Med 41, 852, 2007: 15 is blocked, 16 is not.
    assert hangs(doses.hangs, dose, age, "regular", FREE).hangs is None
    assert hangs(doses.hangs, "light", 16, None, FREE).hangs is not None


@pytest.mark.parametrize("load_held", ["hang_training", "finger_load"])
def test_held_back_hangs_are_none(doses: Doses, load_held: str) -> None:
    made = hangs(doses.hangs, "full", 30, "regular", Limits({load_held: "x"}, None, None))
    assert made.dose == "none"
    assert made.hangs is None
    made = hangs(doses.hangs, "full", 30, "regular", Limits({"added_weight": "x"}, None, None))
    assert made.hangs is not None
    assert made.kg_by_week == ()


@pytest.mark.parametrize(
    ("given", "dose"),
    [
        ({"age": "15", "experience": "100", "hang_history": "regular"}, "none"),
        ({"age": "16", "experience": "100"}, "light"),
        ({"age": "17", "experience": "100", "hang_history": "regular"}, "light"),
        ({"age": "18", "experience": "100"}, "full"),
        ({"age": "30", "experience": "24"}, "light"),
        ({"age": "30", "experience": "25"}, "full"),
        ({"age": "30", "experience": "25", "hang_history": "none"}, "light"),
    ],
)
def test_the_dose_follows_age_and_history(
    facts: Callable[..., dict[str, tuple[object, ...]]], given: dict[str, str], dose: str
) -> None:
    # Common practice, no source, but for the age of 16 (Morrison and Schöffl 2007).
    assert facts(**given)["hang_dose"] == (dose,)


def test_every_age_and_history_gives_one_dose(
    facts: Callable[..., dict[str, tuple[object, ...]]],
) -> None:
    for age in ("8", "15", "16", "17", "18", "40"):
        for months in ("1", "24", "25", "300"):
            for history in ("none", "some", "regular"):
                known = facts(age=age, experience=months, hang_history=history)
                assert len(known["hang_dose"]) == 1


def test_session_load() -> None:
    # Foster et al., JSCR 15(1), 109-115, 2001: effort times minutes.
    assert session_load(7, 60) == 420
    with pytest.raises(ValueError, match="from 0 to 10"):
        session_load(11, 60)
    with pytest.raises(ValueError, match="cannot be -1"):
        session_load(5, -1)


def test_week_load_with_the_sample_deviation() -> None:
    # Foster's formulas, recomputed: monotony 1.034, strain 1613.0 with the sample SD.
    week = week_load([420, 0, 360, 0, 480, 300, 0])
    assert week.total == 1560
    assert week.monotony == pytest.approx(1.034, rel=0.001)
    assert week.strain == pytest.approx(1613.0, rel=0.001)


def test_a_week_of_equal_days_has_no_monotony() -> None:
    assert week_load([0] * 7).monotony is None
    with pytest.raises(ValueError, match="seven days"):
        week_load([1, 2])


def test_load_ratio_by_definition() -> None:
    # Definition of the coupled and the uncoupled ratio; coupled over four weeks it cannot pass 4.
    assert load_ratio([400, 400, 400, 800], coupled=True) == pytest.approx(1.60)
    assert load_ratio([400, 400, 400, 800], coupled=False) == pytest.approx(2.00)
    assert load_ratio([0, 0, 0, 500], coupled=True) == pytest.approx(4.0)
    assert load_ratio([0, 0, 0, 500], coupled=False) is None
    with pytest.raises(ValueError, match="two weeks"):
        load_ratio([1], coupled=True)


def test_flash_is_supposed_under_the_usual_grade(book: RuleBook, doses: Doses) -> None:
    v5 = book.ladder.order("V5")
    assert v5 is not None
    assert book.ladder.steps[flash_grade(doses.circuit, book.ladder, v5)].v == "V4"


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("key: winkler-2022", "key: winkler-2023", "unknown source"),
        ("  moves: {low: 20, high: 25}", "  moves: {low: 25, high: 20}", '"high" is below "low"'),
        ("hard_days: {1: 0, 2: 1", "hard_days: {1: 1, 2: 1", "do not make 1"),
        ("others: {1: [mixed]", "others: {1: [mixd]", "not described"),
        ("loads: [hard_climbing]", "loads: [hard_climbin]", "unknown load"),
        ("instead: volume", "instead: volum", "unknown block"),
    ],
)
def test_a_mistake_in_the_doses_is_told(
    tmp_path: Path, book: RuleBook, old: str, new: str, told: str
) -> None:
    text = (book.folders[0] / "doses.yaml").read_text()
    assert old in text
    (tmp_path / "doses.yaml").write_text(text.replace(old, new, 1))
    with pytest.raises(BrokenRules, match=told) as caught:
        load(book.folders[0], tmp_path)
    assert "doses.yaml" in str(caught.value)
