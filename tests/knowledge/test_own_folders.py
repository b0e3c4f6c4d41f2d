"""A gym's own folder with anything in it: refused with file, line and reason, nothing run."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from coachbot.knowledge.book import load
from coachbot.knowledge.places import shipped_rules
from coachbot.knowledge.problems import BrokenRules

from .test_loading import SOUND


@pytest.fixture
def own(tmp_path: Path) -> Path:
    folder = tmp_path / "saltmarsh"
    for name in ("feet", "words", "vocabulary", "tests/feet"):
        (folder / name).mkdir(parents=True)
    (folder / "feet" / "look-again.yaml").write_text(SOUND)
    return folder


FACT = """\
pump_now:
  kind: yes-no
  say: "the forearms are pumped now"
"""
FILES = ("feet/look-again.yaml", "words/ours.yaml", "vocabulary/ours.yaml", "off.yaml",
         "situations.yaml", "skills.yaml", "sources.yaml", "words/concepts.yaml")  # fmt: skip
BAD: tuple[tuple[bytes, str], ...] = (
    (b"\xff\xfea\x00", "not UTF-8"),
    ("größe: [é]\n".encode("latin-1"), "not UTF-8"),
    (b"a:\n\t- b\n", "a tab stands"),
    (b"a: 1\na: 2\n", "a second time"),
    (b"a: !!python/object/apply:os.system ['touch MARK']\n", "tag"),
    (b"a: !!python/name:os.system ''\n", "tag"),
    (b"!!python/object/new:os.system ['touch MARK']\n", "tag"),
    (b"a: !own [1]\n", "tag"),
    (b"a: &x [*x]\n", "again"),
    (b"a: &x {b: [*x, *x]}\nc: *x\n", "again"),
    (b"a: [" + b"[" * 5000, "YAML|deeply"),
    (b"a: {b: ", "not valid YAML"),
    (b"--- a\n--- b\n", "not valid YAML"),
    (b"", "is empty"),
    (b"# nothing here\n", "is empty"),
    (b"a: b\x00c\n", "not valid YAML"),
)  # fmt: skip


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize(("text", "message"), BAD, ids=range(len(BAD)))
def test_bad_input_is_refused_in_every_kind_of_file(
    own: Path, name: str, text: bytes, message: str
) -> None:
    mark = own.parent / "mark"
    (own / name).write_bytes(text.replace(b"MARK", str(mark).encode()))
    with pytest.raises(BrokenRules) as caught:
        load(shipped_rules(), own)
    problems = [p for p in caught.value.problems if p.path == f"saltmarsh/{name}"]
    assert any(any(m in p.message for m in message.split("|")) for p in problems), problems
    assert all(p.line >= 1 and p.column >= 1 for p in problems)
    assert not mark.exists()
    assert (own / name).read_bytes() == text.replace(b"MARK", str(mark).encode())


@pytest.mark.parametrize("name", ["feet/look-again.yaml", "words/ours.yaml", "off.yaml"])
def test_a_file_of_50_megabytes_is_refused_unread(own: Path, name: str) -> None:
    with (own / name).open("wb") as file:
        file.truncate(50_000_000)
    with pytest.raises(BrokenRules, match="larger than"):
        load(shipped_rules(), own)


def test_links_out_are_refused_in_every_kind_of_folder(own: Path, tmp_path: Path) -> None:
    outside = tmp_path / "outside.yaml"
    outside.write_text(FACT)
    for name in ("vocabulary/linked.yaml", "words/linked.yaml", "feet/linked.yaml"):
        (own / name).symlink_to(outside)
    with pytest.raises(BrokenRules) as caught:
        load(shipped_rules(), own)
    assert sum("leads out" in p.message for p in caught.value.problems) == 3


def test_what_cannot_be_read_is_told(own: Path) -> None:
    (own / "feet" / "gone.yaml").symlink_to(own / "feet" / "nowhere.yaml")
    with pytest.raises(BrokenRules, match="cannot be read"):
        load(shipped_rules(), own)


def test_what_is_no_ordinary_file_is_told_and_not_waited_for(own: Path) -> None:
    one, other = own / "feet" / "one.yaml", own / "feet" / "other.yaml"
    one.symlink_to(other)
    other.symlink_to(one)
    (own / "feet" / "folder.yaml").mkdir()
    os.mkfifo(own / "feet" / "pipe.yaml")
    (own / "feet" / "endless.yaml").symlink_to("/dev/zero")
    with pytest.raises(BrokenRules) as caught:
        load(shipped_rules(), own)
    told = {p.path.rpartition("/")[2]: p.message for p in caught.value.problems}
    assert set(told) == {"one.yaml", "other.yaml", "folder.yaml", "pipe.yaml", "endless.yaml"}
    assert "leads nowhere" in told["one.yaml"]
    assert told["pipe.yaml"] == "is no ordinary file"


def test_a_link_to_a_folder_is_told_and_not_passed_over(own: Path, tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "x.yaml").write_text(SOUND)
    (own / "hands").symlink_to(outside)
    (own / "round").symlink_to(own)
    with pytest.raises(BrokenRules) as caught:
        load(shipped_rules(), own)
    assert [p.path for p in caught.value.problems] == ["saltmarsh/hands", "saltmarsh/round"]
    assert all("link to a folder" in p.message for p in caught.value.problems)


def test_anchors_that_would_grow_without_end_are_refused_at_once(own: Path) -> None:
    lines = ["a0: &a0 [x, x]"]
    lines += [f"a{i}: &a{i} [*a{i - 1}, *a{i - 1}, *a{i - 1}]" for i in range(1, 60)]
    (own / "feet" / "look-again.yaml").write_text("\n".join(lines))
    with pytest.raises(BrokenRules, match="used again"):
        load(shipped_rules(), own)


@pytest.mark.parametrize("encoding", ["utf-16", "utf-32", "latin-1"])
def test_other_encodings_are_refused_and_a_byte_order_mark_is_not(own: Path, encoding: str) -> None:
    file = own / "feet" / "look-again.yaml"
    file.write_bytes(SOUND.replace("Eyes", "Ähm").encode(encoding))
    with pytest.raises(BrokenRules, match="not UTF-8"):
        load(shipped_rules(), own)
    file.write_bytes(SOUND.encode("utf-8-sig"))
    assert "look-again" in load(shipped_rules(), own).rules


@pytest.mark.parametrize("name", ["feet/Look Out.yaml", "feet/a@b.yaml", "Feet!/look.yaml"])
def test_an_id_or_family_that_is_no_name_is_refused(own: Path, name: str) -> None:
    (own / name).parent.mkdir(exist_ok=True)
    (own / name).write_text(SOUND)
    with pytest.raises(BrokenRules, match="is no name"):
        load(shipped_rules(), own)


def test_tests_and_notes_are_no_rules(own: Path) -> None:
    (own / "tests" / "feet" / "look-again.yaml").write_text("practice: x\n")
    (own / "tests" / "feet" / "broken.yaml").write_text("when: [")
    (own / "replaces.yaml").write_text("anything: {of: it}\n")
    (own / ".undo").mkdir()
    (own / ".undo" / "x.yaml").write_text("when: [")
    book = load(shipped_rules(), own)
    assert book.rules["look-again"].family == "feet"
    assert "broken" not in book.rules


def test_own_facts_and_words_join_the_shipped_ones(own: Path) -> None:
    (own / "vocabulary" / "ours.yaml").write_text(FACT)
    (own / "words" / "ours.yaml").write_text('pump_now:\n  "yes": ["pumped silly"]\n')
    book = load(shipped_rules(), own)
    assert book.words["pump_now"]["yes"] == ("pumped silly",)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('pump_nwo:\n  "yes": ["x"]\n', "unknown fact"),
        ('hold:\n  slopper: ["x"]\n', 'Did you mean "sloper"'),
        ('hold:\n  sloper: "x"\n', "list"),
        ('- hold\n', "dictionary"),
    ],
)  # fmt: skip
def test_words_for_what_is_not_there_are_refused(own: Path, text: str, message: str) -> None:
    (own / "words" / "ours.yaml").write_text(text)
    with pytest.raises(BrokenRules, match=message) as caught:
        load(shipped_rules(), own)
    assert "saltmarsh/words/ours.yaml:" in str(caught.value)


def test_all_mistakes_of_all_files_are_told_at_once(own: Path) -> None:
    (own / "words" / "ours.yaml").write_text('nothing:\n  "yes": ["x"]\n')
    (own / "feet" / "second.yaml").write_text(SOUND.replace("foot_slips", "foot_slip"))
    (own / "off.yaml").write_text("- no-such-rule\n")
    with pytest.raises(BrokenRules) as caught:
        load(shipped_rules(), own)
    assert {p.path for p in caught.value.problems} == {
        "saltmarsh/words/ours.yaml", "saltmarsh/feet/second.yaml", "saltmarsh/off.yaml",
    }  # fmt: skip
