"""``coachbot audit`` in lines, as JSON and as a page, on the shipped rules and on faulty ones."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner, Result

from coachbot.doors.commands import main
from coachbot.doors.reviewing import CLAIMS, audit_data, told_audit
from coachbot.knowledge.book import load
from coachbot.knowledge.places import shipped_rules
from coachbot.review.audit import Report, all_checks, audit
from coachbot.review.findings import Severity
from coachbot.review.page import page
from tests.review.pages import assert_alone
from tests.review.planted_faults import FAULTS
from tests.review.small import rule, suggest, write_folder
from tests.review.test_audit import FACTS, WORDS
from tests.workshop.in_a_browser import measured, needs_browser

SCHEMA = json.loads((Path(__file__).parent / "audit.schema.json").read_text("utf-8"))


@pytest.fixture(scope="module")
def faulty(tmp_path_factory: pytest.TempPathFactory) -> Report:
    """A report with findings of every severity, a case, several places and an accepted one."""
    long = "a-rule-with-a-very-long-name-that-has-to-be-broken-somewhere-on-a-small-screen"
    rules = {
        long: rule("hold is jug", "hold is edge", suggest=suggest("<b>Go</b> & see.")),
        "leap": rule("trouble is swings", suggest=suggest("Leap.", loads=["jump"])),
        "leap-too": rule("trouble is swings", "hold is jug", suggest=suggest("Leap!")),
        "back": rule("hold is jug", then=["not_allowed is jump"]),
        "a": rule("tired is yes", then=["means is weak"]),
        "b": rule("tired is yes", "hold is jug", then=["means is weak"]),
        "x": rule("trouble is slips", then=["means is far"]),
    }
    safety = {"tired": {"when": ["tired is yes"], "never": ["jump"], "because": "it hurts"}}
    accepted = [{"check": "idle-value", "about": "not_allowed", "reason": "later <i>perhaps</i>",
                 "date": "2026-11-02"}]  # fmt: skip
    folder = tmp_path_factory.mktemp("rules") / "saltmarsh"
    return audit(load(write_folder(folder, FACTS, rules, WORDS, safety=safety, audit=accepted)))


def test_the_faulty_rules_give_something_to_tell(faulty: Report) -> None:
    assert all(faulty.of(severity) for severity in Severity)
    assert any(f.case for f in faulty.findings)
    assert any(f.also for f in faulty.findings)


def test_lines_fit_80_columns_and_name_place_case_and_repair(faulty: Report) -> None:
    text = "\n".join(told_audit(faulty))
    assert "\x1b" not in text
    for finding in faulty.findings:
        assert f"{finding.place.path}:{finding.place.line}" in text
        assert finding.message in text
        assert finding.repair in text
        if finding.case is not None:
            assert f"Smallest case: {finding.case}" in text
    heads = [text.index(s.value.upper()) for s in Severity]
    assert heads == sorted(heads)


def test_json_has_the_documented_shape(faulty: Report) -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    data = json.loads(json.dumps(audit_data(faulty)))
    jsonschema.validate(data, SCHEMA)
    assert len(data["findings"]) == len(faulty.findings)
    assert sum(data["counts"].values()) == len(faulty.findings)
    assert any(f["case"] and f["case"]["facts"] for f in data["findings"])
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data | {"more": 1}, SCHEMA)


def test_the_schema_names_every_check_and_claim() -> None:
    text = json.dumps(SCHEMA)
    for check in all_checks():
        assert f'"{check.name}"' in text
    assert all(f'"{kind}"' in text for kind in CLAIMS)
    named = set(SCHEMA["$defs"]["check"]["enum"])
    assert named == {c.name for c in all_checks()}
    assert {check for check, _ in FAULTS} <= named


def run(*args: str) -> Result:
    return CliRunner().invoke(main, ["audit", *args])


@pytest.fixture(scope="module")
def shipped(tmp_path_factory: pytest.TempPathFactory) -> tuple[Result, Path]:
    """The whole audit of the shipped rules, once for JSON and page."""
    file = tmp_path_factory.mktemp("page") / "audit.html"
    return run("--json", "--page", str(file)), file


def test_the_shipped_rules_have_nothing_wrong(shipped: tuple[Result, Path]) -> None:
    told, file = shipped
    assert told.exit_code == 0, told.stderr
    data = json.loads(told.stdout)
    jsonschema.validate(data, SCHEMA)
    assert data["counts"]["wrong"] == 0
    assert all(p["proved"] == p["of"] for p in data["proved"])
    for finding in data["findings"]:
        top, _, inside = finding["file"].partition("/")
        place = shipped_rules().parent / top / inside
        assert len(place.read_text("utf-8").splitlines()) >= finding["line"]
    assert_alone(file.read_text("utf-8"))


def test_the_page_tells_everything_and_escapes_it(faulty: Report) -> None:
    text = written(faulty)
    assert_alone(text)
    assert "<b>Go" not in text
    assert "<i>" not in text
    for finding in faulty.findings:
        assert finding.check in text
        assert f"{finding.place.path}:{finding.place.line}" in text


def written(report: Report) -> str:
    asks = {check.name: check.asks for check in all_checks()}
    return page("audit", report=report, severities=list(Severity), claims=CLAIMS, asks=asks)


@needs_browser
def test_the_page_fits_a_phone_and_a_desk(
    faulty: Report, shipped: tuple[Result, Path], tmp_path: Path
) -> None:
    (tmp_path / "faulty.html").write_text(written(faulty), "utf-8")
    (tmp_path / "shipped.html").write_text(shipped[1].read_text("utf-8"), "utf-8")
    assert CliRunner().invoke(main, ["map", "--page", str(tmp_path / "map.html")]).exit_code == 0
    result = measured(tmp_path, ["faulty.html", "shipped.html", "map.html"])
    assert result["found"] == []


def test_only_one_rule_and_an_unknown_one() -> None:
    told = run("--only", "sloper-hang-low")
    assert told.exit_code == 0, told.output
    assert max(map(len, told.output.splitlines())) <= 80
    assert told.output.splitlines()[-1].startswith("1 rule, ")
    told = run("--only", "sloper-hang-lo")
    assert told.exit_code == 2
    assert 'Did you mean "sloper-hang-low"?' in told.stderr


def test_the_checks_are_listed_in_lines_and_as_json() -> None:
    told = run("--list")
    assert told.exit_code == 0
    assert max(map(len, told.output.splitlines())) <= 80
    listed = json.loads(run("--list", "--json").stdout)
    assert [c["check"] for c in listed] == [c.name for c in all_checks()]
    assert all(c["asks"].endswith("?") for c in listed)


def test_a_broken_folder_is_told_without_a_traceback(tmp_path: Path) -> None:
    (tmp_path / "feet").mkdir()
    (tmp_path / "feet" / "odd.yaml").write_text("when: [")
    told = run("--rules", str(tmp_path))
    assert told.exit_code == 1
    assert "feet/odd.yaml:2:1: not valid YAML" in " ".join(told.stderr.split())
    assert "Traceback" not in told.stderr
