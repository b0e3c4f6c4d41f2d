"""The messages are sound, and the score counts what it says."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import pytest
from rapidfuzz import fuzz, process

from coachbot.engine.model import Value
from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.problems import BrokenRules
from tests.messages import model, score
from tests.messages.model import Message, Noted

NEAR = 90


@pytest.fixture(scope="module")
def development(book: RuleBook) -> tuple[Message, ...]:
    return model.development(book)


@pytest.fixture(scope="module")
def held_back(book: RuleBook) -> tuple[Message, ...]:
    return model.held_back(book)


@pytest.fixture(scope="module")
def for_words(book: RuleBook) -> tuple[Message, ...]:
    return model.for_words(book)


@dataclass(frozen=True)
class Heard:
    fact: str
    value: Value
    denied: bool = False


def test_a_third_is_held_back(
    development: tuple[Message, ...], held_back: tuple[Message, ...]
) -> None:
    assert len(held_back) >= (len(development) + len(held_back)) / 3


def test_every_situation_has_messages(
    book: RuleBook, development: tuple[Message, ...], held_back: tuple[Message, ...]
) -> None:
    for messages, least in ((development, 3), (held_back, 2)):
        count = Counter(m.situation for m in messages)
        few = [s for s in book.situations if count[s] < least]
        assert not few


def test_sets_share_no_message(
    development: tuple[Message, ...],
    held_back: tuple[Message, ...],
    for_words: tuple[Message, ...],
) -> None:
    read = (*development, *for_words)
    ours, theirs = [m.say.lower() for m in held_back], [m.say.lower() for m in read]
    alike = process.cdist(ours, theirs, scorer=fuzz.ratio, score_cutoff=NEAR)
    pairs = [(held_back[i].id, read[j].id) for i, j in zip(*alike.nonzero(), strict=True)]
    assert not pairs


def test_no_message_stands_twice_in_a_set(
    development: tuple[Message, ...],
    held_back: tuple[Message, ...],
    for_words: tuple[Message, ...],
) -> None:
    for messages in (development, held_back, for_words):
        said = [m.say.lower() for m in messages]
        alike = process.cdist(said, said, scorer=fuzz.ratio, score_cutoff=NEAR)
        pairs = [(messages[i].id, messages[j].id) for i, j in zip(*alike.nonzero(), strict=True)]
        assert not [p for p in pairs if p[0] < p[1]]


def test_stops_are_stops(
    development: tuple[Message, ...],
    held_back: tuple[Message, ...],
    for_words: tuple[Message, ...],
) -> None:
    """Common practice, no source: an alarm ends the climbing, whatever else was asked."""
    for m in (*development, *held_back, *for_words):
        if any(n.fact == "alarm" and not n.denied for n in m.facts):
            assert m.stop, m.id
        if m.stop:
            assert "stop-and-refer" in m.skills, m.id


def _write(folder: Path, text: str) -> list[Path]:
    file = folder / "some.yaml"
    file.write_text(text, encoding="utf-8")
    return [file]


LINE = "- {{id: a, voice: regular, situation: {situation}, say: x, facts: {{{facts}}}{more}}}\n"


@pytest.mark.parametrize(
    ("situation", "facts", "more", "told"),
    [
        ("H06", "hold: slopper", "", "sloper"),
        ("H06", "hould: sloper", "", "hold"),
        ("H06", "hold: [sloper, jug]", "", "one value"),
        ("H06", "age: 300", "", "95"),
        ("H06", "means: late_catch", "", "concluded"),
        ("H99", "hold: jug", "", "H99"),
        ("H06", "hold: jug", ", skills: [gripping]", "gripping"),
        ("H06", "hold: jug", ", say_it: y", "say_it"),
    ],
)
def test_a_wrong_annotation_is_told(
    book: RuleBook, tmp_path: Path, situation: str, facts: str, more: str, told: str
) -> None:
    text = LINE.format(situation=situation, facts=facts, more=more)
    with pytest.raises(BrokenRules, match=told):
        model.read(book, _write(tmp_path, text))


def test_an_id_used_twice_is_told(book: RuleBook, tmp_path: Path) -> None:
    line = LINE.format(situation="H06", facts="hold: jug", more="")
    with pytest.raises(BrokenRules, match="twice"):
        model.read(book, _write(tmp_path, line + line))


def _one(book: RuleBook, tmp_path: Path, facts: str, maybe: str = "") -> Message:
    more = f", maybe: {{{maybe}}}"
    (message,) = model.read(
        book, _write(tmp_path, LINE.format(situation="H06", facts=facts, more=more))
    )
    return message


@pytest.mark.parametrize(
    ("facts", "maybe", "heard", "right", "missed", "extra"),
    [
        ("hold: jug", "", [Heard("hold", "jug")], 1, 0, 0),
        ("hold: jug", "", [Heard("hold", "edge")], 0, 1, 1),
        ("hold: jug", "", [Heard("hold", "jug", True)], 0, 1, 1),
        ("hold: jug", "", [Heard("hold", "jug"), Heard("hold", "edge", True)], 1, 0, 0),
        ("trouble: [foot_slips]", "", [Heard("trouble", "foot_slips", True)], 0, 1, 1),
        ("hold: jug", "wall: steep", [Heard("hold", "jug"), Heard("wall", "steep")], 1, 0, 0),
        ("hold: jug", "wall: steep", [Heard("hold", "jug"), Heard("wall", "roof")], 1, 0, 1),
        ("height: 163", "", [Heard("height", 162.56)], 1, 0, 0),
        ("height: 163", "", [Heard("height", 165)], 0, 1, 1),
        ("age: 15", "", [Heard("age", 16)], 0, 1, 1),
        ('hurts: "no"', "", [Heard("hurts", True, True)], 1, 0, 0),
        ('hurts: "no"', "", [Heard("hurts", True)], 0, 1, 1),
        ("wall_angle: 40", "", [Heard("wall_angle", 40), Heard("wall", "steep")], 1, 0, 0),
        ("problem_grade: 6A", "", [Heard("problem_grade", 6)], 1, 0, 0),
        ("hold: jug", "", [Heard("hold", "jug"), Heard("act", "ask_why")], 1, 0, 0),
        ("hold: jug", "", [Heard("hold", "jug"), Heard("off_topic", "greeting")], 1, 0, 0),
        ("off_topic: [thanks]", "", [Heard("off_topic", "greeting")], 0, 1, 1),
        ("trouble: [heel_slips]", "", [Heard("foot_move", "heel_hook")], 0, 1, 0),
    ],
)
def test_counts(
    book: RuleBook,
    tmp_path: Path,
    facts: str,
    maybe: str,
    heard: list[Heard],
    right: int,
    missed: int,
    extra: int,
) -> None:
    found = score.compare(book, _one(book, tmp_path, facts, maybe), heard)
    assert (len(found.right), len(found.missed), len(found.extra)) == (right, missed, extra)


def _as_heard(facts: Iterable[Noted]) -> list[Heard]:
    return [Heard(*n) for n in facts]


def test_a_perfect_and_a_deaf_reader(book: RuleBook, held_back: tuple[Message, ...]) -> None:
    stated = {m.say: _as_heard(m.facts) for m in held_back}
    perfect = score.score_facts(book, held_back, stated.__getitem__)
    assert perfect.all.f1 == 1
    assert not perfect.unnoticed()
    assert not perfect.raised_for_nothing()
    deaf = score.score_facts(book, held_back, lambda _: [])
    assert (deaf.all.recall, deaf.all.f1) == (0, 0)
    alarming = [
        m for m in held_back if any(n.fact in score.ALARMS and not n.denied for n in m.facts)
    ]
    assert deaf.unnoticed() == alarming


def test_a_reader_that_cries_wolf(book: RuleBook, held_back: tuple[Message, ...]) -> None:
    wolf = score.score_facts(book, held_back, lambda _: [Heard("alarm", "seizure")])
    for m in wolf.raised_for_nothing():
        assert not any(n.fact in score.ALARMS and not n.denied for n in m.facts)
    assert len(wolf.raised_for_nothing()) > len(held_back) / 2


def test_answers_are_counted(book: RuleBook, held_back: tuple[Message, ...]) -> None:
    def good(m: Message) -> score.Answer:
        first = (m.skills[:1],) if m.skills else ()
        return score.Answer(first, m.stop, book.situations[m.situation].family != "scope")

    best = score.score_advice(book, held_back, good)
    assert (best.all.skills, best.all.at_once, best.all.stop, best.all.scope) == (1, 1, 1, 1)

    def fourth(m: Message) -> score.Answer:
        return score.Answer(((), (), (), tuple(m.skills)), not m.stop, True)

    late = score.score_advice(book, held_back, fourth)
    assert (late.all.skills, late.all.stop) == (0, 0)
    assert late.stops_missed == sum(m.stop for m in held_back)
    assert 0 < late.all.scope < 1


def test_the_held_back_set_stays_secret(book: RuleBook, held_back: tuple[Message, ...]) -> None:
    facts = score.score_facts(book, held_back, lambda _: [Heard("alarm", "seizure")])
    advice = score.score_advice(book, held_back, lambda m: score.Answer((), not m.stop, True))
    shown = "\n".join(
        [
            *score.facts_report("held-back set", facts, secret=True, show=True),
            *score.advice_report("held-back set", advice, secret=True, show=True),
        ]
    )
    for m in held_back:
        assert m.id not in shown
        assert m.say not in shown
    open_set = "\n".join(score.facts_report("any set", facts, secret=False, show=True))
    assert held_back[0].id in open_set
