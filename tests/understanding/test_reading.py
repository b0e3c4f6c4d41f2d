"""What is read from words, and what is not.

Negation follows the published trigger-and-scope method: Chapman et al., J Biomed Inform
34, 301-310, 2001 (triggers, pseudo-triggers, termination terms; from memory). The sentences
are common practice of how climbers talk, no source.
"""

from __future__ import annotations

from typing import Any

import pytest
from pint import UnitRegistry

from coachbot.doors.opening import House
from coachbot.engine.model import Value
from coachbot.understanding import Reader, Reading

units: Any = UnitRegistry()


@pytest.fixture(scope="session")
def reader(house: House) -> Reader:
    return house.reader


def yes(reading: Reading) -> set[tuple[str, Value]]:
    return {(h.fact, h.value) for h in reading.heard if not h.denied}


def no(reading: Reading) -> set[tuple[str, Value]]:
    return {(h.fact, h.value) for h in reading.heard if h.denied}


@pytest.mark.parametrize(
    ("text", "said", "not_said"),
    [
        ("my hand slips off the sloper", ("trouble", "hand_slips"), ("trouble", "foot_slips")),
        (
            "my feet stay on, it's the hand that slips",
            ("trouble", "hand_slips"),
            ("trouble", "foot_slips"),
        ),
        ("my foot does not slip", None, ("trouble", "foot_slips")),
        ("not a sloper, more of a pinch", ("hold", "pinch"), ("hold", "sloper")),
        ("it is not a slab, it's steep", ("wall", "steep"), ("wall", "slab")),
        ("no pain at all", None, ("hurts", True)),
        ("nothing hurts", ("hurts", False), ("hurts", True)),
        ("no pop, no swelling", None, ("pain_sign", "pop")),
        ("no swelling but it is numb", ("pain_sign", "numb"), ("pain_sign", "swelling")),
        ("i popped off the last move", None, ("pain_sign", "pop")),
        ("popping for the jug on the roof", ("wall", "roof"), ("pain_sign", "pop")),
        ("i felt a pop in my finger", ("pain_sign", "pop"), None),
        (
            "my elbow hurt two years ago, all healed now",
            ("old_injury", "elbow"),
            ("pain_place", "elbow"),
        ),
    ],
)  # fmt: skip
def test_negation_and_its_scope(
    reader: Reader,
    text: str,
    said: tuple[str, Value] | None,
    not_said: tuple[str, Value] | None,
) -> None:
    reading = reader.read(text)
    assert said is None or said in yes(reading)
    assert not_said is None or not_said not in yes(reading)


@pytest.mark.parametrize(
    ("text", "fact", "amount", "unit"),
    [
        ("i am 1.72 m tall", "height", 1.72, "meter"),
        ("i'm 172 cm tall", "height", 172, "centimeter"),
        ("i am 5 ft 8 tall", "height", 68, "inch"),
        ("i'm 5'8", "height", 68, "inch"),
        ("the wall overhangs 30 degrees", "wall_angle", 30, "degree"),
        ("i have climbed for 2 years", "experience", 24, None),
        ("i have 2 hours for the session", "session_minutes", 2, "hour"),
        ("i have 90 minutes for the session", "session_minutes", 90, "minute"),
        ("my elbow has hurt for 3 weeks", "pain_weeks", 3, "week"),
    ],
)
def test_quantities_are_converted_as_a_units_library_does(
    house: House, reader: Reader, text: str, fact: str, amount: float, unit: str | None
) -> None:
    wanted_unit = house.book.facts[fact].unit
    names = {"cm": "centimeter", "year": "year", "minute": "minute"}
    wanted = amount
    if unit is not None and unit != wanted_unit:
        wanted = (amount * units(unit)).to(names.get(str(wanted_unit), str(wanted_unit))).magnitude
    found = [h.value for h in reader.read(text).heard if h.fact == fact]
    assert len(found) == 1, found
    assert float(found[0]) == pytest.approx(wanted, abs=1)


@pytest.mark.parametrize(
    ("text", "grade"),
    [
        ("i climb v4", "V4"),
        ("i usually climb V6", "V6"),
        ("i climb 7a", "V6"),
        ("i usually top 6B+", "V4"),
    ],
)  # fmt: skip
def test_grades_of_both_scales(house: House, reader: Reader, text: str, grade: str) -> None:
    """Font 7A is V6 and 6B+ is V4 in the club table of 2009 (see tests/knowledge)."""
    found = [h.value for h in reader.read(text).heard if h.fact == "climber_grade"]
    assert found == [house.book.ladder.order(grade)]


@pytest.mark.parametrize(
    ("text", "facts"),
    [
        ("from the crimp to the sloper", {("hold", "small_edge"), ("target", "sloper")}),
        ("throwing to a jug", {("target", "jug")}),
        ("my hand slips off the jug", {("hold", "jug")}),
        ("can't stick the pinch", {("target", "pinch")}),
    ],
)
def test_the_hold_held_and_the_hold_wanted(
    reader: Reader, text: str, facts: set[tuple[str, Value]]
) -> None:
    assert facts <= yes(reader.read(text))


@pytest.mark.parametrize(
    ("question", "text", "value"),
    [
        ("wall", "steep", "steep"),
        ("wall", "it's a slab", "slab"),
        ("slip_moment", "as soon as i put weight on it", "on_weighting"),
        ("feet_off_on_purpose", "by accident", False),
        ("feet_off_on_purpose", "on purpose", True),
        ("can_go_slowly", "nope", False),
        ("can_go_slowly", "yeah i can", True),
        ("age", "14", 14),
        ("tries", "about ten", 10),
        ("moving_hand", "the left one", "left"),
        ("pinch_width", "wide", "wide"),
    ],
)
def test_short_answers_are_read_for_the_open_question(
    reader: Reader, question: str, text: str, value: Value
) -> None:
    assert (question, value) in yes(reader.read(text, question))


@pytest.mark.parametrize("text", ["don't know", "dunno", "no idea", "skip", "not sure"])
def test_not_knowing_is_a_third_thing(reader: Reader, text: str) -> None:
    reading = reader.read(text, "wall")
    assert reading.declined
    assert "wall" not in {h.fact for h in reading.heard}


def test_when_a_foot_goes_is_heard_beside_a_foot_that_goes(reader: Reader) -> None:
    moment = ("slip_moment", "at_catch")
    assert moment in yes(reader.read("my feet cut at the catch"))
    assert moment not in yes(reader.read("he half crimps at the catch"))
    assert moment in yes(reader.read("at the catch", "slip_moment"))


@pytest.mark.parametrize(
    ("text", "topic"),
    [
        ("what's the weather tomorrow", "general"),
        ("tell me a joke", "general"),
        ("who won the football last night", "other_sport"),
        ("how much is a lesson", "gyms"),
        ("how do I tie in", "ropes"),
        ("the auto belay frightens me", "ropes"),
        ("which shoes are good for wide feet", "gear"),
    ],
)
def test_a_message_that_is_not_about_bouldering_is_out_of_scope(
    reader: Reader, text: str, topic: str
) -> None:
    assert ("off_topic", topic) in yes(reader.read(text))


@pytest.mark.parametrize(
    "text",
    [
        "the weather is awful, and my foot keeps slipping off the chip",
        "I used to play tennis, now my hand opens on the sloper",
        "like laundry, that is how I hang when my feet cut off the roof",
        "which warm-up do you want before football? I climb 6B",
    ],
)
def test_what_is_only_mentioned_is_no_topic(reader: Reader, text: str) -> None:
    topics = {v for f, v in yes(reader.read(text)) if f == "off_topic"}
    assert not topics


@pytest.mark.parametrize(
    ("text", "high"),
    [
        ("the finish is four metres up", True),
        ("once my feet are above about three metres I freeze", True),
        ("I'm scared of falling from 3 m", True),
        ("it's only half a metre off the mat", False),
        ("the next hold is two and a half metres to the left", None),
        ("the crimp is 40 cm up", None),
    ],
)
def test_a_length_from_which_it_is_far_to_fall(
    reader: Reader, text: str, high: bool | None
) -> None:
    found = [v for f, v in yes(reader.read(text)) if f == "high_off_ground"]
    assert found == ([] if high is None else [high])
