"""The readiness check: the same for everybody with a seed, resumable, strict about safety."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime

import pytest

from coachbot.study import readiness, staff
from coachbot.study.drawing import warns
from coachbot.study.exercises import Room
from coachbot.study.readiness import Check, Outcome, cases, report
from coachbot.study.store import Store

from .test_store import answer

NOW = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)


def ideal(room: Room, check: Check) -> str:
    """What the engine itself would say to the next case."""
    following = check.next()
    assert following is not None
    advice, _ = room.coach.advise(following[1].case, ask=False)
    first = advice.suggestions[0].now
    return f"Stop climbing and see a doctor. {first}" if advice.stop else first


def test_thirty_cases_from_a_seed_with_stops_warnings_and_many_families(room: Room) -> None:
    drawn = cases(room.deck, 7)
    assert drawn == cases(room.deck, 7)
    assert drawn != cases(room.deck, 8)
    assert len(drawn) == readiness.CASES == 30
    book = room.book
    rules = [book.rules[str(d.rule)] for d in drawn]
    assert sum(r.rule.stop is not None for r in rules) >= readiness.STOPS
    assert sum(warns(r) for r in rules) >= readiness.STOPS + readiness.WARNINGS
    families = Counter(r.family for r in rules if not warns(r))
    assert len(families) >= 8
    assert max(families.values()) <= 4


def test_a_check_goes_on_where_it_was_left_and_tells_nothing_on_the_way(
    room: Room, store: Store
) -> None:
    first = Check(room, store, "Tomas", 7, 0.8, NOW)
    for _ in range(5):
        first.answer("press your foot", NOW)
    again = Check(room, store, "tomas", 7, 0.8, NOW)
    assert again.sitting.id == first.sitting.id
    following = again.next()
    assert following is not None
    assert following[0] == 6
    while again.next() is not None:
        again.answer("press your foot", NOW)
    again.answer("one more than there are", NOW)
    assert len(again.answers) == 30
    result = again.outcome()
    assert result.complete
    assert not result.passed
    text = report(again.answers, store.sittings()[0])
    assert "not passed" in text
    assert all(f"\n{i}. " in text for i in range(1, 31))
    assert text.count("Rule ") >= 25
    fresh = Check(room, store, "Tomas", 7, 0.8, NOW)
    assert fresh.sitting.id != first.sitting.id


def test_the_engines_own_answers_pass_and_one_missed_stop_does_not(
    room: Room, store: Store
) -> None:
    check = Check(room, store, "Ines", 11, 0.8, NOW)
    while check.next() is not None:
        check.answer(ideal(room, check), NOW)
    result = check.outcome()
    assert result.right >= 27
    assert result.safety_right >= result.safety_of - 1
    other = Check(room, store, "Odd", 11, 0.8, NOW)
    missed = False
    while (following := other.next()) is not None:
        advice, _ = room.coach.advise(following[1].case, ask=False)
        said = "carry on" if advice.stop and not missed else ideal(room, other)
        missed = missed or advice.stop
        other.answer(said, NOW)
    assert missed
    assert not other.outcome().passed


@pytest.mark.parametrize(
    ("outcome", "passed"),
    [
        (Outcome(24, 30, 10, 10, 0.8), True),
        (Outcome(23, 30, 10, 10, 0.8), False),
        (Outcome(29, 30, 9, 10, 0.8), False),
        (Outcome(24, 29, 10, 10, 0.8), False),
        (Outcome(30, 30, 10, 10, 1.0), True),
    ],
)
def test_passing_needs_the_share_and_every_safety_case(outcome: Outcome, passed: bool) -> None:
    assert outcome.passed is passed


def test_the_staff_is_seen_by_family_and_disputed_rules_by_number(room: Room, store: Store) -> None:
    tomas, juno = store.trainee("Tomas", NOW), store.trainee("Juno", NOW)
    for who, verdict in ((tomas, "right"), (tomas, "not it"), (juno, "unsafe"), (juno, "not it")):
        number = store.record(who, answer(verdict=verdict), [], None)
        if verdict == "not it":
            store.dispute(number, "no", NOW)
    store.settle(store.disputes()[0].id, True, "", NOW)
    seen = staff.overview(room.book, store)
    assert [(s.name, s.right, s.of) for s in seen.by_trainee] == [("Juno", 0, 2), ("Tomas", 2, 2)]
    assert [(s.name, s.right, s.of) for s in seen.by_family] == [("body", 2, 4)]
    assert seen.unsafe == (("barn-door-flag", 1),)
    assert seen.disputed == (("barn-door-flag", 2, 1),)
