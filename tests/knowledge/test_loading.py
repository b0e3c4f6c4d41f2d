"""Loading a rule folder: every mistake at once, each with file, line, column and what to do."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from coachbot.knowledge.book import load
from coachbot.knowledge.places import shipped_rules
from coachbot.knowledge.problems import BrokenRules

SOUND = """\
serves: [F01]
when:
  - trouble is foot_slips
suggest:
  now: "Look at the foothold until the toe is on it."
  drill: "Ten silent steps on an easy wall."
  works_when: "No foot makes a sound."
  skills: [foot-placement]
  strength: 0.5
  sure: 0.5
why: "Eyes guide the foot."
ground:
  - {key: common-practice, says: "look until the foot is placed"}
author: Ines
reviewed: 2026-11-01
"""


@pytest.fixture
def rules(tmp_path: Path) -> Path:
    """A copy of the shipped vocabulary without its rules, to break."""
    folder = tmp_path / "rules"
    shutil.copytree(shipped_rules(), folder, ignore=_only_vocabulary)
    (folder / "feet").mkdir()
    return folder


def _only_vocabulary(folder: str, names: list[str]) -> set[str]:
    if Path(folder) != shipped_rules():
        return set()
    return {n for n in names if n not in {"vocabulary", "words"} and not n.endswith(".yaml")}


def problems_of(*folders: Path) -> list[str]:
    with pytest.raises(BrokenRules) as caught:
        load(*folders)
    return [str(p) for p in caught.value.problems]


def put(rules: Path, text: str | bytes, name: str = "feet/look.yaml") -> None:
    data = text if isinstance(text, bytes) else text.encode()
    (rules / name).write_bytes(data)


def test_a_sound_rule_loads(rules: Path) -> None:
    put(rules, SOUND)
    book = load(rules)
    assert list(book.rules) == ["look"]
    assert book.rules["look"].family == "feet"


@pytest.mark.parametrize(
    ("old", "new", "where", "message"),
    [
        ("trouble is", "troubel is", "feet/look.yaml:3:", 'Did you mean "trouble"?'),
        ("foot_slips", "foot_slip", "feet/look.yaml:3:", 'Did you mean "foot_slips"?'),
        ("[foot-placement]", "[foot-placment]", "look.yaml:8:", 'Did you mean "foot-placement"'),
        ("serves: [F01]", "serves: [F99]", "feet/look.yaml:1:", 'unknown situation "F99"'),
        ("common-practice", "comon-practice", "look.yaml:13:", 'Did you mean "common-practice"'),
        ("  drill:", "  dril:", "feet/look.yaml:", 'Did you mean "drill"?'),
        ("strength: 0.5", "strength: 7", "feet/look.yaml:9:", "less than or equal to 1"),
        ("strength: 0.5", "strength: much", "feet/look.yaml:9:", "number"),
        ('why: "Eyes guide the foot."\n', "", "feet/look.yaml:1:", '"why" is missing'),
        ("2026-11-01", "yesterday", "feet/look.yaml:15:", "date"),
        ("trouble is foot_slips", "wall_angle is at least steep", "look.yaml:3:", "takes a number"),
        ("trouble is foot_slips", "wall_angle is at least 400", "look.yaml:3:", "-60 to 95"),
        ("trouble is foot_slips", "trouble is at least foot_slips", "look.yaml:3:", "is no number"),
        ("trouble is foot_slips", "foot slips", "look.yaml:3:", "is not a condition"),
    ],
)  # fmt: skip
def test_a_mistake_is_told_with_its_place_and_the_nearest_name(
    rules: Path, old: str, new: str, where: str, message: str
) -> None:
    assert old in SOUND
    put(rules, SOUND.replace(old, new))
    (problem,) = [p for p in problems_of(rules) if message in p]
    assert where in problem


def test_all_mistakes_are_told_at_once(rules: Path) -> None:
    put(rules, SOUND.replace("foot_slips", "foot_slip").replace("strength: 0.5", "strength: 7"))
    put(rules, SOUND.replace("[F01]", "[F98]"), "feet/other.yaml")
    put(rules, "a: [1", "feet/third.yaml")
    found = problems_of(rules)
    for file in ("look.yaml:9", "other.yaml:1", "third.yaml:"):
        assert any(file in p for p in found)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (b"\xff\xfe\x00bad", "UTF-8"),
        ("when:\n\t- trouble is foot_slips\n", "tab"),
        ("when: []\nwhen: []\n", "second time"),
        ("when: !!python/object/apply:os.system ['echo hi']\n", "tag"),
        ("a: &x [*x]\n", "again"),
        ("a: &x [1]\nb: *x\n", "again"),
        ("", "empty"),
        ("a: " + "[" * 60 + "]" * 60, "too deeply"),
        ("? [a, b]\n: c\n", "plain word"),
        ("when: [", "not valid YAML"),
        ("x" * 1_200_000, "larger than"),
    ],
)
def test_what_must_not_be_in_a_rule_file_is_refused_with_its_reason(
    rules: Path, text: str | bytes, message: str
) -> None:
    put(rules, text)
    found = problems_of(rules)
    assert any(message in p for p in found), found
    assert all("rules/feet/look.yaml:" in p for p in found)


def test_a_link_out_of_the_folder_is_refused(rules: Path, tmp_path: Path) -> None:
    outside = tmp_path / "outside.yaml"
    outside.write_text(SOUND)
    (rules / "feet" / "look.yaml").symlink_to(outside)
    assert any("leads out" in p for p in problems_of(rules))


def test_nothing_is_executed(rules: Path, tmp_path: Path) -> None:
    mark = tmp_path / "mark"
    put(rules, f"when: !!python/object/apply:os.system ['touch {mark}']\n")
    problems_of(rules)
    assert not mark.exists()


def test_two_files_with_one_id_are_a_mistake(rules: Path) -> None:
    put(rules, SOUND)
    (rules / "holds").mkdir(exist_ok=True)
    put(rules, SOUND, "holds/look.yaml")
    assert any("stands in" in p for p in problems_of(rules))


def test_a_gyms_own_folder_adds_replaces_and_switches_off(rules: Path, tmp_path: Path) -> None:
    put(rules, SOUND)
    put(rules, SOUND, "feet/press.yaml")
    own = tmp_path / "saltmarsh"
    (own / "feet").mkdir(parents=True)
    (own / "feet" / "look.yaml").write_text(SOUND.replace("Ines", "Tomas"))
    (own / "feet" / "listen.yaml").write_text(SOUND)
    (own / "off.yaml").write_text("- press\n")
    book = load(rules, own)
    assert set(book.rules) == {"look", "listen"}
    assert book.rules["look"].rule.author == "Tomas"
    (own / "off.yaml").write_text("- pres\n")
    assert any('Did you mean "press"?' in p for p in problems_of(rules, own))


def test_a_missing_folder_is_told(tmp_path: Path) -> None:
    assert any("no such rule folder" in p for p in problems_of(tmp_path / "nowhere"))


def test_a_concluded_fact_must_be_declared_so(rules: Path) -> None:
    put(rules, SOUND.replace("suggest:", "then: [age is 12]\nsuggest:"))
    assert any("concluded: yes" in p for p in problems_of(rules))


def test_a_broken_list_of_sets_of_words_is_told_once(rules: Path) -> None:
    """Not a second time at each of the thousands of phrases that use its names."""
    put(rules, "hand:\n  - [\n", "words/concepts.yaml")
    found = problems_of(rules)
    assert len(found) < 5
    assert found[0].startswith("rules/words/concepts.yaml:")
