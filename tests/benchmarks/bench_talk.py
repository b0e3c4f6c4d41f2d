"""Start to prompt, Enter to advice, and turns of whole talks, on the full rule set.

Run: ``python -m tests.benchmarks.bench_talk``. Times on a shared machine drift: quote the
medians, and the ratio of the start to a bare interpreter's.
"""

from __future__ import annotations

import random
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pexpect
import psutil

from coachbot.doors.opening import House, open_house
from coachbot.knowledge.book import load
from coachbot.knowledge.places import shipped_rules
from tests.messages.model import development

STARTS = 15
TURNS = 1_000
PROMPT = rb">(?:\x08\x1b\[2C| )"  # as it is drawn, the cursor moved or a blank written
LATER = ("why", "why 2", "what if the wall were steep", "don't know", "that did not help",
    "more", "undo", "on the slab", "my elbow hurts a bit", "another problem", "card",
    "why not a heel hook", "left hand", "about 30 degrees")  # fmt: skip


def main() -> None:
    """Print all figures."""
    _start()
    began = time.perf_counter()
    load(shipped_rules())
    print(f"load and check all rules, no cache: {1e3 * (time.perf_counter() - began):.0f} ms")
    house = open_house()
    _first_messages(house)
    _turns(house)
    print(f"memory: {psutil.Process().memory_info().rss / 1e6:.0f} MB resident")


def _start() -> None:
    with tempfile.TemporaryDirectory() as home:
        env = {"COACHBOT_HOME": home, "PATH": "/usr/bin:/bin", "TERM": "xterm", "HOME": home,
            "PROMPT_TOOLKIT_NO_CPR": "1"}  # fmt: skip
        prompts, bare = [], []
        for _ in range(STARTS + 1):
            began = time.perf_counter()
            child = pexpect.spawn(sys.executable, ["-m", "coachbot"], env=env, timeout=30)
            child.expect(PROMPT)
            prompts.append(time.perf_counter() - began)
            child.close(force=True)
            began = time.perf_counter()
            subprocess.run([sys.executable, "-c", "pass"], check=True)
            bare.append(time.perf_counter() - began)
    first, rest = prompts[0], prompts[1:]
    ratio = statistics.median(rest) / statistics.median(bare[1:])
    print(
        f"start to prompt: median {1e3 * statistics.median(rest):.0f} ms, worst"
        f" {1e3 * max(rest):.0f} ms of {STARTS}; first ever {1e3 * first:.0f} ms;"
        f" {ratio:.1f} times a bare interpreter"
    )


def _told(name: str, times: list[float]) -> None:
    median, worst = statistics.median(times), max(times)
    print(f"{name}: median {1e3 * median:.1f} ms, worst {1e3 * worst:.1f} ms of {len(times)}")


def _first_messages(house: House) -> None:
    texts = [m.say for m in development(house.book)]
    times = []
    for i in range(TURNS):
        talk = house.talk()
        began = time.perf_counter()
        talk.turn(texts[i % len(texts)])
        times.append(time.perf_counter() - began)
    _told("Enter to advice, first messages", times)


def _turns(house: House) -> None:
    rng = random.Random(7)
    texts = [m.say for m in development(house.book)]
    times = []
    talk = house.talk()
    for i in range(TURNS):
        if i % 8 == 0:
            talk = house.talk()
        text = rng.choice(texts) if i % 8 == 0 else rng.choice([*LATER, rng.choice(texts)])
        began = time.perf_counter()
        talk.turn(text)
        times.append(time.perf_counter() - began)
    _told("turns of talks", times)


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))
    main()
