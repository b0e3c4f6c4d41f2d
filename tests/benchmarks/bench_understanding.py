"""Time to understand a message, against the time to merely stem its words.

    python -m tests.benchmarks.bench_understanding [--rounds 5]

Stemming every word anew with the same stemmer is the yardstick: it does not depend on the
word lists, and a ratio to it says the same on a slow and on a fast machine.
"""

from __future__ import annotations

import argparse
import time
import tracemalloc
from collections.abc import Callable
from statistics import median

import snowballstemmer

from coachbot.knowledge.book import load
from coachbot.knowledge.places import shipped_rules
from coachbot.understanding import Reader
from coachbot.understanding.tokens import fold, tokens
from tests.messages import model


def timed(work: Callable[[], object]) -> float:
    """Seconds of processor time of one call."""
    start = time.process_time()
    work()
    return time.process_time() - start


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--rounds", type=int, default=5)
    rounds = parser.parse_args().rounds
    book = load(shipped_rules())
    build = min(timed(lambda: Reader(book)) for _ in range(rounds))
    tracemalloc.start()
    reader = Reader(book)
    kept, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    messages = [m.say for m in model.development(book)]
    stemmer = snowballstemmer.stemmer("english")

    def read(text: str) -> float:
        return min(timed(lambda: reader.read(text)) for _ in range(rounds))

    def stem(text: str) -> float:
        words = [t.text for t in tokens(fold(text)) if t.is_word]
        return min(timed(lambda: [stemmer.stemWord(w) for w in words]) for _ in range(rounds))

    times = sorted(read(m) for m in messages)
    yard = median(stem(m) for m in messages)
    long = "I was on the slab and my foot slipped off a tiny chip, then I tried flagging. "
    print(f"reader built in {build * 1000:.0f} ms, {kept / 1e6:.1f} MB kept")
    print(
        f"{len(messages)} messages: median {median(times) * 1000:.2f} ms,"
        f" 95th of 100 {times[int(len(times) * 0.95)] * 1000:.2f} ms,"
        f" worst {times[-1] * 1000:.2f} ms"
    )
    print(f"median message: {median(times) / yard:.1f} times the stemming of its words")
    for size in (1_000, 2_000, 4_000, 100_000):
        text = (long * (size // len(long) + 1))[:size]
        print(f"{size:>7} characters: {read(text) * 1000:.1f} ms")


if __name__ == "__main__":
    main()
