"""A gym's folder over the shipped one, when an update changes what it rests on."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner

from coachbot.doors import workshop_rules
from coachbot.doors.commands import main
from coachbot.knowledge.book import load
from coachbot.knowledge.problems import BrokenRules, Refused
from coachbot.workshop.folder import OwnFolder
from coachbot.workshop.layers import (
    Kind,
    conflicts,
    fingerprint,
    notes,
    noting,
    switch_off,
    switch_on,
    switched_off,
)

from .conftest import RULE

TODAY = date(2026, 12, 1)
SHIPPED = "sloper-hang-low"
FILE = f"holds/{SHIPPED}.yaml"


@pytest.fixture
def replaced(small: Path, own: OwnFolder) -> OwnFolder:
    """The own folder with a replacement of a shipped rule, noted."""
    text = (small / FILE).read_text()
    own.write({FILE: RULE, **noting(own, SHIPPED, text, TODAY)}, "replaced")
    return own


def kinds(small: Path, own: OwnFolder) -> dict[str, Kind]:
    return {c.rule: c.kind for c in conflicts(small, own)}


def test_a_replacement_counts_and_its_note_is_no_part_of_the_book(
    small: Path, replaced: OwnFolder
) -> None:
    book = load(small, replaced.path)
    assert book.rules[SHIPPED].rule.author == "Ines"
    assert set(book.rules) >= {SHIPPED, "chest-over-feet"}
    assert kinds(small, replaced) == {}


def test_line_ends_do_not_count_as_a_change(small: Path, replaced: OwnFolder) -> None:
    file = small / FILE
    file.write_bytes(file.read_bytes().replace(b"\n", b"\r\n"))
    assert kinds(small, replaced) == {}


def test_a_changed_shipped_rule_is_told_with_what_changed(small: Path, replaced: OwnFolder) -> None:
    file = small / FILE
    file.write_text(file.read_text().replace("strength: 0.9", "strength: 0.8"))
    (conflict,) = conflicts(small, replaced)
    assert conflict.kind is Kind.CHANGED
    assert "-  strength: 0.9" in conflict.difference
    assert "+  strength: 0.8" in conflict.difference


def test_a_new_shipped_rule_with_the_id_of_an_own_one_is_told(small: Path, own: OwnFolder) -> None:
    (small / "holds" / "chest-over-feet.yaml").write_text(RULE)
    assert kinds(small, own) == {"chest-over-feet": Kind.SAME_ID}


def test_a_shipped_rule_that_is_gone_is_told(small: Path, replaced: OwnFolder) -> None:
    (small / FILE).unlink()
    assert kinds(small, replaced) == {SHIPPED: Kind.GONE}


def test_off_is_noted_changed_and_gone(small: Path, own: OwnFolder) -> None:
    own.write(switch_off(small, own, SHIPPED, TODAY), "off")
    assert SHIPPED not in load(small, own.path).rules
    assert kinds(small, own) == {}
    with pytest.raises(Refused, match="off already"):
        switch_off(small, own, SHIPPED, TODAY)
    file = small / FILE
    file.write_text(file.read_text() + "note: more\n")
    assert kinds(small, own) == {SHIPPED: Kind.OFF_CHANGED}
    file.unlink()
    assert kinds(small, own) == {SHIPPED: Kind.OFF_GONE}


def test_off_by_hand_is_told_and_on_leaves_nothing_behind(small: Path, own: OwnFolder) -> None:
    (own.path / "off.yaml").write_text(f"# why: too strict for us\n- {SHIPPED}\n")
    assert kinds(small, own) == {SHIPPED: Kind.OFF_UNNOTED}
    own.write(switch_on(own, SHIPPED), "on")
    assert switched_off(own) == ()
    assert SHIPPED in load(small, own.path).rules
    with pytest.raises(Refused, match="not off"):
        switch_on(own, SHIPPED)


def test_comments_in_off_yaml_stay(small: Path, own: OwnFolder) -> None:
    (own.path / "off.yaml").write_text("# ours\n- sloper-look-for-the-dish\n")
    own.write(switch_off(small, own, SHIPPED, TODAY), "off")
    assert own.text("off.yaml") == f"# ours\n- sloper-look-for-the-dish\n- {SHIPPED}\n"
    own.write(switch_on(own, SHIPPED), "on")
    assert own.text("off.yaml") == "# ours\n- sloper-look-for-the-dish\n"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("x: {of: short, on: 2026-12-01}\n", "replaces.yaml:1:"),
        ("x: {of: 0123456789abcdef}\n", '"on" is missing'),
        ("x: !!python/name:os.system ''\n", "tag"),
        ("\tx: y\n", "tab"),
        ("- x\n", "replaces.yaml:1:"),
    ],
)
def test_a_broken_note_is_refused_with_its_place(own: OwnFolder, text: str, message: str) -> None:
    (own.path / "replaces.yaml").write_text(text)
    with pytest.raises(BrokenRules) as caught:
        notes(own)
    assert message in str(caught.value)


def test_the_command_shows_and_settles(
    small: Path, replaced: OwnFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(workshop_rules, "shipped_rules", lambda: small)
    file = small / FILE
    file.write_text(file.read_text().replace("strength: 0.9", "strength: 0.8"))
    args = ["rules", "conflicts", "--own", str(replaced.path)]
    told = CliRunner().invoke(main, args)
    assert told.exit_code == 1
    assert "has changed since yours was made from it" in " ".join(told.stdout.split())
    assert "strength: 0.8" in told.stdout
    (data,) = json.loads(CliRunner().invoke(main, [*args, "--json"]).stdout)
    assert (data["rule"], data["kind"]) == (SHIPPED, "changed")
    settled = CliRunner().invoke(main, [*args, "--settle", SHIPPED])
    assert settled.exit_code == 0, settled.output
    assert notes(replaced)[SHIPPED].of == fingerprint(file.read_text())
    assert replaced.text(FILE) == RULE


def test_conflicts_are_shown_while_the_rules_cannot_be_loaded(small: Path, own: OwnFolder) -> None:
    (own.path / "off.yaml").write_text("- gone-with-the-update\n")
    with pytest.raises(BrokenRules, match="to switch off"):
        load(small, own.path)
    assert kinds(small, own) == {"gone-with-the-update": Kind.OFF_GONE}
