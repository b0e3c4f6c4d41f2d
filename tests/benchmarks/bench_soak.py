"""Very many cases in one process, every one checked, with the rules replaced all the time.

    python -m tests.benchmarks.bench_soak [--cases 200000] [--reload-every 2000]

Five networks of different sizes are loaded at once; one after another is replaced by a new
one. Memory has to stay flat: a line with it is printed after every 20 reloads.
"""

from __future__ import annotations

import argparse
import secrets
import time
from random import Random

import psutil

from coachbot.engine import Network
from tests.engine.naive import Naive, text
from tests.engine.random_rules import RuleSet, random_case, random_rule_set

SIZES = (10, 50, 200, 500, 1000)


class Loaded:
    """A rule set in the engine and beside it in the naive chainer."""

    def __init__(self, rng: Random, size: int) -> None:
        self.rule_set: RuleSet = random_rule_set(rng, size)
        self.network = Network(self.rule_set.rules, self.rule_set.single)
        self.naive = Naive(self.rule_set.rules, self.rule_set.single)

    def check(self, rng: Random) -> int:
        """Runs one case in both; the number of firings. Raises when they differ."""
        case = random_case(rng, self.rule_set)
        run = self.network.run(case)
        if text(run) != text(self.naive.run(case)):
            raise AssertionError(f"wrong answer for {case}")
        return len(run.firings)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--cases", type=int, default=200_000)
    parser.add_argument("--reload-every", type=int, default=2_000)
    parser.add_argument("--seed", type=int, default=secrets.randbelow(2**32))
    arguments = parser.parse_args()
    print(f"seed {arguments.seed}, networks of {SIZES} rules", flush=True)
    rng = Random(arguments.seed)
    process = psutil.Process()
    loaded = [Loaded(rng, size) for size in SIZES]
    weights = [1 / size**0.5 for size in SIZES]
    start = time.monotonic()
    firings = reloads = 0
    for done in range(1, arguments.cases + 1):
        firings += rng.choices(loaded, weights)[0].check(rng)
        if done % arguments.reload_every == 0:
            place = reloads % len(loaded)
            reloads += 1
            old, loaded[place] = loaded[place], Loaded(rng, SIZES[place])
            old.network.close()
            if reloads % 20 == 0 or done == arguments.cases:
                print(
                    f"{done:8} cases right, {firings:9} firings, {reloads:4} reloads, "
                    f"{process.memory_info().rss / 1e6:6.0f} MB, "
                    f"{time.monotonic() - start:5.0f} s",
                    flush=True,
                )
    for each in loaded:
        each.network.close()


if __name__ == "__main__":
    main()
