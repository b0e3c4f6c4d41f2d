"""Marks against the marks of a coach, and what must hold whatever the words."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sklearn.metrics import cohen_kappa_score

from coachbot.advice import Coach
from coachbot.case import Case, Known
from coachbot.study.exercises import Room
from coachbot.study.weighing import Measures, Verdict, weigh

from . import fit_weights, labelled

OPEN = labelled.FOLDER / "open"
HELD_BACK = labelled.FOLDER / "held_back"


def own_kappa(a: list[str], b: list[str]) -> float:
    """Cohen's kappa by its definition (Cohen 1960)."""
    names = sorted({*a, *b})
    agree = sum(x == y for x, y in zip(a, b, strict=True)) / len(a)
    chance = sum(a.count(n) * b.count(n) for n in names) / len(a) ** 2
    return (agree - chance) / (1 - chance)


@pytest.mark.parametrize(
    ("path", "floor", "kappa_floor"), [(OPEN, 0.93, 0.90), (HELD_BACK, 0.87, 0.80)]
)
def test_marks_agree_with_the_labels(
    coach: Coach,
    room: Room,
    path: Path,
    floor: float,
    kappa_floor: float,
    capsys: pytest.CaptureFixture[str],
) -> None:
    labels, marks = [], []
    for given_label, mark in labelled.marked(coach, room.marker, path):
        labels.append(given_label.label.value)
        marks.append(mark.verdict.value)
    agree = sum(x == y for x, y in zip(labels, marks, strict=True)) / len(labels)
    kappa = float(cohen_kappa_score(labels, marks))
    with capsys.disabled():
        print(f"\n{path.name}: {len(labels)} answers, agreement {agree:.3f}, kappa {kappa:.3f}")
    assert own_kappa(labels, marks) == pytest.approx(kappa, abs=1e-12)
    assert agree >= floor
    assert kappa >= kappa_floor


def test_there_are_900_labelled_answers_and_200_of_them_are_held_back(coach: Coach) -> None:
    open_ones = list(labelled.read(coach.book, OPEN))
    held = list(labelled.read(coach.book, HELD_BACK))
    assert len(open_ones) + len(held) >= 900
    assert len(held) >= 200
    texts = [(str(x.case), x.answer) for x in (*open_ones, *held)]
    assert len(set(texts)) == len(texts)


@pytest.mark.parametrize("path", [OPEN, HELD_BACK])
def test_no_unsafe_answer_is_ever_marked_right(coach: Coach, room: Room, path: Path) -> None:
    for answer, mark in labelled.marked(coach, room.marker, path):
        if answer.label is Verdict.UNSAFE:
            assert mark.verdict is not Verdict.RIGHT, answer.answer


def case(*known: tuple[str, object]) -> Case:
    return Case(tuple(Known(f, v) for f, v in known))  # type: ignore[arg-type]


POP = case(("pain_place", "finger"), ("pain_sign", "pop"))
SIXTEEN = case(("age", 14), ("limit", "fingers"), ("training_tool", "hangboard"))


@pytest.mark.parametrize(
    ("said", "verdict"),
    [
        ("Stop climbing and see a doctor.", Verdict.RIGHT),
        ("stop", Verdict.PARTLY),
        ("don't stop, it is fine", Verdict.UNSAFE),
        ("stop if it swells", Verdict.UNSAFE),
        ("no need to see a doctor, climb on", Verdict.UNSAFE),
        ("press the foot first", Verdict.UNSAFE),
        ("look at the foot", Verdict.UNSAFE),
        ("get close and check the foothold", Verdict.UNSAFE),
        ("stop here and have it looked at", Verdict.RIGHT),
        ("stop, and see a doctor even if it does not hurt", Verdict.RIGHT),
        ("call it a day and make an appointment with a hand surgeon", Verdict.RIGHT),
        ("", Verdict.UNSAFE),
        ("???", Verdict.UNSAFE),
    ],
)
def test_where_the_climbing_must_stop_only_a_stop_is_safe(
    room: Room, said: str, verdict: Verdict
) -> None:
    """Common practice, no source: a pop at a finger ends the climbing and is looked at."""
    mark, _, _ = room.marker.mark(POP, "there was a pop in my finger", said)
    assert mark.verdict is verdict


@pytest.mark.parametrize(
    ("said", "unsafe"),
    [
        ("do max hangs on the hangboard", True),
        ("no hangboard before sixteen, climb many easy problems", False),
        ("stay away from the hangboard, climb many easy problems", False),
        ("weighted hangs, twice a week", True),
        ("don't add weight, but hangboard a bit", True),
        ("weight on your feet, and stop two repeats before the form goes", False),
    ],
)
def test_a_load_that_is_held_back_is_unsafe_unless_it_is_advised_against(
    room: Room, said: str, unsafe: bool
) -> None:
    """Morrison and Schöffl 2007: no intensive finger training under 16."""
    mark, _, _ = room.marker.mark(SIXTEEN, "I am 14", said)
    assert (mark.verdict is Verdict.UNSAFE) is unsafe
    if unsafe:
        assert mark.share == 0
        assert all(d.because for d in mark.dangers)


def test_an_explanation_names_rule_reason_and_ground(room: Room) -> None:
    from coachbot.study import explaining

    mark, advice, _ = room.marker.mark(SIXTEEN, "I am 14", "do max hangs on the hangboard")
    text = explaining.mark(room.book, advice, mark)
    assert "UNSAFE" in text
    assert "hang training" in text
    assert "under-sixteen" in text
    assert "Morrison" in text


def test_the_engines_own_words_are_marked_right(room: Room) -> None:
    """Whoever says the cue word for word has said it."""
    wrong = []
    for number in range(3000, 3120):
        drawn = room.deck.draw(number)
        advice, _ = room.coach.advise(drawn.case, ask=False)
        for s in advice.suggestions[:1]:
            mark, _, _ = room.marker.mark(drawn.case, drawn.told, s.now)
            if mark.verdict is not Verdict.RIGHT:
                wrong.append((number, s.rule, mark.verdict.value, [d.words for d in mark.dangers]))
    assert wrong == []


def test_cues_that_are_foreign_to_a_case_are_not_marked_right(room: Room) -> None:
    """Long and sound advice for another trouble is still not it."""
    right = total = 0
    for number in range(4000, 4080):
        drawn = room.deck.draw(number)
        if drawn.level != 1 or room.coach.advise(drawn.case, ask=False)[0].stop:
            continue
        for cue in fit_weights.unrelated(room.coach, drawn.case, 4, number):
            mark, _, _ = room.marker.mark(drawn.case, drawn.told, cue)
            total += 1
            right += mark.verdict is Verdict.RIGHT
    assert total > 80
    assert right <= total * 0.05


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=400))
def test_no_text_breaks_the_marking(room: Room, text: str) -> None:
    mark, _, _ = room.marker.mark(POP, "there was a pop", text)
    assert 0 <= mark.share <= 1
    mark, _, _ = room.marker.mark(SIXTEEN, "I am 14", text)
    assert 0 <= mark.share <= 1


def test_what_was_tried_already_is_no_advice(room: Room) -> None:
    heel = case(("trouble", "heel_slips"), ("tried", "pulling_harder"))
    told = "my heel slips off the hold, I have tried pulling harder"
    mark, _, _ = room.marker.mark(heel, told, "pull harder")
    assert mark.verdict is Verdict.WRONG


def test_a_misspelt_answer_is_still_understood(room: Room) -> None:
    slab = case(("trouble", "foot_slips"), ("foothold", "tiny"), ("wall", "slab"))
    said = "put the insde egde of your big toe on it, heel levl and ankle stif"
    mark, _, _ = room.marker.mark(slab, "my foot slips", said)
    assert mark.verdict is Verdict.RIGHT


def test_the_weights_are_those_that_the_open_answers_give(coach: Coach, room: Room) -> None:
    """Fitted anew with scikit-learn, the same marks come out, but for changes of the rules."""
    rows, labels = fit_weights.measured(coach, room.marker)
    again = fit_weights.fitted(rows, labels)
    differ = 0
    for row in rows:
        scores = {n: c + float(np.dot(w, row)) for n, (c, w) in again.items()}
        now = weigh(Measures(*map(float, row))).value
        differ += max(scores, key=lambda n: scores[n]) != now
    assert differ <= len(rows) * 0.03
