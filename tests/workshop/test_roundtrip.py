"""Single fields changed in YAML files; all else stays to the last byte."""

from __future__ import annotations

import difflib
from pathlib import Path

import pytest
import yaml

from coachbot.knowledge.places import shipped_rule_tests, shipped_rules
from coachbot.knowledge.problems import Refused
from coachbot.workshop import roundtrip

from .conftest import RULE


def rule_files() -> list[Path]:
    families = [d for d in shipped_rules().iterdir() if d.name not in {"vocabulary", "words"}]
    rules = [f for d in families if d.is_dir() for f in d.glob("*.yaml")]
    return sorted([*rules, *shipped_rule_tests().rglob("*.yaml")])


def test_every_shipped_rule_and_test_comes_back_as_it_is() -> None:
    files = rule_files()
    assert len(files) > 1000
    for file in files[::7]:
        text = file.read_text("utf-8")
        assert roundtrip.write(roundtrip.read(text)) == text, file


def changed_lines(before: str, after: str) -> list[str]:
    lines = difflib.unified_diff(before.splitlines(), after.splitlines(), lineterm="", n=0)
    return [line for line in lines if line[:1] in "+-" and line[:3] not in {"+++", "---"}]


@pytest.mark.parametrize(
    ("path", "text", "lines"),
    [
        ("now", 'Say "go": then press.', ["-  now: \"Chest over the feet, then press.\"",
                                          "+  now: \"Say \\\"go\\\": then press.\""]),
        ("suggest.strength", "0.5", ["-  strength: 0.95", "+  strength: 0.5"]),
        ("when[2]", "wall is vertical", ["-  - wall is slab", "+  - wall is vertical"]),
        ("when[+]", "trouble is hand_slips", ["+  - trouble is hand_slips"]),
        ("skills", "weight-shift, smear", ["-  skills: [weight-shift]",
                                           "+  skills: [weight-shift, smear]"]),
        ("dose", "3 goes", ["+  dose: \"3 goes\""]),
        ("cautions[+]", "Not when the knee hurts.", ["+  cautions:",
                                                     "+    - \"Not when the knee hurts.\""]),
        ("reviewed", "2026-12-24", ["-reviewed: 2026-11-01", "+reviewed: 2026-12-24"]),
        ("ground[1].says", "feet carry", ["-    says: \"weight over the feet on a slab\"",
                                          "+    says: \"feet carry\""]),
    ],
)  # fmt: skip
def test_one_field_changes_and_nothing_else(path: str, text: str, lines: list[str]) -> None:
    tree = roundtrip.read(RULE)
    roundtrip.put(tree, path, text)
    after = roundtrip.write(tree)
    assert sorted(changed_lines(RULE, after)) == sorted(lines)
    assert "# Ines wrote this" in after
    assert "# the round ones by the door" in after
    yaml.safe_load(after)  # another reader of YAML takes it too


@pytest.mark.parametrize(
    ("path", "message"),
    [
        ("when[9]", "nothing at"),
        ("nonsense[2]", 'no "nonsense"'),
        ("a.b.c", 'no "a"'),
        ("../../etc", "is no field"),
        ("when", "is a list"),
    ],
)
def test_a_field_that_is_not_there_is_refused(path: str, message: str) -> None:
    tree = roundtrip.read(RULE)
    with pytest.raises(Refused, match=message):
        roundtrip.put(tree, path, "wall is slab")
    assert roundtrip.write(tree) == RULE


def test_what_looks_like_yaml_stays_text() -> None:
    tree = roundtrip.read(RULE)
    nasty = "!!python/object/apply:os.system ['x'] # {a: b}"
    roundtrip.put(tree, "why", nasty)
    assert yaml.safe_load(roundtrip.write(tree))["why"] == nasty
