"""A folder that is watched while it is edited with any editor."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

from coachbot.knowledge.places import shipped_rules
from coachbot.workshop.effects import Told
from coachbot.workshop.folder import OwnFolder
from coachbot.workshop.watching import Watch

TOLD = Told("page", ("my hand slips off the sloper on the slab",))


def test_each_save_is_checked_and_a_broken_one_leaves_the_last_good_rules(own: OwnFolder) -> None:
    watch = Watch((shipped_rules(), own.path), [TOLD], [])
    first = watch.first()
    assert (first.report.rules, first.report.failures) == (("chest-over-feet",), ())
    assert watch.look() is None
    file = own.path / "holds" / "chest-over-feet.yaml"
    sound = file.read_text()
    file.write_text(sound.replace("wall is slab", "wall is slabb"))
    broken = watch.look()
    assert broken is not None
    assert "saltmarsh/holds/chest-over-feet.yaml:5" in str(broken.problems[0])
    assert 'Did you mean "slab"?' in str(broken.problems[0])
    file.write_text(sound.replace("Chest over the feet", "Chin over the feet"))
    mended = watch.look()
    assert mended is not None
    assert mended.changed == ("chest-over-feet",)
    assert mended.effects is not None
    (different,) = mended.effects.conversations
    assert "Chest over the feet" in different.before
    assert "Chin over the feet" in different.after


def test_a_changed_test_is_run(own: OwnFolder) -> None:
    watch = Watch((shipped_rules(), own.path), [], [])
    watch.first()
    file = own.path / "tests" / "holds" / "chest-over-feet.yaml"
    file.write_text(file.read_text().replace("wall: steep", "wall: slab"))
    seen = watch.look()
    assert seen is not None
    assert seen.changed == ()
    assert seen.report.failures


def test_a_folder_that_is_broken_from_the_start_can_be_mended(own: OwnFolder) -> None:
    file = own.path / "holds" / "chest-over-feet.yaml"
    sound = file.read_text()
    file.write_text("when: [")
    watch = Watch((shipped_rules(), own.path), [], [])
    assert watch.first().problems
    file.write_text(sound)
    mended = watch.look()
    assert mended is not None
    assert not mended.problems
    assert mended.report.cases == 3


def heeds_ctrl_c() -> None:
    """What runs in the background may have been started with interrupts ignored."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def test_the_command_prints_what_a_save_changes_and_ends_on_ctrl_c(
    own: OwnFolder, tmp_path: Path
) -> None:
    out = tmp_path / "out.txt"
    command = [sys.executable, "-m", "coachbot", "rules", "watch", str(own.path)]
    with out.open("wb") as target:
        process = subprocess.Popen(
            command,
            stdout=target,
            stderr=subprocess.STDOUT,
            env={**os.environ, "NO_COLOR": "1"},
            preexec_fn=heeds_ctrl_c,
        )
        try:
            wait_for(out, "Sound.")
            file = own.path / "holds" / "chest-over-feet.yaml"
            file.write_text(file.read_text().replace("strength: 0.95", "strength: 5"))
            wait_for(out, "less than or equal to 1")
            process.send_signal(signal.SIGINT)
            assert process.wait(30) == 0
        finally:
            process.kill()
    text = out.read_text()
    assert "Traceback" not in text
    assert max(map(len, text.splitlines())) <= 80


def wait_for(out: Path, words: str, seconds: float = 90) -> None:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if words in " ".join(out.read_text().split()):
            return
        time.sleep(0.1)
    raise AssertionError(f"{words!r} did not come: {out.read_text()}")
