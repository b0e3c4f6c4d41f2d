"""Misspelt words are put right; right words are never turned into others."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coachbot.understanding import Reader
from coachbot.understanding.typos import english

from .conftest import Reads


@pytest.mark.parametrize(
    ("text", "fact", "value"),
    [
        ("my foot keeps sliping", "trouble", "foot_slips"),
        ("can't reech the next hold", "trouble", "cannot_reach"),
        ("on an overhnag", "wall", "steep"),
        ("smeering on nothing", "foothold", "blank"),
        ("hanging off a slopper", "hold", "sloper"),
        ("my shouldr hurts", "pain_place", "shoulder"),
        ("my finger is swolen", "pain_sign", "swelling"),
        ("i use a heelhook", "foot_move", "heel_hook"),
        ("it's a dropknee", "foot_move", "drop_knee"),
        ("on an undercilng", "hold_pull", "undercling"),
        ("sooooo scaaaared of falling", "trouble", "afraid"),
        ("my forarms are pumped", "trouble", "arms_tire"),
    ],
)
def test_misspelt(heard: Reads, text: str, fact: str, value: str) -> None:
    assert (fact, value, False) in heard(text)


@given(word=st.sampled_from(sorted(english())))
@settings(max_examples=500, deadline=None)
def test_common_english_is_left_alone(reader: Reader, word: str) -> None:
    assert reader.spelt(word) == word


@pytest.mark.parametrize("word", ["judo", "Pell", "Juno", "Marit", "qwrtz", "xx", "flit"])
def test_short_words_and_names_are_left_alone(reader: Reader, word: str) -> None:
    assert reader.spelt(word.lower()) == word.lower()


def test_a_right_word_is_not_bent(heard: Reads) -> None:
    assert not {f for f, _, _ in heard("the judge bought a juggler's crib in the pouch")} & {
        "hold",
        "target",
    }
