"""Study: the next case, a mark, and starts with and without what is kept.

Run: ``python -m tests.benchmarks.bench_study``. Wanted: a case and a mark in less than 100 ms
each on a quiet machine. Times on a shared machine drift: the ratios are to one run of the
rule set, which every advice needs.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from coachbot.doors.opening import folders_of, open_coach
from coachbot.study.learner import open_room

CASES = 200
FIRST = 700_000


def timed(run: Callable[[int], object]) -> list[float]:
    """Milliseconds of processor time of each run."""
    found = []
    for i in range(CASES):
        began = time.process_time()
        run(i)
        found.append(1e3 * (time.process_time() - began))
    return found


def shown(name: str, times: list[float], unit: float) -> None:
    """One line: median, the slowest in twenty, the slowest, and the ratio to one run."""
    middle, late = statistics.median(times), statistics.quantiles(times, n=20)[-1]
    print(f"{name:<22} median {middle:5.1f} ms, 95 in 100 below {late:5.1f} ms,"
          f" slowest {max(times):5.1f} ms; {middle / unit:4.1f} runs of the rules")  # fmt: skip


def main() -> None:
    """Print all figures."""
    coach = open_coach(folders_of(()))
    room = open_room(coach)
    drawn = [room.deck.draw(FIRST + i) for i in range(CASES)]
    unit = statistics.median(timed(lambda i: coach.infer(drawn[i].case)))
    print(f"one run of the rules: {unit:.1f} ms")
    shown("next case", timed(lambda i: room.deck.draw(FIRST + CASES + i)), unit)
    said = "press the foot hard into the hold before you move the hand, and keep the hips close"
    marks = timed(lambda i: room.marker.mark(drawn[i].case, drawn[i].told, said))
    shown("marking an answer", marks, unit)
    room.deck.close()
    coach.close()
    _starts()


def _starts() -> None:
    command = [sys.executable, "-m", "coachbot", "study", "case", "77", "--as", "Tomas"]
    with tempfile.TemporaryDirectory() as home:
        env = {**os.environ, "COACHBOT_HOME": home}
        for name, forget in (
            ("nothing kept", "*"), ("rules kept", "*.marking"), ("all kept", "no such file"),
        ):  # fmt: skip
            for file in Path(home, "cache").glob(forget):
                file.unlink()
            before = os.times()
            subprocess.run(command, input=b"leave\n", env=env, check=True, capture_output=True)
            after = os.times()
            took = after.children_user - before.children_user
            print(f"a case from the start, {name}: {took:.1f} s of processor time")


if __name__ == "__main__":
    main()
