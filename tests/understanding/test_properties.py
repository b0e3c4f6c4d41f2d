"""What holds for every text: never an exception, spans in the text, the same twice."""

from __future__ import annotations

import time

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from coachbot.knowledge.book import RuleBook
from coachbot.understanding import Reader, Reading
from tests.messages import model

ANY_TEXT = st.text(st.characters(), max_size=300)
WORDS = (
    "my foot slips off the sloper not no and but , . 40 V4 6b+ two years when I jump to jug slab"
    " roof hurts popped finger can't reach heel hook don't left right cm 5'7 ☹ ½ – ' never tried"
    " flagging knee 🧗 … ( ) #"
)
CLIMBING = st.lists(st.sampled_from([*WORDS.split(), "\n"]), max_size=40).map(" ".join)
EXPECTED = st.sampled_from([None, "hold", "age", "can_go_slowly", "climber_grade", "trouble", "?"])


def plain(reading: Reading) -> set[tuple[str, object, bool]]:
    return {(h.fact, h.value, h.denied) for h in reading.heard}


@given(text=st.one_of(ANY_TEXT, CLIMBING), expecting=EXPECTED)
@example(text="", expecting=None)
@example(text="\ud800\udfff lone \ud83d", expecting="hold")
@example(text="\x00\x1b[31m foot\x07slips", expecting=None)
@example(text="İstanbul ﬁnger ǅ", expecting=None)
@example(text="9" * 400, expecting="age")
@example(text="²³ ٣٤ 一二", expecting="age")
@settings(max_examples=300, deadline=None)
def test_never_raises_and_spans_lie_in_the_text(
    reader: Reader, text: str, expecting: str | None
) -> None:
    reading = reader.read(text, expecting)
    for h in reading.heard:
        assert 0 <= h.start < h.end <= len(text)
        assert h.words == text[h.start : h.end]
    for span in reading.unread:
        assert span.words == text[span.start : span.end]
    for maybe in reading.maybes:
        assert 0 <= maybe.span.start < maybe.span.end <= len(text)
        assert maybe.span.words == text[maybe.span.start : maybe.span.end]
    assert reader.read(text, expecting) == reading


@given(text=CLIMBING)
@settings(max_examples=100, deadline=None)
def test_values_are_those_of_the_vocabulary(reader: Reader, book: RuleBook, text: str) -> None:
    for h in reader.read(text).heard:
        fact = book.facts[h.fact]
        kind = {"choice": str, "several": str, "yes-no": bool}.get(fact.kind, (int, float))
        assert isinstance(h.value, kind)
        assert fact.kind not in {"choice", "several"} or h.value in fact.values


def test_a_polite_sentence_changes_nothing_else(reader: Reader, book: RuleBook) -> None:
    for message in model.development(book):
        before, after = (
            {n for n in plain(reader.read(text)) if n[0] not in {"off_topic", "act"}}
            for text in (message.say, f"{message.say.rstrip()}\n\nThanks a lot in advance!")
        )
        assert before == after, message.id


def test_upper_case_changes_nothing(reader: Reader, book: RuleBook) -> None:
    for message in model.development(book):
        assert plain(reader.read(message.say)) == plain(reader.read(message.say.upper())), (
            message.id
        )


@pytest.mark.parametrize("unit", ["my foot slips ", "a", "🧗", "no ", "40 ", "\n", "jug to jug, "])
def test_very_long_texts_are_cut_and_say_so(reader: Reader, unit: str) -> None:
    text = unit * (100_000 // len(unit))
    reading = reader.read(text)
    assert reading.cut is not None
    assert reading.cut <= len(text)
    assert all(h.end <= reading.cut for h in reading.heard)


def test_time_grows_no_faster_than_the_text(reader: Reader) -> None:
    """Twice the text may take three times as long at most, by the best of three."""

    def best(text: str) -> float:
        times = []
        for _ in range(3):
            start = time.process_time()
            reader.read(text)
            times.append(time.process_time() - start)
        return min(times)

    story = "I was on the slab and my foot slipped off a tiny chip, then I tried flagging. "
    assert best(story * 50) <= 3 * best(story * 25) + 0.05
