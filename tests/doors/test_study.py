"""Staff study at the door: piped, in a real terminal, left and taken up again."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest

from .test_terminal import Terminal


@pytest.fixture(scope="module")
def kept_rules(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A home in which the rules are known already, so that each start is quick."""
    home = tmp_path_factory.mktemp("home")
    run(home, "cases")
    return home / "cache"


@pytest.fixture
def home(tmp_path: Path, kept_rules: Path) -> Path:
    made = tmp_path / "home"
    made.mkdir()
    (made / "cache").symlink_to(kept_rules)
    return made


def run(
    home: Path, *arguments: str, lines: tuple[str, ...] = (), status: int = 0
) -> subprocess.CompletedProcess[str]:
    found = subprocess.run(
        [sys.executable, "-m", "coachbot", "study", *arguments],
        input="".join(f"{line}\n" for line in lines),
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
        env={"COACHBOT_HOME": str(home), "PATH": "/usr/bin:/bin", "NO_COLOR": "1"},
    )
    assert "Traceback" not in found.stderr
    assert found.returncode == status, found.stderr
    assert "\x1b" not in found.stdout
    assert max(map(len, found.stdout.splitlines()), default=0) <= 80
    return found


def test_a_case_by_its_number_is_the_same_each_time_and_is_marked(home: Path) -> None:
    first = run(home, "case", "40", "--as", "Tomas", lines=("leave",)).stdout
    again = run(home, "case", "40", "--as", "Odd", lines=("leave",)).stdout
    assert first == again
    assert "Case 40 (" in first
    marked = run(home, "case", "40", "--as", "Tomas", lines=("pick", "a")).stdout
    assert "  a) " in marked
    marked = " ".join(marked.split())
    assert re.search(r"(Right|Not it|UNSAFE|Partly)", marked)
    assert "(Rule " in marked
    assert "rests on" in marked


def test_a_session_a_dispute_and_what_the_coach_sees_of_it(home: Path, tmp_path: Path) -> None:
    said = ("again", "help", "", "grip harder and hope", "dispute I meant the feet", "skip",
            "sell the shoes", "leave")  # fmt: skip
    session = run(home, "--as", "Tomas", "--minutes", "4", lines=said).stdout
    assert "4 new, about 4 minutes" in session
    assert "Kept for your coach" in session
    assert "of 4 done" in session
    disputed = run(home, "disputes").stdout
    assert "I meant the feet" in disputed
    assert "Answer: grip harder and hope" in disputed
    assert "right from now on" in run(home, "settle", "1", "right", "yes, I see it").stdout
    assert run(home, "disputes").stdout == "No mark is disputed.\n"
    assert "yes, I see it" in run(home, "disputes", "--all").stdout
    assert (
        'There is no dispute 9. "coachbot study disputes"'
        in run(home, "settle", "9", "stands", status=1).stderr
    )
    picture = tmp_path / "mastery.svg"
    shown = run(home, "mastery", "--as", "Tomas", "--svg", str(picture)).stdout
    assert "1 of 2 answers right" in shown
    assert "nine in ten:" in shown
    assert ElementTree.parse(picture).getroot().tag.endswith("svg")
    seen = run(home, "staff").stdout
    assert "Tomas" in seen
    assert "upheld 1" in seen
    planned = run(home, "plan", "--as", "Tomas").stdout
    assert "New:" in planned


def test_a_check_goes_on_where_it_was_left_and_gives_no_hints(home: Path) -> None:
    begun = run(home, "check", "--as", "Tomas", "--seed", "7", "--pass", "70",
                lines=("stop and see a doctor", "flag", "leave"), status=1).stdout  # fmt: skip
    assert "begins: 30 cases, no hints, 70% to pass" in " ".join(begun.split())
    assert "Kept: 2 answers" in begun
    assert "Right." not in begun
    assert "Rule" not in begun
    told = begun.split("\n3 of 30\n")[1].split("What do you say?")[0]
    rest = run(home, "check", "--as", "Tomas", lines=("see a doctor",) * 40, status=1).stdout
    assert "goes on" in rest
    assert rest.split("\n3 of 30\n")[1].startswith(told)
    assert "not passed" in rest
    assert "(needed: 70% of 30)" in " ".join(rest.split())
    report = run(home, "check", "--as", "Tomas", "--report").stdout
    assert report.count("   Story: ") == 30
    assert run(home, "case", "3", "--as", "x" * 99, status=1).stderr.strip() == (
        "A name has 1 to 60 letters; say it with --as NAME."
    )


@pytest.mark.parametrize("only", ["question", "ruled out", "red flag", "order", "cue"])
def test_every_kind_of_exercise_can_be_held_alone(home: Path, only: str) -> None:
    shown = run(
        home, "--as", "Odd", "--only", only, "--minutes", "2", lines=("a", "b c", "leave")
    ).stdout
    asked = {
        "question": "Which question do you ask first?",
        "ruled out": "Somebody says:",
        "red flag": "What here has to do with safety?",
        "order": "What first, what later?",
        "cue": "in 10 words or fewer",
    }
    assert asked[only] in " ".join(shown.split())


def test_a_session_in_a_real_terminal_keeps_answers_and_how_long_they_took(home: Path) -> None:
    terminal = Terminal(home, "study", "--as", "Juno", "--minutes", "2")
    terminal.wait("What do you say?")
    terminal.type("press the foot into the wall\r")
    terminal.wait("(Rule")
    terminal.type("leave\r")
    terminal.wait("A little each day")
    assert terminal.ended() == 0
    assert "1 of 2 answers" not in terminal.text()
    assert "Juno" in run(home, "staff").stdout
    from coachbot.study.store import Store

    store = Store(home / "study.sqlite3")
    (answer,) = store.answers()
    assert answer.said == "press the foot into the wall"
    assert answer.seconds is not None
    assert answer.seconds > 0
    store.close()
