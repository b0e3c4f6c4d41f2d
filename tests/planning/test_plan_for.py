"""The plan that a case gets, what safety takes out of it, and how it is shown."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from coachbot.engine.model import Value
from coachbot.knowledge.book import RuleBook
from coachbot.planning import Plan, plan_for, render
from coachbot.planning.model import (
    Circuit,
    Endurance,
    Grades,
    Hangs,
    Rests,
    Session,
    WarmUp,
    Week,
)

Run = Callable[..., dict[str, tuple[Value, ...]]]
Given = dict[str, str | list[str]]

ASKED: list[tuple[Given, type | None]] = [
    ({"asks_for": "session_plan", "session_minutes": "90", "climber_grade": "V5"}, Session),
    ({"asks_for": "session_plan"}, Session),
    ({"asks_for": "session_plan", "session_minutes": "20"}, Session),
    ({"asks_for": "session_plan", "session_minutes": "400"}, Session),
    ({"asks_for": "week_plan", "sessions_a_week": "4"}, Week),
    ({"asks_for": "week_plan"}, Week),
    ({"asks_for": "week_plan", "sessions_a_week": "7", "age": "16"}, Week),
    ({"asks_for": "warm_up"}, WarmUp),
    ({"asks_for": "warm_up", "session_minutes": "10"}, WarmUp),
    ({"asks_for": "rest"}, Rests),
    ({"asks_for": "grade_talk", "problem_grade": "6B"}, Grades),
    ({"asks_for": "grade_talk"}, Grades),
    ({"asks_for": "drill", "limit": "fingers"}, Hangs),
    ({"limit": "fingers", "training_tool": "hangboard", "age": "30", "experience": "60"}, Hangs),
    ({"asks_for": "drill", "learning": "pockets", "age": "30", "experience": "60"}, Hangs),
    ({"asks_for": "plan", "limit": "power_endurance"}, Circuit),
    ({"trouble": "runs_out_of_power", "climber_grade": "V4"}, Circuit),
    ({"asks_for": "plan", "limit": "endurance", "climber_grade": "V17"}, Endurance),
    ({"asks_for": "plan", "sessions_a_week": "2"}, Week),
    ({"asks_for": "plan"}, Session),
    ({"trouble": "foot_slips"}, None),
    ({"trouble": "runs_out_of_power"}, None),
    ({"trouble": "pumped_easy"}, None),
    ({}, None),
]  # fmt: skip


@pytest.mark.parametrize(("given", "kind"), ASKED, ids=lambda x: str(x))
def test_the_facts_choose_the_plan(
    book: RuleBook, facts: Run, given: Given, kind: type | None
) -> None:
    plan = plan_for(book, facts(**given))
    if kind is None:
        assert plan is None
    else:
        assert plan is not None
        assert isinstance(plan.detail, kind)
        assert plan.ground


@pytest.mark.parametrize("given", [g for g, kind in ASKED if kind], ids=str)
@pytest.mark.parametrize(
    "more",
    [{}, {"pain_place": "finger"}, {"age": "11"}, {"age": "15"}, {"alarm": "fever"}],
    ids=str,
)
def test_every_plan_fits_80_columns_of_plain_text(
    book: RuleBook, facts: Run, given: Given, more: Given
) -> None:
    plan = plan_for(book, facts(**{**given, **more}))
    assert plan is not None
    for text in (render(plan), render(plan, sources=True, begins=18 * 60)):
        assert max(len(line) for line in text.splitlines()) <= 80
        assert "\x1b" not in text
        assert "{" not in text


def test_a_session_with_a_start_shows_clock_times(book: RuleBook, facts: Run) -> None:
    plan = _plan(book, facts(asks_for="session_plan", session_minutes="90"))
    assert "0:00 to 0:18  Warm-up (18 min)" in render(plan)
    assert "18:30 to 18:48  Warm-up (18 min)" in render(plan, begins=18 * 60 + 30)
    assert "23:50 to 0:08" in render(plan, begins=23 * 60 + 50)


def test_odd_minutes_are_told(book: RuleBook, facts: Run) -> None:
    short = _plan(book, facts(asks_for="session_plan", session_minutes="20"))
    assert "so this one is for 30" in " ".join(short.notes)
    crowded = _plan(book, facts(asks_for="week_plan", sessions_a_week="7"))
    assert "one day stays free" in crowded.notes[0]


def _plan(book: RuleBook, known: dict[str, tuple[Value, ...]]) -> Plan:
    plan = plan_for(book, known)
    assert plan is not None
    return plan


LOADING: list[Given] = [g for g, kind in ASKED if kind and kind is not Grades]


@pytest.mark.parametrize("given", LOADING, ids=str)
def test_an_alarm_or_a_warning_sign_stops_every_plan(
    book: RuleBook, facts: Run, given: Given
) -> None:
    for fact in ("alarm", "pain_sign"):
        for value in book.facts[fact].values:
            plan = _plan(book, facts(**{**given, fact: value}))
            assert plan.detail is None
            assert plan.held_back
            assert "clinician" in " ".join(plan.notes)
    stopped = _plan(book, {**facts(**given), "not_allowed": ("climbing",)})
    assert stopped.detail is None


@pytest.mark.parametrize("given", LOADING, ids=str)
@pytest.mark.parametrize("place", ["finger", "elbow", "shoulder"])
def test_pain_takes_the_hard_parts_out(
    book: RuleBook, facts: Run, given: Given, place: str
) -> None:
    plan = _plan(book, facts(**{**given, "pain_place": place}))
    detail = plan.detail
    assert not isinstance(detail, Circuit)
    if isinstance(detail, Session):
        assert not {"Hard tries", "Circuits"} & {b.title for b in detail.blocks}
    if isinstance(detail, Week):
        assert {d.kind for d in detail.days} == {"easy", None}
    if isinstance(detail, Hangs):
        assert detail.hangs is None
    if isinstance(detail, Session | Week | Hangs):
        assert place in " ".join(plan.held_back)


def test_what_the_rules_hold_back_is_left_out(book: RuleBook, facts: Run) -> None:
    given: Given = {"asks_for": "drill", "limit": "fingers", "age": "30", "experience": "60",
                    "hang_history": "regular"}  # fmt: skip
    known = facts(**given)
    free = _plan(book, known).detail
    assert isinstance(free, Hangs)
    assert free.kg_by_week
    for load, shown in (("added_weight", "Added weight"), ("hang_training", "Hang training")):
        plan = _plan(book, {**known, "not_allowed": (load,)})
        assert isinstance(plan.detail, Hangs)
        assert plan.detail.kg_by_week == ()
        assert shown in " ".join(plan.held_back)
    session = {**facts(asks_for="session_plan"), "not_allowed": ("hard_climbing",)}
    plan = _plan(book, session)
    assert len(plan.held_back) == 2


@pytest.mark.parametrize(("age", "out"), [("15", True), ("16", False)])
def test_hangs_from_sixteen(book: RuleBook, facts: Run, age: str, out: bool) -> None:
    # Morrison and Schöffl, Br J Sports Med 41, 852, 2007. Without the rules' own word too.
    plan = _plan(book, facts(asks_for="drill", limit="fingers", age=age))
    bare = _plan(book, {"asks_for": ("drill",), "limit": ("fingers",), "age": (int(age),)})
    for made in (plan, bare):
        assert isinstance(made.detail, Hangs)
        assert (made.detail.dose == "none") is out
    assert ("under 16" in " ".join(plan.held_back)) is out


@pytest.mark.parametrize(("age", "out"), [("17", True), ("18", False)])
def test_campus_from_eighteen(book: RuleBook, facts: Run, age: str, out: bool) -> None:
    # Morrison and Schöffl, British Mountaineering Council page: 17 blocked, 18 not.
    given: Given = {"asks_for": "drill", "limit": "fingers", "training_tool": "campus_board"}
    plan = _plan(book, facts(**{**given, "age": age, "experience": "60"}))
    assert ("Campus board" in " ".join(plan.held_back)) is out


def test_children_get_volume_in_place_of_hard_work(book: RuleBook, facts: Run) -> None:
    # British Mountaineering Council, summary for under 16s: up to 12 volume and variety first.
    loop = _plan(book, facts(asks_for="plan", limit="power_endurance", age="11"))
    assert isinstance(loop.detail, Endurance)
    assert "volume and variety" in loop.held_back[0]
    one = _plan(book, facts(asks_for="session_plan", age="11"))
    assert isinstance(one.detail, Session)
    assert "Hard tries" not in {b.title for b in one.detail.blocks}


def test_no_plan_promises_grades_or_forecasts(book: RuleBook, facts: Run) -> None:
    # Front Physiol 2024, doi 10.3389/fphys.2024.1461820: strength +11.5 %, score unchanged.
    # Impellizzeri et al. 2020, doi 10.1007/s40279-020-01378-6: load ratios predict nothing useful.
    fingers = render(_plan(book, facts(asks_for="drill", limit="fingers", age="30")))
    assert "promise no grade" in fingers
    days = render(_plan(book, facts(asks_for="week_plan", sessions_a_week="3")))
    assert "cannot foretell an injury" in days
    assert "ratio" not in days
