"""The likeliest answers to a question come first (common practice, no source: offer what fits)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coachbot.knowledge.book import RuleBook
from coachbot.understanding import Reader
from tests.messages import model

SHOWN = 8


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("something about the heel, it never holds where I put it", "heel_slips"),
        ("my swing is weird and then the hands", "swing_throws_off"),
        ("two hands on that small one is a bad idea", "cannot_match"),
        ("the hips do something odd", "hips_far"),
    ],
)
def test_half_a_saying_brings_its_value_forward(reader: Reader, text: str, value: str) -> None:
    assert value in reader.nearly(text, "trouble")[:SHOWN]


@given(st.text(max_size=80))
def test_only_values_of_the_fact_each_once(reader: Reader, book: RuleBook, text: str) -> None:
    found = reader.nearly(text, "trouble")
    assert len(set(found)) == len(found)
    assert set(found) <= set(book.facts["trouble"].values)


def test_nothing_said_nothing_near(reader: Reader) -> None:
    assert reader.nearly("", "trouble") == ()
    assert reader.nearly("zzz", "no_such_fact") == ()


def test_the_answer_is_among_those_shown_more_often_than_by_the_order_of_the_vocabulary(
    reader: Reader, book: RuleBook
) -> None:
    """Over messages that state a trouble which was not heard."""
    near = plain = unheard = 0
    first = set(list(book.facts["trouble"].values)[:SHOWN])
    for message in model.development(book):
        stated = {n.value for n in message.facts if n.fact == "trouble" and not n.denied}
        heard = {h.value for h in reader.read(message.say).heard if h.fact == "trouble"}
        if stated and not heard:
            unheard += 1
            near += not stated.isdisjoint(reader.nearly(message.say, "trouble")[:SHOWN])
            plain += not stated.isdisjoint(first)
    assert unheard == 0 or (near > plain and near / unheard >= 0.5)
