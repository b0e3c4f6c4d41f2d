"""``coachbot compare``: two rule sets told in lines and as JSON, with what the change does."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner, Result

from coachbot.doors.commands import main
from coachbot.doors.comparing import layers
from coachbot.knowledge.places import shipped_rules
from coachbot.workshop.folder import OwnFolder

PAGE = "# Juno\n\n> my hand slips off the sloper\n\n```\n-\n```\n"
CASE = {
    "type": ["object", "null"],
    "required": ["facts", "told"],
    "additionalProperties": False,
    "properties": {
        "facts": {"type": "array", "items": {"type": "string"}},
        "told": {"type": "string"},
    },
}
NAMES = {"type": "array", "items": {"type": "string"}}


def _object(**properties: object) -> dict[str, object]:
    return {
        "type": "object",
        "required": list(properties),
        "additionalProperties": False,
        "properties": properties,
    }


def _list(**properties: object) -> dict[str, object]:
    return {"type": "array", "items": _object(**properties)}


TEXT = {"type": "string"}
SIDE = _object(folders=NAMES, rules={"type": "integer"})
DIFFERENT = _object(
    looked_at={"type": "integer"},
    different=_list(place=TEXT, said=TEXT, before=TEXT, after=TEXT),
)
SCHEMA = _object(
    before=SIDE,
    after=SIDE,
    same_meaning={"type": "boolean"},
    added=_list(rule=TEXT, case=CASE),
    removed=_list(rule=TEXT, case=CASE),
    renamed=_list(before=TEXT, after=TEXT),
    changed=_list(
        rule=TEXT,
        through=NAMES,
        case=CASE,
        no_longer_fires=CASE,
        now_also_fires=CASE,
        no_longer_concludes=NAMES,
        now_concludes=NAMES,
        concludes_case=CASE,
        fields=_list(field=TEXT, before=TEXT, after=TEXT),
    ),
    questions=_list(
        fact=TEXT,
        before={"type": ["string", "null"]},
        after={"type": ["string", "null"]},
        no_longer_asked=CASE,
        now_also_asked=CASE,
    ),
    rewritten=NAMES,
    only_notes=NAMES,
    beside=_list(kind=TEXT, added=NAMES, removed=NAMES, changed=NAMES),
    not_compared=NAMES,
    effects=_object(conversations=DIFFERENT, messages=DIFFERENT, cases=DIFFERENT),
)


@pytest.fixture
def later(small: Path, tmp_path: Path) -> Path:
    """The small rule set some weeks later: one condition lost, one rule only noted anew."""
    folder = tmp_path / "later" / "rules"
    shutil.copytree(small, folder)
    _put(folder / "holds" / "sloper-hang-low.yaml", "  - grip_question is yes\n", "")
    _put(folder / "holds" / "sloper-look-for-the-dish.yaml", "author: house", "author: Ines")
    return folder


def _put(file: Path, old: str, new: str) -> None:
    text = file.read_text("utf-8")
    assert old in text
    file.write_text(text.replace(old, new), "utf-8")


def run(*args: str | Path) -> Result:
    return CliRunner().invoke(main, ["compare", *map(str, args)])


def test_an_earlier_copy_is_compared_in_80_columns(
    small: Path, later: Path, tmp_path: Path
) -> None:
    page = tmp_path / "kept.md"
    page.write_text(PAGE)
    told = run(small, later, "--pages", page)
    assert told.exit_code == 0, told.output
    assert max(map(len, told.output.splitlines())) <= 80
    assert "\x1b" not in told.output
    flat = " ".join(told.output.split())
    assert "CHANGED IN MEANING (1) sloper-hang-low fires in more cases" in flat
    assert "now also: " in flat
    assert "ONLY NOTES (author, date, source, situations) (1): sloper-look-for-the-dish" in flat
    assert "1 of 1 answers in kept conversations would be others." in flat
    assert "before | after" in flat
    assert "sampled cases (first three suggestions) would be others." in flat
    data = json.loads(run(small, later, "--pages", page, "--json").stdout)
    jsonschema.validate(data, SCHEMA)
    assert [c["rule"] for c in data["changed"]] == ["sloper-hang-low"]
    case = data["changed"][0]["now_also_fires"]
    assert any("sloper" in fact for fact in case["facts"])
    assert f"({', '.join(case['facts'])})" in flat
    assert data["only_notes"] == ["sloper-look-for-the-dish"]
    assert (
        data["effects"]["conversations"]["different"][0]["said"] == "my hand slips off the sloper"
    )


def test_a_copy_without_a_change_is_told_to_mean_the_same(small: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy" / "rules"
    shutil.copytree(small, copy)
    told = run(small, copy)
    assert "No rule differs in meaning" in told.output
    assert "0 of" in told.output


def test_which_sets_are_meant(small: Path, own: OwnFolder, tmp_path: Path) -> None:
    shipped, mine = shipped_rules(), own.path
    assert layers((), [mine]) == ((shipped,), (shipped, mine))
    assert layers((mine,), []) == ((shipped,), (shipped, mine))
    assert layers((), [small]) == ((small,), (shipped,))
    assert layers((mine,), [small]) == ((small,), (shipped, mine))
    assert layers((), [small, mine]) == ((small,), (shipped, mine))
    assert layers((), [mine, mine]) == ((shipped, mine), (shipped, mine))


def test_what_cannot_be_compared_is_told(small: Path, later: Path, tmp_path: Path) -> None:
    told = run()
    assert told.exit_code == 2
    assert "coachbot compare FOLDER" in told.stderr
    told = run(tmp_path / "nowhere")
    assert told.exit_code == 1
    assert "there is no rule folder" in " ".join(told.stderr.split())
    assert run(small, later, small).exit_code == 2
    _put(later / "holds" / "sloper-hang-low.yaml", "serves: [H06]", "serves: [H99]")
    told = run(small, later)
    assert told.exit_code == 1
    assert 'The rules of "after"' in told.stderr
    assert "sloper-hang-low.yaml:1:" in told.stderr
    assert "Traceback" not in told.stderr
