"""Sessions on the clock and weeks with gaps."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.model import Doses
from coachbot.planning.limits import Limits
from coachbot.planning.session import session, share_out, warm_up
from coachbot.planning.week import apart, hard_days, too_close, week

FREE = Limits({}, None, None)
NO_HARD = Limits({"hard_climbing": "x"}, None, None)


@pytest.mark.parametrize("limits", [FREE, NO_HARD], ids=["free", "no hard climbing"])
def test_every_session_fills_its_time_in_order(
    book: RuleBook, doses: Doses, limits: Limits
) -> None:
    order = [b.title for b in doses.session.blocks]
    for minutes in range(30, 241):
        made = session(doses, book.ladder, minutes, None, limits)
        assert made.blocks[0].start == 0
        assert made.blocks[-1].end == minutes
        assert all(a.end == b.start for a, b in pairwise(made.blocks))
        assert all(b.minutes > 0 for b in made.blocks)
        titles = [b.title for b in made.blocks]
        assert titles == [t for t in order if t in titles]
        assert titles[0] == "Warm-up"
        assert made.blocks[0].minutes >= 15
        assert titles[-1] == "Cool-down"
        hard = {"Hard tries", "Circuits"} & set(titles)
        assert bool(hard) == (limits is FREE)


def test_held_parts_are_named(book: RuleBook, doses: Doses) -> None:
    long = session(doses, book.ladder, 120, None, NO_HARD)
    assert [p.title for p in long.left_out] == ["Hard tries", "Circuits"]
    short = session(doses, book.ladder, 45, None, NO_HARD)
    assert [p.title for p in short.left_out] == ["Hard tries"]
    assert [b.title for b in short.blocks] == ["Warm-up", "Volume", "Cool-down"]


@pytest.mark.parametrize("minutes", [60, 90])
def test_the_rules_say_the_same_minutes(book: RuleBook, doses: Doses, minutes: int) -> None:
    rule = {60: "short-session-one-aim", 90: "session-in-five-blocks"}[minutes]
    suggestion = book.rules[rule].rule.suggest
    assert suggestion is not None
    assert suggestion.dose is not None
    said = [int(n) for n in re.findall(r"\d+", suggestion.dose)]
    made = session(doses, book.ladder, minutes, None, FREE)
    assert said == [minutes, *[b.minutes for b in made.blocks]]


def test_a_hard_try_has_time_for_its_rest(book: RuleBook, doses: Doses) -> None:
    # White and Olsen, JSCR 24(5), 2010: a try of 28.9 s and 114 s of rest.
    for minutes in range(30, 241, 10):
        made = session(doses, book.ladder, minutes, None, FREE)
        for block in made.blocks:
            if block.title == "Hard tries":
                assert block.pieces is not None
                tries = int(block.pieces.split()[0])
                assert 1 <= tries <= 12
                assert block.minutes * 60 / tries >= 28.9 + 114


def test_circuits_in_a_session_are_three_to_five_sets(book: RuleBook, doses: Doses) -> None:
    # Common practice, no source: 3 to 5 sets.
    for minutes in range(86, 241):
        made = session(doses, book.ladder, minutes, None, FREE)
        (block,) = [b for b in made.blocks if b.title == "Circuits"]
        assert block.pieces is not None
        assert 3 <= int(block.pieces.split()[0]) <= 5


def test_grades_in_a_session(book: RuleBook, doses: Doses) -> None:
    made = session(doses, book.ladder, 90, book.ladder.order("V5"), FREE)
    text = {b.title: b.how for b in made.blocks}
    assert "V5 (6C to 6C+)" in text["Hard tries"]
    assert "V3 (6A to 6A+)" in text["Volume"]
    assert "V3 (6A to 6A+)" in text["Circuits"]
    assert "V0 (4)" in text["Circuits"]


@pytest.mark.parametrize("minutes", [0, 29, 241])
def test_no_session_outside_its_limits(book: RuleBook, doses: Doses, minutes: int) -> None:
    with pytest.raises(ValueError, match="30 to 240"):
        session(doses, book.ladder, minutes, None, FREE)


@given(
    st.integers(20, 300),
    st.lists(
        st.tuples(st.floats(0.01, 1), st.integers(0, 10), st.integers(10, 90)),
        min_size=1,
        max_size=6,
    ),
)
def test_shares_add_up_and_keep_their_limits_when_they_can(
    minutes: int, parts: list[tuple[float, int, int]]
) -> None:
    shares, least, most = (list(x) for x in zip(*parts, strict=True))
    made = share_out(minutes, shares, least, most)
    assert sum(made) == minutes
    if sum(least) <= minutes <= sum(most) - len(parts):
        assert all(m >= low - 1 for m, low in zip(made, least, strict=True))


def test_equal_shares_are_equal() -> None:
    assert share_out(90, [1, 1, 1], [0] * 3, [90] * 3) == [30, 30, 30]
    assert share_out(91, [1, 1, 1], [0] * 3, [91] * 3) == [31, 30, 30]
    assert share_out(60, [1, 1], [0, 50], [60, 60]) == [10, 50]


@pytest.mark.parametrize(("asked", "made"), [(5, 8), (10, 10), (18, 18), (45, 30)])
def test_a_warm_up_rises_and_fills_its_time(
    book: RuleBook, doses: Doses, asked: int, made: int
) -> None:
    plan = warm_up(doses.warm_up, book.ladder, asked, book.ladder.order("V6"))
    assert plan.minutes == made == plan.blocks[-1].end
    grades = [g for b in plan.blocks for g in re.findall(r"V\d+", b.how)]
    assert grades == ["V1", "V3", "V5"]


@pytest.mark.parametrize("sessions", range(1, 8))
@pytest.mark.parametrize("stage", [None, "adult", "growing", "child"])
@pytest.mark.parametrize("held", [{}, {"hard_climbing": "x"}, {"finger_load": "x"}])
def test_hard_days_stand_48_hours_apart(
    doses: Doses, sessions: int, stage: str | None, held: dict[str, str]
) -> None:
    # Medernach et al., JSCR 29(8), 2286-2295, 2015: finger sessions at least 48 h apart.
    made = week(doses.week, sessions, 90, Limits(held, None, stage))
    hard = [d.day for d in made.days if d.kind == "hard"]
    assert not too_close(hard, 48)
    assert len([d for d in made.days if d.kind]) == min(sessions, 6)
    assert any(d.kind is None and d.load == 0 for d in made.days)
    limit = 0 if held or stage == "child" else 1 if stage == "growing" else 2
    assert len(hard) <= limit
    assert bool(made.left_out) == bool(held)
    assert made.load.total == sum(d.load for d in made.days)


def test_hard_days_too_close_are_flagged() -> None:
    assert too_close([0, 1], 48)
    assert not too_close([0, 2], 48)
    assert too_close([0, 6], 48), "Sunday and the next Monday"
    assert not too_close([3], 48)
    assert apart([0, 3]) == 72
    assert apart([]) is None


def test_days_that_do_not_fit_are_dropped() -> None:
    assert hard_days([0, 1], 2, 48) == (0,)
    assert hard_days([0, 1, 2, 3, 4, 5], 3, 48) == (0, 2, 4)
    assert hard_days([0, 2, 4], 0, 48) == ()


@pytest.mark.parametrize(
    ("sessions", "kinds"),
    [
        (1, ["mixed"]),
        (2, ["hard", "volume"]),
        (3, ["hard", "easy", "hard"]),
        (4, ["hard", "easy", "hard", "volume"]),
    ],
)
def test_the_usual_weeks(doses: Doses, sessions: int, kinds: list[str]) -> None:
    # Common practice, no source.
    made = week(doses.week, sessions, 90, FREE)
    assert [d.kind for d in made.days if d.kind] == kinds


def test_a_childs_week_is_varied(doses: Doses) -> None:
    made = week(doses.week, 3, 60, Limits({}, None, "child"))
    assert {d.kind for d in made.days if d.kind} == {"varied", "easy"}
    with pytest.raises(ValueError, match="at least one"):
        week(doses.week, 0, 60, FREE)
