"""The guided conversation once in a real terminal of 80 columns."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pexpect
import pyte

from coachbot.knowledge.book import load
from coachbot.knowledge.places import shipped_rules

from .scripted import CASE, REST

CURSOR_SHOWN = "\x1b[?25h"


def test_a_rule_is_written_in_a_terminal_with_completion(tmp_path: Path) -> None:
    own = tmp_path / "saltmarsh"
    screen = pyte.Screen(80, 50)
    stream = pyte.Stream(screen)
    child = pexpect.spawn(
        sys.executable,
        ["-m", "coachbot", "rules", "new", "--own", str(own)],
        dimensions=(50, 80),
        encoding="utf-8",
        timeout=90,
        env={**os.environ, "TERM": "xterm", "NO_COLOR": "1", "PROMPT_TOOLKIT_NO_CPR": "1"},
        cwd=Path(__file__).parents[2],
    )
    seen: list[str] = []

    def answer(after: str, *lines: str) -> None:
        child.expect_exact(after)
        seen.append(child.before + after)
        stream.feed(child.before + after)
        for line in lines:
            child.expect_exact(CURSOR_SHOWN)
            stream.feed(child.before + CURSOR_SHOWN)
            child.send(f"{line}\r")

    answer("an empty line ends it.", *CASE)
    answer('or "add wall is steep".', "ok")
    answer("keep in mind on the wall.", REST[0])
    answer("Because?", REST[1])
    answer("A drill to learn it:", REST[2])
    answer("The sign that it works", REST[3])
    answer("How much of the drill?", REST[4])
    answer("What to take care of?", "skip")
    answer("Which skills does it train?")
    child.expect_exact(CURSOR_SHOWN)
    child.send("weight-sh\t")
    child.expect_exact("ift\x1b")
    child.send("\r")
    answer("What does it put load on?", REST[7])
    answer("Which situation does it serve?", REST[8])
    answer("What does it rest on:", REST[9])
    answer("What does that say", REST[10])
    answer("How much does it change the move?", REST[11])
    answer("How surely does it fit", REST[12])
    answer("Which family", REST[13])
    answer("Its id", REST[14])
    answer("Who writes it?", REST[15])
    answer('or "stop".', "save")
    answer("coachbot rules undo.)", "keep")
    child.expect(pexpect.EOF)
    stream.feed(child.before)
    child.close()
    assert child.exitstatus == 0
    rule = load(shipped_rules(), own).rules[REST[14]].rule
    assert rule.suggest is not None
    assert rule.suggest.skills == ["weight-shift"]
    assert any("Keep it?" in line for line in screen.display)
