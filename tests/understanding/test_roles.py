"""Which hold is under the hand, which is gone to, which is under a foot (common practice)."""

from __future__ import annotations

import pytest

from coachbot.understanding import Reader

TABLE = [
    ("from the crimp to the sloper", {"hold": "small_edge", "target": "sloper"}),
    ("throwing to a jug", {"target": "jug"}),
    ("jumping for the pinch", {"target": "pinch"}),
    ("the next hold is a pinch", {"target": "pinch"}),
    ("can't stick the sloper", {"target": "sloper"}),
    ("I can't latch the crimp", {"target": "small_edge"}),
    ("slipping off the sloper", {"hold": "sloper"}),
    ("I slide off the pinch", {"hold": "pinch"}),
    ("hanging on a jug", {"hold": "jug"}),
    ("off an undercling", {"hold_pull": "undercling"}),
    ("reach to the undercling", {"target_pull": "undercling"}),
    ("on a sidepull", {"hold_pull": "side_pull"}),
    ("next hold is a gaston", {"target_pull": "gaston"}),
    ("standing on a tiny edge", {"foothold": "tiny"}),
    ("my foot is on a volume", {"foothold": "volume"}),
    ("deadpoint from a pocket to a jug", {"hold": "pocket", "target": "jug"}),
    ("the jug is out of reach", {"target": "jug"}),
]
FACTS = {"hold", "target", "hold_pull", "target_pull", "foothold"}


@pytest.mark.parametrize(("text", "wanted"), TABLE)
def test_roles(reader: Reader, text: str, wanted: dict[str, str]) -> None:
    found = {h.fact: h.value for h in reader.read(text).heard if h.fact in FACTS}
    assert found == wanted


def test_two_readings_become_a_question(reader: Reader) -> None:
    reading = reader.read("I'm holding a sloper or a pinch")
    (maybe,) = reading.maybes
    assert maybe.fact == "hold"
    assert set(maybe.values) == {"sloper", "pinch"}


@pytest.mark.parametrize(
    ("text", "hand"),
    [
        ("left hand goes next", "left"),
        ("I go up with my right hand", "right"),
        ("left, no sorry, my right hand goes first", "right"),
    ],
)
def test_which_hand_moves(reader: Reader, text: str, hand: str) -> None:
    assert [h.value for h in reader.read(text).heard if h.fact == "moving_hand"] == [hand]


def test_corrections_are_told(reader: Reader) -> None:
    assert reader.read("no, I meant the left hand goes first").correction
    assert not reader.read("the left hand goes first").correction
