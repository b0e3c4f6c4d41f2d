"""Near misses found for rules prove what they are said to prove."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from coachbot.doors.commands import main
from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.model import RuleCheck
from coachbot.knowledge.places import shipped_rule_tests
from coachbot.review.rule_tests import read_tests, run
from coachbot.workshop.folder import OwnFolder
from coachbot.workshop.near_misses import propose


@pytest.fixture(scope="module")
def tests() -> dict[str, RuleCheck]:
    return read_tests(shipped_rule_tests())


def test_a_test_made_of_found_cases_needs_every_condition(
    book: RuleBook, tests: dict[str, RuleCheck]
) -> None:
    """From one firing case alone; judged by the runner of rule tests, not by the search."""
    left = tried = 0
    for rule_id in list(book.rules)[::35]:
        rule, first = book.rules[rule_id], dict(tests[rule_id].fires[0])
        proposal = propose(book, rule, [first])
        fires = [first, *(c.given for c in proposal.cases if c.fires)]
        silent = [c.given for c in proposal.cases if not c.fires] or [{}]
        test = RuleCheck.model_validate({"practice": "x", "fires": fires, "silent": silent})
        report = run(book, {rule_id: test}, [rule_id])
        assert not [f for f in report.failures if "given {}" not in f.message], rule_id
        assert {str(u.variant) for u in report.unneeded} == {str(v) for v in proposal.left}
        left += len(proposal.left)
        tried += report.variants
    assert left <= 0.05 * tried


def test_what_stands_already_is_not_proposed_again(
    book: RuleBook, tests: dict[str, RuleCheck]
) -> None:
    rule = book.rules["sloper-hang-low"]
    test = tests[rule.id]
    first = propose(book, rule, test.fires, test.silent)
    near = [*test.silent, *(c.given for c in first.cases)]
    assert propose(book, rule, test.fires, near).cases == ()


def test_the_command_adds_what_a_test_lacks_and_leaves_the_rest(own: OwnFolder) -> None:
    file = own.path / "tests" / "holds" / "chest-over-feet.yaml"
    whole = file.read_text()
    weak = "# by Ines\n" + whole.replace("  - {hold: sloper, wall: steep}\n", "")
    file.write_text(weak)
    check = ["--rules", str(own.path), "rules", "check", "chest-over-feet", "--strict"]
    assert CliRunner().invoke(main, check).exit_code == 1
    sharpen = ["--rules", str(own.path), "rules", "sharpen", "chest-over-feet"]
    told = CliRunner().invoke(main, sharpen)
    assert "needs: wall is slab" in told.stdout
    assert file.read_text() == weak
    told = CliRunner().invoke(main, [*sharpen, "--write"])
    assert told.exit_code == 0, told.output
    assert file.read_text().startswith(weak)
    assert CliRunner().invoke(main, check).exit_code == 0
    own.undo()
    assert file.read_text() == weak
