"""The guided conversation, driven by written answers."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
import yaml

from coachbot.doors.workshop_new import Writing
from coachbot.knowledge.book import load
from coachbot.knowledge.places import shipped_rules
from coachbot.review.rule_tests import run
from coachbot.workshop.effects import Minds
from coachbot.workshop.folder import OwnFolder
from coachbot.workshop.guide import Guide, Wrong
from coachbot.workshop.own_tests import rule_tests_of
from coachbot.workshop.saving import make_ready

from .scripted import CASE, REST, Scripted

ID = "chest-first-on-slabs"


@pytest.fixture
def empty(tmp_path: Path) -> OwnFolder:
    return OwnFolder(tmp_path / "saltmarsh")


def write(minds: Minds, own: OwnFolder, *lines: str, pages: tuple[Path, ...] = ()) -> int:
    return Writing(minds, (shipped_rules(),), own, Scripted(*lines), pages).hold()


def test_a_described_case_becomes_a_rule_with_a_test_that_needs_every_condition(
    minds: Minds, empty: OwnFolder, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = tmp_path / "page.md"
    page.write_text(f"# Odd\n\n> {CASE[0]}\n\n> {CASE[1]}\n")
    done = write(minds, empty, *CASE, "ok", *REST, "save", "keep", pages=(page,))
    assert done == 0
    book = load(shipped_rules(), empty.path)
    rule = book.rules[ID].rule
    assert rule.suggest is not None
    assert rule.suggest.now == REST[0]
    assert rule.suggest.skills == ["weight-shift", "friction"]
    assert rule.why == REST[1]
    assert {"hold is sloper", "wall is slab", "trouble is hand_slips"} <= set(rule.when)
    report = run(book, rule_tests_of(book), [ID])
    assert not report.failures
    assert not report.unneeded
    shown = capsys.readouterr().out
    assert "Here it says now:" in shown
    assert "needs: wall is slab" in shown
    assert f"--- saltmarsh/holds/{ID}.yaml" in shown
    assert "In your case it comes as number 1." in shown
    assert "1 of 2 answers in kept conversations would be others." in shown
    assert "before" in shown
    assert max(map(len, shown.splitlines())) <= 80
    # Another reader of YAML takes what was written.
    tree = yaml.safe_load((empty.path / "holds" / f"{ID}.yaml").read_text())
    assert tree["suggest"]["now"] == REST[0]


def test_undo_leaves_nothing_but_the_draft(minds: Minds, empty: OwnFolder) -> None:
    assert write(minds, empty, *CASE, "ok", *REST, "save", "undo") == 1
    left = [f for f in empty.path.rglob("*") if f.is_file() and ".undo" not in f.parts]
    assert [f.name for f in left] == ["new-rule.json"]


def test_a_coach_who_leaves_goes_on_where_the_draft_stopped(
    minds: Minds, empty: OwnFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    assert write(minds, empty, *CASE, "ok", *REST[:5], "stop") == 1
    kept = json.loads(empty.text(".drafts/new-rule.json") or "")
    assert kept["now"] == REST[0]
    capsys.readouterr()
    assert write(minds, empty, "maybe", "yes", *REST[5:], "save", "keep") == 0
    shown = capsys.readouterr().out
    assert 'Please say "yes" or "no".' in shown
    assert "Tell me the case" not in shown
    assert ID in load(shipped_rules(), empty.path).rules
    assert empty.text(".drafts/new-rule.json") is None


def test_a_draft_that_is_not_wanted_is_put_aside(minds: Minds, empty: OwnFolder) -> None:
    assert write(minds, empty, *CASE, "ok", REST[0], "stop") == 1
    assert write(minds, empty, "no", "stop") == 1
    (aside,) = (empty.path / ".drafts").glob("put-aside-*.json")
    assert json.loads(aside.read_text())["now"] == REST[0]


def test_back_show_change_and_conditions_by_hand(
    minds: Minds, empty: OwnFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = [
        *CASE, "add wall is roof", "add nonsense", "drop 99",
        "add wall is slab or wall is vertical", "drop 1", "take 1", "ok", "Wrong cue.", "back",
        REST[0], "show", *REST[1:],
        "change", "works_when", "You stand without thinking of the hand.",
    ]  # fmt: skip
    rest_again = REST[4:]
    done = write(minds, empty, *lines, *rest_again, "drop 1", "save", "keep")
    shown = " ".join(capsys.readouterr().out.split())
    assert done == 0
    assert "That does not hold in your case" in shown
    assert "is not a condition" in shown
    assert "There is no condition 99." in shown
    assert "So far:" in shown
    assert "no case notices when this is lost" in shown
    rule = load(shipped_rules(), empty.path).rules[ID].rule
    assert rule.suggest is not None
    assert rule.suggest.now == REST[0]
    assert rule.suggest.works_when == "You stand without thinking of the hand."
    assert {"any": ["wall is slab", "wall is vertical"]} in rule.when


@pytest.mark.parametrize(
    ("step", "text", "message"),
    [
        ("id", "../../etc/passwd", "is no id"),
        ("id", "holds/x", "is no id"),
        ("id", "Chest First", "is no id"),
        ("id", "x" * 61, "is no id"),
        ("id", "a\u0000b", "is no id"),
        ("id", "sloper-hang-low", "is taken by"),
        ("family", "../feet", "one plain word"),
        ("family", "tests", "one plain word"),
        ("skills", "wieght-shift", 'Did you mean "weight-shift"'),
        ("skills", "a, b, c, d, e", "At most four"),
        ("loads", "clibming", 'Did you mean "climbing"'),
        ("serves", "round holds on a slab", "The nearest to that"),
        ("source", "nobody-2020", "no source"),
        ("strength", "7", "0 to 1"),
        ("strength", "nan", "0 to 1"),
        ("now", "x" * 161, "at most 160"),
        ("why", "", "say something"),
        ("case", "qwertz asdf", "read no fact"),
    ],
)
def test_an_answer_that_cannot_be_taken_is_refused_and_changes_nothing(
    minds: Minds, step: str, text: str, message: str
) -> None:
    guide = Guide(minds)
    guide.take("case", "my hand slips off the sloper")
    before = guide.draft
    with pytest.raises(Wrong, match=message):
        guide.take(step, text)
    assert guide.draft == before
    assert step == "case" or step not in guide.answers


def test_text_that_looks_like_yaml_is_kept_as_text(minds: Minds, empty: OwnFolder) -> None:
    nasty = 'Say "go": {now} - # !!python/object/apply:os.system [x] & *y | > é'
    write(minds, empty, *CASE, "ok", nasty, *REST[1:], "save", "keep")
    rule = load(shipped_rules(), empty.path).rules[ID].rule
    assert rule.suggest is not None
    assert rule.suggest.now == nasty


def test_a_clash_with_the_book_is_told_before_anything_is_saved(
    minds: Minds, empty: OwnFolder
) -> None:
    """A rule whose own folder is broken elsewhere is not written on top of it."""
    (empty.path / "feet").mkdir(parents=True)
    (empty.path / "feet" / "broken.yaml").write_text("when: [")
    assert write(minds, empty, *CASE, "ok", *REST, "stop") == 1
    assert not (empty.path / "holds").exists()


def test_near_misses_that_are_not_wanted_stay_out(minds: Minds, empty: OwnFolder) -> None:
    guide = Guide(minds)
    guide.take("case", "\n".join(CASE))
    guide.take_conditions()
    names = [s.name for s in guide.steps() if s.name not in {"case", "conditions", "place"}]
    for name, text in zip(names, REST, strict=True):
        guide.take(name, text)
    first = make_ready((shipped_rules(),), empty, guide.draft, date(2026, 12, 1))
    unwanted = first.draft.silent[0]
    second = make_ready((shipped_rules(),), empty, guide.draft, date(2026, 12, 1), [unwanted])
    assert unwanted not in second.draft.silent
    assert not first.report.unneeded
    assert second.report.unneeded


THEN = ("then means is weight_off_feet", *REST[1:2], "common", REST[10], "", "", "Ines")


def test_a_rule_that_only_concludes_is_written_for_others_to_build_on(
    minds: Minds, empty: OwnFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = (
        "then means is nonsense", "then hold is jug", "then on_slab is yes", "then wall is roof",
    )  # fmt: skip
    assert write(minds, empty, *CASE, "ok", *wrong, *THEN, "save", "keep") == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert '"nonsense" is no value of "means"' in shown
    assert "no rule may make it. Rules can conclude: " in shown
    assert "holds in your case already" in shown
    assert 'In your case "wall" is slab' in shown
    assert "A drill to learn it" not in shown
    assert "In your case it now holds that means is weight_off_feet." in shown
    book = load(shipped_rules(), empty.path)
    (rule,) = (book.rules[i] for i in set(book.rules) - set(load(shipped_rules()).rules))
    assert (rule.id, rule.family) == ("means-weight-off-feet", "mechanics")
    assert rule.then == (("means", "weight_off_feet"),)
    assert rule.rule.suggest is None
    report = run(book, rule_tests_of(book), [rule.id])
    assert not report.failures
    assert not report.unneeded


def test_a_conclusion_that_would_make_a_circle_is_told_and_not_written(
    minds: Minds, empty: OwnFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = (*CASE, "add means is unknown", "ok", *THEN, "stop")
    assert write(minds, empty, *lines) == 1
    shown = " ".join(capsys.readouterr().out.split())
    assert "With this rule the book would not be sound:" in shown
    assert "in a circle" in shown
    assert not (empty.path / "mechanics").exists()


def test_advice_said_after_all_takes_the_conclusion_back(minds: Minds) -> None:
    guide = Guide(minds)
    guide.take("case", "\n".join(CASE))
    guide.take("now", THEN[0])
    assert "drill" not in {s.name for s in guide.steps()}
    guide.take("now", REST[0])
    assert guide.draft.then == ()
    assert "drill" in {s.name for s in guide.steps()}
