"""Rule tests from the command line: in processes, in plain lines, as JSON."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from coachbot.doors.commands import main
from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.model import RuleCheck
from coachbot.knowledge.places import shipped_rule_tests
from coachbot.knowledge.problems import BrokenRules
from coachbot.review import rule_tests
from coachbot.workshop.checking import check
from coachbot.workshop.folder import OwnFolder


@pytest.fixture(scope="module")
def tests() -> dict[str, RuleCheck]:
    return rule_tests.read_tests(shipped_rule_tests())


def test_processes_find_what_one_process_finds(book: RuleBook, tests: dict[str, RuleCheck]) -> None:
    ids = list(book.rules)[:130]
    broken = dict(tests) | {ids[70]: tests[ids[70]].model_copy(update={"silent": [{}]})}
    seen: list[tuple[int, int]] = []
    alone = check(book, broken, ids, processes=1)
    shared = check(book, broken, ids, processes=2, progress=lambda *n: seen.append(n))
    assert shared == alone
    assert shared.rules == tuple(ids)
    assert alone.unneeded
    assert seen[-1] == (130, 130)
    assert len(seen) == 3


def test_a_test_without_a_rule_is_told(book: RuleBook, tests: dict[str, RuleCheck]) -> None:
    first = next(iter(tests.values()))
    few = {"no-such-rule": first}
    assert "no such rule" in rule_tests.strays(book, few)[0].message


def test_the_command_tells_what_is_wrong_and_ends_with_1(own: OwnFolder) -> None:
    weak = own.path / "tests" / "holds" / "chest-over-feet.yaml"
    weak.write_text(weak.read_text().replace("  - {hold: sloper, wall: steep}\n", ""))
    args = ["--rules", str(own.path), "rules", "check", "chest-over-feet"]
    told = CliRunner().invoke(main, args)
    assert told.exit_code == 1
    assert '"wall is slab" removed' in told.stdout
    assert max(map(len, told.stdout.splitlines())) <= 80
    data = json.loads(CliRunner().invoke(main, [*args, "--json"]).stdout)
    assert {(u["condition"], u["change"]) for u in data["unneeded"]} == {
        ("wall is slab", "removed"),
        ("wall is slab", "loosened"),
    }
    assert data["rules"] == ["chest-over-feet"]


def test_a_sound_rule_ends_with_0_and_an_unknown_one_with_2(own: OwnFolder) -> None:
    args = ["--rules", str(own.path), "rules", "check"]
    told = CliRunner().invoke(main, [*args, "chest-over-feet"])
    assert (told.exit_code, "each condition is needed" in told.stdout) == (0, True)
    wrong = CliRunner().invoke(main, [*args, "chest-over-fete"])
    assert wrong.exit_code == 2
    assert 'Did you mean "chest-over-feet"?' in wrong.stderr


def test_a_wrong_expectation_is_told_with_its_case(own: OwnFolder) -> None:
    file = own.path / "tests" / "holds" / "chest-over-feet.yaml"
    wrong = file.read_text().replace("{hold: jug, wall: slab}", "{hold: sloper, wall: slab}")
    file.write_text(wrong)
    told = CliRunner().invoke(main, ["--rules", str(own.path), "rules", "check", "chest-over-feet"])
    assert told.exit_code == 1
    flat = " ".join(told.stdout.split())
    assert "should be silent but fires, given {hold: sloper, wall: slab}" in flat


@pytest.mark.parametrize(
    ("name", "text", "message"),
    [
        ("holds/chest-over-feet.yaml", "fires: []\n", '"practice" is missing'),
        ("holds/chest-over-feet.yaml", "fires:\n\t- {}\n", "tab"),
        ("holds/chest-over-feet.yaml", "fires: []\nfires: []\n", "second time"),
        ("holds/chest-over-feet.yaml", "fires: !!python/object:os.system []\n", "tag"),
        ("holds/chest-over-feet.yaml", "a: &x [1]\nb: *x\n", "again"),
        ("holds/chest-over-feet.yaml", b"\xff\xfeno", "UTF-8"),
        ("holds/chest-over-feet.yaml", "x" * 1_200_000, "larger than"),
        ("holds/deep/chest-over-feet.yaml", "practice: x\n", "one folder deep"),
        ("feet/chest-over-feet.yaml", "practice: x\n", "stands in"),
        ("holds/other.yml", "practice: x\n", "full ending"),
    ],
)
def test_a_bad_test_file_is_refused_with_file_line_and_reason(
    own: OwnFolder, name: str, text: str | bytes, message: str
) -> None:
    file = own.path / "tests" / name
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(BrokenRules) as caught:
        rule_tests.read_tests(own.path / "tests", "saltmarsh/tests")
    found = [str(p) for p in caught.value.problems]
    assert any(message in p for p in found), found
    assert all((p.startswith("saltmarsh/tests/") and ":1:" in p) or ":2:" in p for p in found)


def test_a_link_out_of_the_tests_is_refused(own: OwnFolder, tmp_path: Path) -> None:
    outside = tmp_path / "outside.yaml"
    outside.write_text("practice: x\n")
    (own.path / "tests" / "holds" / "linked.yaml").symlink_to(outside)
    with pytest.raises(BrokenRules, match="leads out"):
        rule_tests.read_tests(own.path / "tests")


def test_shipped_tests_are_found_beside_an_installed_package(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from coachbot.knowledge import places

    package = tmp_path / "coachbot"
    shutil.copytree(shipped_rule_tests() / "head", package / "rule_tests" / "head")
    monkeypatch.setattr(places, "_PACKAGE", package)
    assert places.shipped_rule_tests() == package / "rule_tests"
