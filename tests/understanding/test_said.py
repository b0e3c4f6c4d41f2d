"""Every fact in many voices, and what must raise no alarm (common practice, no source)."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml

from coachbot.knowledge.book import RuleBook
from coachbot.understanding import Reader

from .conftest import Reads

_FILE = yaml.load(  # every scalar stays text, so that yes and 14 are words
    (Path(__file__).parent / "said.yaml").read_text("utf-8"), Loader=yaml.BaseLoader
)


def listed() -> Iterator[tuple[str, str, str]]:
    for fact, values in _FILE["said"].items():
        for value, texts in values.items():
            for text in texts:
                yield fact, value, text


def is_heard(reader: Reader, book: RuleBook, fact: str, value: str, text: str) -> bool:
    wanted = book.grammar.value(fact, value)
    asked = fact if fact in book.heard_beside else None  # of these most lines are answers
    heard = [h.value for h in reader.read(text, asked).heard if h.fact == fact and not h.denied]
    if isinstance(wanted, str):
        return wanted in heard
    return any(abs(v - wanted) < 0.5 for v in heard if not isinstance(v, str))


@pytest.mark.parametrize("fact", _FILE["said"])
def test_what_is_said_is_heard(reader: Reader, book: RuleBook, fact: str) -> None:
    missed = [
        (value, text)
        for f, value, text in listed()
        if f == fact and not is_heard(reader, book, f, value, text)
    ]
    assert not missed


@pytest.mark.parametrize(
    "text",
    [
        "I popped off the jug",
        "popping for the jug",
        "that was a killer move",
        "dying on the last move",
        "my arms are dead",
        "so pumped my forearms explode",
        "this problem is a pain in the ass",
        "no pain at all",
        "it hurt my pride",
        "the sloper looks like a swollen belly",
        "the hold popped and I fell",
        "I'm going to bang my head against this wall",
        "my foot pops off",
        "the head wall is steep",
        "a finger crack on the left",
        "cold hands on the blue problem",
        "the black and blue circuit",
        "I broke my ankle years ago, it's fine now",
        "I collapse into the corner",
        "my mind goes blank",
        "I hold my breath on the crux",
        "numb with boredom, what next",
        "I want to learn to fall",
        "scared of a bad fall",
        "the swing throws me off",
        "I bleed energy on the crux",
        "sick dyno",
        "I'm sick of this move",
    ],
)
def test_no_alarm(heard: Reads, text: str) -> None:
    alarms = {(f, v) for f, v, denied in heard(text) if f in {"alarm", "pain_sign"} and not denied}
    assert not alarms


@pytest.mark.parametrize(
    ("text", "fact", "value"),
    [
        ("great session, sent two sixes, felt a wee twang in my finger on the last one btw",
         "pain_sign", "pop"),
        ("love this gym. anyway my fingers go to sleep at night, how do I hold slopers",
         "pain_sign", "numb"),
        ("climbed with Pell, he bonked his head on the arete, then we did the slab",
         "alarm", "head_knock"),
        ("my ring finger went crack and then I topped it", "pain_sign", "pop"),
        ("topped the purple one though I nearly passed out on it", "alarm", "faint"),
    ],
)  # fmt: skip
def test_alarms_are_heard_in_the_middle_of_a_story(
    heard: Reads, text: str, fact: str, value: str
) -> None:
    assert (fact, value, False) in heard(text)
