"""Fields of rules changed, switched and taken back from the command line."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from coachbot.doors.commands import main
from coachbot.knowledge.book import load
from coachbot.knowledge.places import shipped_rule_tests, shipped_rules
from coachbot.review.rule_tests import run
from coachbot.workshop.folder import OwnFolder
from coachbot.workshop.own_tests import rule_tests_of

from .conftest import RULE

SHIPPED = "sloper-hang-low"


def rules(own: OwnFolder, *args: str, said: str = "") -> Result:
    return CliRunner().invoke(main, ["rules", *args, "--own", str(own.path)], input=said)


def print_of(folder: Path) -> str:
    digest = hashlib.sha256()
    for file in sorted(folder.rglob("*.yaml")):
        digest.update(file.as_posix().encode() + file.read_bytes())
    return digest.hexdigest()


def test_a_shipped_rule_is_copied_changed_tested_and_never_touched(own: OwnFolder) -> None:
    before = print_of(shipped_rules()), print_of(shipped_rule_tests())
    told = rules(
        own, "edit", SHIPPED, "--set", "now=Sit low, arms long.", "--set", "when[+]=wall is steep",
        "--yes",
    )  # fmt: skip
    assert told.exit_code == 0, told.output
    assert (print_of(shipped_rules()), print_of(shipped_rule_tests())) == before
    book = load(shipped_rules(), own.path)
    rule = book.rules[SHIPPED]
    assert rule.rule.suggest is not None
    assert rule.rule.suggest.now == "Sit low, arms long."
    assert "wall is steep" in rule.rule.when
    report = run(book, rule_tests_of(book), [SHIPPED])
    assert not report.failures
    assert not report.unneeded
    assert SHIPPED in (own.text("replaces.yaml") or "")
    assert "sampled cases" in told.stdout
    assert "before" in told.stdout


def test_a_wording_keeps_the_shipped_test(own: OwnFolder) -> None:
    assert rules(own, "edit", SHIPPED, "--set", "why=Friction.", "--yes").exit_code == 0
    assert own.text(f"tests/holds/{SHIPPED}.yaml") is None


def test_undo_restores_every_file(own: OwnFolder) -> None:
    before = print_of(own.path)
    rules(own, "edit", "chest-over-feet", "--set", "dose=3 goes", "--yes")
    rules(own, "off", SHIPPED)
    assert print_of(own.path) != before
    assert "switched" in rules(own, "undo").stdout
    assert "changed" in rules(own, "undo").stdout
    assert print_of(own.path) == before
    nothing = rules(own, "undo")
    assert nothing.exit_code == 1
    assert "nothing to take back" in nothing.stderr


def test_only_the_field_changes_in_a_file_with_comments(own: OwnFolder) -> None:
    rules(own, "edit", "chest-over-feet", "--set", "strength=0.5", "--yes")
    text = own.text("holds/chest-over-feet.yaml") or ""
    shown = [line for line in text.splitlines() if line not in RULE.splitlines()]
    assert [line.split(":")[0].strip() for line in shown] == ["strength", "reviewed"]


def test_fields_are_asked_for_and_nothing_is_saved_without_a_yes(own: OwnFolder) -> None:
    before = print_of(own.path)
    told = rules(own, "edit", "chest-over-feet", said="suggest.now\nNew cue.\n\nno\n")
    assert told.exit_code == 1
    assert "suggest.now: Chest over the feet, then press." in told.stdout
    assert print_of(own.path) == before
    told = rules(own, "edit", "chest-over-feet", said="suggest.now\nNew cue.\n\nsave\n")
    assert told.exit_code == 0
    assert "New cue." in (own.text("holds/chest-over-feet.yaml") or "")


@pytest.mark.parametrize(
    ("args", "message"),
    [
        (["nothing", "--set", "a=b"], "there is no rule"),
        (["chest-over-feet", "--set", "now"], "FIELD=TEXT"),
        (["chest-over-feet", "--set", "strength=9"], "less than or equal to 1"),
        (["chest-over-feet", "--set", "when[1]=hold is slopper"], 'Did you mean "sloper"'),
        (["chest-over-feet", "--set", "nonsense=1"], "is not used here"),
        (["chest-over-feet", "--set", "../x=1"], "is no field"),
        (["../../etc/passwd", "--set", "why=x"], "there is no rule"),
    ],
)
def test_a_change_that_would_break_is_refused_and_leaves_all(
    own: OwnFolder, args: list[str], message: str
) -> None:
    before = print_of(own.path)
    told = rules(own, "edit", *args, "--yes")
    assert told.exit_code in {1, 2}
    assert message in " ".join(told.stderr.split())
    assert "Traceback" not in told.output
    assert print_of(own.path) == before


def test_without_a_folder_the_commands_say_what_is_missing() -> None:
    told = CliRunner().invoke(main, ["rules", "undo"])
    assert told.exit_code == 2
    assert "--own FOLDER" in told.stderr
