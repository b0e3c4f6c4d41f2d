"""The chat in a real terminal: keys in, the drawn screen out (pexpect and pyte)."""

from __future__ import annotations

import os
import re
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pexpect
import pyte
import pytest


class Terminal:
    """A program in a pseudo-terminal, with the screen that a person would see."""

    def __init__(
        self, home: Path, *arguments: str, columns: int = 80, lines: int = 40, **env: str
    ) -> None:
        self.screen = pyte.HistoryScreen(columns, lines, history=2000)
        self._stream = pyte.ByteStream(self.screen)
        full = {**os.environ, "TERM": "xterm-256color", "COACHBOT_HOME": str(home), **env}
        self.child = pexpect.spawn(
            sys.executable,
            ["-m", "coachbot", *arguments],
            env=full,
            dimensions=(lines, columns),
            timeout=60,
        )
        self.raw = b""

    def text(self) -> str:
        return "\n".join(line.rstrip() for line in self.screen.display)

    def wait(self, wanted: str, seconds: float = 60) -> str:
        """Feed the screen until it shows ``wanted``; fails with the screen."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if wanted in self.text():
                return self.text()
            try:
                data = self.child.read_nonblocking(4096, timeout=0.2)
            except pexpect.TIMEOUT:
                continue
            except pexpect.EOF:
                break
            self.raw += data
            self._answer(data)
            self._stream.feed(data)
        if wanted in self.text():
            return self.text()
        pytest.fail(f"the screen never showed {wanted!r}:\n{self.text()}")

    def _answer(self, data: bytes) -> None:
        if b"\x1b[6n" in data:  # the editor asks where the cursor is, as real terminals know
            self.child.send(b"\x1b[%d;%dR" % (self.screen.cursor.y + 1, self.screen.cursor.x + 1))

    def type(self, text: str) -> None:
        self.child.send(text)

    def ended(self, seconds: float = 30) -> int:
        self.child.expect(pexpect.EOF, timeout=seconds)
        self.child.close()
        return int(self.child.exitstatus or 0)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path / "home"


@pytest.fixture
def terminal(home: Path) -> Iterator[Terminal]:
    terminal = Terminal(home)
    yield terminal
    terminal.child.close(force=True)


def test_a_talk_from_greeting_to_goodbye(terminal: Terminal) -> None:
    terminal.wait("Tell me what goes wrong")
    terminal.wait("help · bye")
    terminal.type("my foot slips off a tiny foothold on the slab\r")
    terminal.wait("don't know")
    terminal.type("that worked\r")
    terminal.wait("Good!")
    terminal.type("bye\r")
    assert terminal.ended() == 0


def test_ctrl_c_leaves_the_line_and_twice_leaves_the_chat(terminal: Terminal) -> None:
    terminal.wait("help · bye")
    terminal.type("half a sentence\x03")
    terminal.wait("once more leaves")
    terminal.type("\x03")
    assert terminal.ended() == 0


def test_ctrl_d_leaves(terminal: Terminal) -> None:
    terminal.wait("help · bye")
    terminal.type("\x04")
    assert terminal.ended() == 0


def test_earlier_lines_come_back_with_the_up_key(home: Path) -> None:
    first = Terminal(home)
    first.wait("help · bye")
    first.type("my heel slips off\r")
    first.wait("1. ")
    first.type("bye\r")
    first.ended()
    second = Terminal(home)
    second.wait("help · bye")
    second.type("\x1b[A\x1b[A")
    second.wait("> my heel slips off")
    second.child.close(force=True)


def test_tab_completes_what_makes_sense(terminal: Terminal) -> None:
    terminal.wait("help · bye")
    terminal.type("what did\t")
    terminal.wait("what did you understand")


@pytest.mark.parametrize("columns", [60, 80, 120, 200])
def test_nothing_is_wider_than_the_window(home: Path, columns: int) -> None:
    terminal = Terminal(home, columns=columns, lines=60)
    terminal.wait("help · bye")
    terminal.type("my feet keep cutting on the steep wall when i go for the next hold\r")
    shown = terminal.wait("don't know")
    assert "1. " in shown or terminal.screen.history.top
    for line in terminal.screen.display:
        assert len(line.rstrip()) <= columns
    words = "Rules:"
    assert words in shown
    terminal.child.close(force=True)


def test_no_color_means_no_colour_codes(home: Path) -> None:
    terminal = Terminal(home, NO_COLOR="1")
    terminal.wait("help · bye")
    terminal.type("my heel slips off\r")
    terminal.wait("1. ")
    terminal.child.close(force=True)
    codes = re.findall(rb"\x1b\[([0-9;]*)m", terminal.raw)
    numbers = {int(n) for code in codes for n in code.split(b";") if n}
    assert not numbers & {*range(30, 50), *range(90, 108)}


def test_a_changed_rule_is_followed_and_a_broken_one_is_told(home: Path, tmp_path: Path) -> None:
    own = tmp_path / "saltmarsh"
    (own / "feet").mkdir(parents=True)
    rule = (
        "serves: [F01]\nwhen: [trouble is foot_slips]\nsuggest:\n  now: \"Whisper to the foot.\"\n"
        "  drill: \"d\"\n  works_when: \"w\"\n  skills: [foot-placement]\n  strength: 1\n"
        "  sure: 1\nwhy: \"w\"\nground: [{key: common-practice, says: \"s\"}]\nauthor: Ines\n"
        "reviewed: 2026-11-01\n"
    )  # fmt: skip
    terminal = Terminal(home)
    terminal.child.close(force=True)
    terminal.child = pexpect.spawn(
        sys.executable,
        ["-m", "coachbot", "--rules", str(own)],
        env={**os.environ, "TERM": "xterm-256color", "COACHBOT_HOME": str(home)},
        dimensions=(40, 80),
        timeout=60,
    )
    terminal.wait("help · bye")
    (own / "feet" / "whisper.yaml").write_text(rule)
    terminal.type("my foot slips\r")
    terminal.wait("Whisper to the foot.")
    (own / "feet" / "whisper.yaml").write_text(rule.replace("foot_slips", "foot_slip"))
    terminal.type("on the slab\r")
    terminal.wait("as they were before")
    terminal.type("what did you understand\r")
    terminal.wait("the wall is a slab")
    terminal.child.close(force=True)
