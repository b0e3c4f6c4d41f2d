"""The chat without a terminal: piped, interrupted, with broken rules, with odd bytes."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

CHAT = [sys.executable, "-m", "coachbot"]


def say(*lines: str | bytes, arguments: tuple[str, ...] = ()) -> subprocess.CompletedProcess[str]:
    given = b"".join((x.encode() if isinstance(x, str) else x) + b"\n" for x in lines)
    run = subprocess.run(
        [*CHAT, *arguments], input=given, capture_output=True, timeout=120, check=False
    )
    out, err = run.stdout.decode(), run.stderr.decode()
    assert "Traceback" not in err
    return subprocess.CompletedProcess(run.args, run.returncode, out, err)


def test_a_piped_talk_gives_advice_at_80_columns_without_escape_codes() -> None:
    run = say("my foot keeps slipping off a tiny foothold on the slab", "why", "bye")
    assert run.returncode == 0
    assert "\n1. " in run.stdout
    assert "Rules:" in run.stdout
    assert "\x1b" not in run.stdout
    assert max(map(len, run.stdout.splitlines())) <= 80


@pytest.mark.parametrize("line", [b"", b"\xff\xfe\x00", b"\x1b[2J", b"x" * 100_000, "🧗".encode()])
def test_odd_lines_get_a_sentence(line: bytes) -> None:
    run = say(line, "bye")
    assert run.returncode == 0
    assert "\x1b" not in run.stdout


def test_input_that_ends_ends_the_talk() -> None:
    assert say("my foot slips").returncode == 0
    assert say().returncode == 0


def test_broken_rules_start_nothing(tmp_path: Path) -> None:
    own = tmp_path / "saltmarsh"
    (own / "feet").mkdir(parents=True)
    (own / "feet" / "look.yaml").write_text("when: [trouble is foot_slip]\n")
    run = say("my foot slips", arguments=("--rules", str(own)))
    assert run.returncode == 1
    assert run.stdout == ""
    assert 'saltmarsh/feet/look.yaml:1:8: "foot_slip" is no value of "trouble"' in run.stderr
    assert 'Did you mean "foot_slips"?' in run.stderr
    assert "Nothing was started" in run.stderr


def test_rules_that_cannot_run_together_start_nothing(tmp_path: Path) -> None:
    own = tmp_path / "saltmarsh"
    (own / "feet").mkdir(parents=True)
    rest = (
        'why: "w"\nground: [{key: common-practice, says: "s"}]\n'
        "author: Ines\nreviewed: 2026-11-01\n"
    )
    (own / "feet" / "a.yaml").write_text(
        "when: [steep_ground is yes]\nthen: [stage is adult]\n" + rest
    )
    (own / "feet" / "b.yaml").write_text(
        "when: [stage is adult]\nthen: [steep_ground is yes]\n" + rest
    )
    run = say("hello", arguments=("--rules", str(own)))
    assert run.returncode == 1
    assert "reads" in run.stderr


def test_ctrl_c_ends_a_piped_talk_without_a_traceback() -> None:
    with subprocess.Popen(
        CHAT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as run:
        assert run.stdout is not None
        run.stdout.read(20)
        run.send_signal(signal.SIGINT)
        _, errors = run.communicate(timeout=60)
    assert b"Traceback" not in errors


def test_a_talk_is_taken_up_again_after_kill_minus_nine() -> None:
    with subprocess.Popen(CHAT, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as run:
        assert run.stdin is not None
        assert run.stdout is not None
        run.stdin.write(b"my heel slips off the arete\n")
        run.stdin.flush()
        seen = b""
        while b"1. " not in seen:
            seen += os.read(run.stdout.fileno(), 4096)
        run.kill()
    again = say("go on", "what did you understand", "bye")
    assert "not finished" in again.stdout
    assert "the heel slips off" in again.stdout
    assert "not finished" not in say("bye").stdout


def test_a_full_disk_is_told_once_and_the_talk_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = tmp_path / "home"
    home.write_text("a file where the folder should be")
    monkeypatch.setenv("COACHBOT_HOME", str(home))
    run = say("my foot slips", "on the slab", "bye")
    assert run.returncode == 0
    assert run.stdout.count("cannot be saved") == 1
    assert "1. " in run.stdout


def test_a_card_is_saved_as_text_and_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACHBOT_HOME", str(tmp_path / "home"))
    run = say("my heel slips off the arete", "save the card", "bye")
    assert "Saved as" in run.stdout
    files = sorted(f.suffix for f in (tmp_path / "home" / "cards").iterdir())
    assert files == [".html", ".txt"]
