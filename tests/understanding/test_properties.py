"""What holds for every text: no error, spans in the text, the same again, and no loudness."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coachbot.doors.opening import House, open_house
from coachbot.understanding import Reader, Reading
from tests.messages.model import development

_HOUSE: list[House] = []


def the_reader() -> Reader:
    if not _HOUSE:
        _HOUSE.append(open_house())
    return _HOUSE[0].reader


def told(reading: Reading, leave: frozenset[str] = frozenset()) -> set[tuple[str, object, bool]]:
    return {(h.fact, h.value, h.denied) for h in reading.heard if h.fact not in leave}


ODD = st.text(alphabet=st.characters(), max_size=300) | st.text(
    alphabet="abcdefgh slipfoothand'’.,!?-0123456789°\n\t\x00\ud800🧗", max_size=300
)
ONE = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@ONE
@given(ODD)
def test_any_text_is_read_without_an_error_and_spans_lie_in_it(text: str) -> None:
    reading = the_reader().read(text)
    for span in (*reading.heard, *reading.unread):
        assert 0 <= span.start < span.end <= len(text)
        assert span.words == text[span.start : span.end]


@ONE
@given(ODD)
def test_the_same_text_gives_the_same_reading(text: str) -> None:
    assert the_reader().read(text) == the_reader().read(text)


@pytest.mark.parametrize("text", ["foot " * 20_000, "a" * 100_000, "(" * 50_000, "no " * 30_000])
def test_very_long_texts_are_read_or_cut_and_said_so(text: str) -> None:
    reading = the_reader().read(text)
    assert reading.cut is None or 0 < reading.cut < len(text)


def test_upper_case_changes_nothing() -> None:
    reader = the_reader()
    messages = development(_HOUSE[0].book)
    changed = [
        m.say for m in messages if told(reader.read(m.say)) != told(reader.read(m.say.upper()))
    ]
    assert not changed, changed[:5]


def test_a_polite_sentence_changes_nothing() -> None:
    reader = the_reader()
    leave = frozenset({"off_topic", "act"})
    changed = []
    for m in development(_HOUSE[0].book):
        polite = m.say.rstrip() + ("" if m.say.rstrip()[-1:] in ".!?" else ".") + " Thanks a lot!"
        if told(reader.read(m.say), leave) != told(reader.read(polite), leave):
            changed.append(m.say)
    assert not changed, changed[:5]
