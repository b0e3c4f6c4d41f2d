"""A coach adds words without Python, and is told when a word already means something else."""

from __future__ import annotations

from pathlib import Path

import pytest

from coachbot.knowledge.book import load
from coachbot.knowledge.places import shipped_rules
from coachbot.knowledge.problems import BrokenRules
from coachbot.understanding import Reader


def own_words(folder: Path, text: str) -> Path:
    (folder / "words").mkdir(parents=True)
    (folder / "words" / "ours.yaml").write_text(text)
    return folder


def test_a_new_word_is_understood(tmp_path: Path) -> None:
    own = own_words(tmp_path / "saltmarsh", "hold:\n  jug: [soupspoon]\n")
    heard = Reader(load(shipped_rules(), own)).read("i am on the soupspoon").heard
    assert ("hold", "jug") in {(h.fact, h.value) for h in heard}
    heard = Reader(load(shipped_rules())).read("i am on the soupspoon").heard
    assert ("hold", "jug") not in {(h.fact, h.value) for h in heard}


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("hold:\n  jug: [sloper]\n", "keep it in one place"),
        ("hold:\n  jog: [doorhandle]\n", 'Did you mean "jug"?'),
        ("hould:\n  jug: [doorhandle]\n", 'Did you mean "hold"?'),
        ("hold:\n  jug: ['(open']\n", "bracket"),
        ("hold:\n  jug: ['<hnad> slip']\n", 'Did you mean "hand"?'),
    ],
)
def test_a_word_that_cannot_be_is_told_with_its_place(
    tmp_path: Path, text: str, message: str
) -> None:
    own = own_words(tmp_path / "saltmarsh", text)
    with pytest.raises(BrokenRules) as caught:
        load(shipped_rules(), own)
    assert any(message in str(p) and "ours.yaml:" in str(p) for p in caught.value.problems), (
        caught.value
    )
