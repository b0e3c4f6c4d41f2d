"""Negation by triggers and scopes.

The method is NegEx: Chapman, Bridewell, Hanbury, Cooper and Buchanan, "A simple algorithm for
identifying negated findings and diseases in discharge summaries", J Biomed Inform 34, 301-310,
2001 (from memory): triggers before and after a finding, false triggers, words that end the
scope, and a window. The sentences are our own, one for each part of the method.
"""

from __future__ import annotations

import pytest

from .conftest import Reads

DENIED = [
    # a trigger before the finding
    ("no swelling", "pain_sign", "swelling"),
    ("there was no pop", "pain_sign", "pop"),
    ("my finger is not swollen", "pain_sign", "swelling"),
    ("it never tingles", "pain_sign", "numb"),
    ("hurts without any swelling", "pain_sign", "swelling"),
    ("it's not a sloper, more of a pinch", "hold", "sloper"),
    ("it isn't steep", "wall", "steep"),
    ("my feet don't cut", "trouble", "feet_cut"),
    # the scope runs on over a list
    ("no pop, swelling or bruising", "pain_sign", "pop"),
    ("no pop, swelling or bruising", "pain_sign", "swelling"),
    ("no pop, swelling or bruising", "pain_sign", "bruising"),
]
AFFIRMED = [
    # the scope ends at a word of contrast, or where a new statement begins
    ("no swelling but it popped, I heard a pop", "pain_sign", "pop"),
    ("it's not a sloper, more of a pinch", "hold", "pinch"),
    ("no pop and my finger is swollen", "pain_sign", "swelling"),
    ("I don't fall, my foot just slips", "trouble", "foot_slips"),
    # false triggers
    ("not only is it swollen, it is blue", "pain_sign", "swelling"),
    ("I can't stop my foot slipping", "trouble", "foot_slips"),
    ("no doubt my finger is swollen", "pain_sign", "swelling"),
    # "can't" is about ability: what cannot be done is still there
    ("I can't hold the sloper", "hold", "sloper"),
    ("can't do the heel hook", "foot_move", "heel_hook"),
    # a denial that is itself the trouble
    ("my heel won't stay on", "trouble", "heel_slips"),
    ("I can't reach the jug", "trouble", "cannot_reach"),
    ("I never quite reach it", "trouble", "cannot_reach"),
    ("struggling to reach the next hold", "trouble", "cannot_reach"),
]


@pytest.mark.parametrize(("text", "fact", "value"), DENIED)
def test_denied(heard: Reads, text: str, fact: str, value: str) -> None:
    assert (fact, value, True) in heard(text)
    assert (fact, value, False) not in heard(text)


@pytest.mark.parametrize(("text", "fact", "value"), AFFIRMED)
def test_not_denied(heard: Reads, text: str, fact: str, value: str) -> None:
    assert (fact, value, False) in heard(text)


@pytest.mark.parametrize(
    ("text", "fact", "value"),
    [
        ("I didn't warm up", "warmed_up", False),
        ("my feet come off by accident", "feet_off_on_purpose", False),
        ("nothing hurts", "hurts", False),
        ("my elbow doesn't hurt", "hurts", False),
    ],
)
def test_yes_no_facts_turn_over(heard: Reads, text: str, fact: str, value: bool) -> None:
    assert (fact, value, False) in heard(text)
