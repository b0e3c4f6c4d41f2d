"""The phrase language: what each form matches, and mistakes told with both places."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from coachbot.knowledge.book import load
from coachbot.knowledge.phrases import BadPhrase, parse
from coachbot.knowledge.places import shipped_rules
from coachbot.knowledge.problems import BrokenRules
from coachbot.understanding import Reader

VOCABULARY = """
colour:
  kind: several
  about: move
  say: "{value}"
  values:
    red: {say: "red"}
    blue: {say: "blue"}
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A small rule folder with one fact and the shipped cues."""
    rules = tmp_path / "rules"
    (rules / "vocabulary").mkdir(parents=True)
    (rules / "words").mkdir()
    (rules / "vocabulary" / "colour.yaml").write_text(VOCABULARY, "utf-8")
    for name in ("grades.yaml", "words/cues.yaml", "words/concepts.yaml"):
        shutil.copy(shipped_rules() / name, rules / name)
    return rules


def written(folder: Path, *phrases: str) -> Reader:
    lines = "\n".join(f'    - "{p}"' for p in phrases)
    (folder / "words" / "colour.yaml").write_text(f"colour:\n  red:\n{lines}\n", "utf-8")
    return Reader(load(folder))


@pytest.mark.parametrize(
    ("phrase", "fits", "fails"),
    [
        ("foot slip", ["my foot slips", "foot keeps slipping", "feet slipped"], ["slip of foot"]),
        ("jug|bucket", ["a bucket", "two jugs"], ["a buck"]),
        ("(big|good) hold", ["good holds"], ["hold", "a bad hold"]),
        ("(big) hold", ["hold", "big hold"], ["big"]),
        ("(big|good)? hold", ["hold", "good hold"], ["good"]),
        ("foot ... slab", ["foot slips right there on the slab"], ["foot. And a slab"]),
        ("foot & slab", ["on the slab my foot", "my foot on a slab"], ["foot! A slab."]),
        ("foot > slab", ["my foot slips, on a slab", "a foot. The slab"], ["on the slab my foot"]),
        (
            "slip @ <foot>",
            ["my foot is on and slips", "my toe holds for a bit, then slips", "left shoe slips"],
            ["my hand slips off when I stand on the foot", "my foot stays, the hand slips"],
        ),
        (
            "catch > slip @ <foot>",
            ["I catch it. Then my foot slips"],
            ["my foot slips and I catch it", "I catch it, my foot stays, my hand slips"],
        ),
        (
            "slip ~ <foot>",
            ["I slip", "on the second try I just slip"],
            ["I slip when the foot moves", "my toe is on. I slip"],
        ),
        ("not reach", ["can't reach", "never reach", "unable to reach"], ["I reach"]),
        ("=left", ["go left"], ["he leaves"]),
        ("heel-hook", ["heel hook", "heelhook", "heel-hooking"], ["heel. Hook"]),
        ("<foot> pop", ["my toe pops", "shoe popped"], ["popped"]),
        ("try # times", ["tried 12 times", "try twenty times"], ["tried many times"]),
        ("on a #alone", ["on a 40", "on a 40, slab"], ["on a 3 move boulder"]),
        ("#time ago", ["two years ago", "3 weeks ago"], ["long ago"]),
        ("#grade slab", ["a V4 slab", "6b+ slab"], ["a slab"]),
    ],
)
def test_what_a_phrase_matches(
    folder: Path, phrase: str, fits: list[str], fails: list[str]
) -> None:
    reader = written(folder, phrase)
    assert [t for t in fits if not reader.read(t).heard] == []
    assert [t for t in fails if reader.read(t).heard] == []


def test_a_false_friend_blocks_where_it_stands(folder: Path) -> None:
    reader = written(folder, "pop", "! pop for")
    assert reader.read("I felt it pop").heard
    assert not reader.read("popping for the jug").heard
    assert reader.read("popping for the jug, then a pop").heard


@pytest.mark.parametrize(
    "phrase", ["", "  ", "(big", "big)", "<foot", "#miles", "a|the", "...", "foot?slip", "(a) b(c)"]
)
def test_phrases_that_cannot_be_read(phrase: str) -> None:
    with pytest.raises(BadPhrase):
        parse(phrase)


def test_mistakes_are_told_with_their_places(folder: Path) -> None:
    words = folder / "words"
    (words / "one.yaml").write_text(
        "colour:\n  red:\n    - rosy|pink\n    - <nosuch> one\n    - (rosy\n", "utf-8"
    )
    (words / "two.yaml").write_text("colour:\n  blue:\n    - sky\n    - rosy\n", "utf-8")
    with pytest.raises(BrokenRules) as broken:
        load(folder)
    told = [(p.path.split("/")[-1], p.line, p.message) for p in broken.value.problems]
    assert ("one.yaml", 5) in {(path, line) for path, line, _ in told}
    assert any('unknown name "<nosuch>"' in m and line == 4 for _, line, m in told)
    (doubled,) = [t for t in told if "keep it in one place" in t[2]]
    assert doubled[:2] == ("two.yaml", 4)
    assert "one.yaml:3" in doubled[2]


def test_a_coach_adds_a_word_without_python(folder: Path) -> None:
    assert not written(folder, "rosy").read("a gribble of a hold").heard
    assert written(folder, "rosy", "gribble").read("a gribble of a hold").heard
