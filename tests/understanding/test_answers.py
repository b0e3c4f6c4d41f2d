"""Short answers, read for the open question first."""

from __future__ import annotations

import pytest

from coachbot.engine.model import Value
from coachbot.understanding import Reader

TABLE: list[tuple[str, str, Value]] = [
    ("moving_hand", "left", "left"),
    ("moving_hand", "the right one", "right"),
    ("can_go_slowly", "yes", True),
    ("can_go_slowly", "nope", False),
    ("feet_off_on_purpose", "by accident", False),
    ("age", "14", 14),
    ("age", "about 40", 40),
    ("age", "forty", 40),
    ("experience", "3 years", 36),
    ("experience", "18 months", 18),
    ("climber_grade", "V4", "V4"),
    ("climber_grade", "6b+", "6B+"),
    ("wall", "steep", "steep"),
    ("wall", "a bit overhanging", "gentle_overhang"),
    ("wall", "slab", "slab"),
    ("hold", "a sloper", "sloper"),
    ("target", "a sloper", "sloper"),
    ("foothold", "tiny", "tiny"),
    ("body_size", "short", "short"),
    ("short_by", "a few cm", "few_cm"),
    ("body_to_hold", "below", "below"),
    ("pinch_width", "wide", "wide"),
    ("pocket_fingers", "two", "two"),
    ("slip_moment", "when the hand leaves", "hand_leaves"),
    ("pain_place", "elbow", "elbow"),
    ("start_style", "sit start", "sit"),
    ("tries", "10", 10),
    ("sessions_a_week", "three", 3),
    ("session_minutes", "90", 90),
    ("session_minutes", "an hour", 60),
]


@pytest.mark.parametrize(("fact", "text", "value"), TABLE)
def test_answers(reader: Reader, fact: str, text: str, value: Value) -> None:
    grade = reader.grade(value) if fact == "climber_grade" else None
    wanted = value if grade is None else grade
    found = [h.value for h in reader.read(text, fact).heard if h.fact == fact and not h.denied]
    assert found == [wanted]


@pytest.mark.parametrize(
    "text", ["don't know", "dunno", "no idea", "skip", "not sure", "pass", "I can't tell", "idk"]
)
@pytest.mark.parametrize("fact", ["hold", "can_go_slowly", "age"])
def test_declined(reader: Reader, text: str, fact: str) -> None:
    reading = reader.read(text, fact)
    assert reading.declined
    assert not reading.heard


def test_a_new_story_is_no_refusal(reader: Reader) -> None:
    reading = reader.read("not sure, but my foot slips off a tiny foothold on the slab", "hold")
    assert not reading.declined
    assert ("trouble", "foot_slips") in {(h.fact, h.value) for h in reading.heard}


def test_an_unknown_question_is_no_mistake(reader: Reader) -> None:
    assert reader.read("yes", "no_such_fact").heard == reader.read("yes").heard
