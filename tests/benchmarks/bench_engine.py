"""Time of one case in coachbot's engine, in CLIPS and in clingo, on the same rules.

    python -m tests.benchmarks.bench_engine [--own] [--sizes 100 500 5000] [--cases 300]

Every engine runs in a process of its own, the engines taking turns; the rules that fired are
compared for every case. CLIPS and clingo only list the rules that fired, coachbot's engine
also gives the matched facts, conclusions and conflicts.
"""

from __future__ import annotations

import argparse
import pickle
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from typing import cast

from coachbot.engine import Case, EngineRule, Network, Run
from tests.benchmarks import generated

ENGINES = ("coachbot", "clips", "clingo")
WARM_UP = 20
_NAME = "tests.benchmarks.bench_engine"


@dataclass
class Timing:
    """Seconds to build, seconds of every case, and the rules that fired in it."""

    build: float
    cases: list[float]
    fired: list[list[int]]


def measure(
    engine: str, rules: Sequence[EngineRule], single_valued: Collection[str], cases: Sequence[Case]
) -> Timing:
    """Runs all cases in one engine in this process."""
    run: Callable[[Case], object]
    if engine == "coachbot":
        start = time.perf_counter()
        network = Network(rules, single_valued)
        run = network.run
    elif engine == "clips":
        from tests.benchmarks.in_clips import Clips

        with Network(rules, single_valued) as network:
            levels = dict(network.levels)
        start = time.perf_counter()
        run = Clips(rules, single_valued, levels, cases).run
    else:
        from tests.benchmarks.in_clingo import Clingo

        start = time.perf_counter()
        run = Clingo(rules, single_valued, cases).run
    build = time.perf_counter() - start
    for case in cases[:WARM_UP]:
        run(case)
    times: list[float] = []
    found: list[object] = []
    for case in cases:
        start = time.perf_counter()
        outcome = run(case)
        times.append(time.perf_counter() - start)
        found.append(outcome)
    if engine == "coachbot":
        position = {rule.name: number for number, rule in enumerate(rules)}
        fired = [[position[f.rule] for f in cast(Run, run).firings] for run in found]
    else:
        fired = cast(list[list[int]], found)
    return Timing(build, times, [sorted(set(each)) for each in fired])


def compare(
    rules: Sequence[EngineRule],
    single_valued: Collection[str],
    cases: Sequence[Case],
    rounds: int = 3,
) -> dict[str, Timing]:
    """All engines on the same rules and cases, each in a process of its own.

    Raises ValueError when two engines do not agree on what fired.
    """
    timings: dict[str, Timing] = {}
    with tempfile.TemporaryDirectory() as folder:
        task = Path(folder, "task")
        task.write_bytes(pickle.dumps((list(rules), set(single_valued), list(cases))))
        for _ in range(rounds):
            for engine in ENGINES:
                command = [sys.executable, "-m", _NAME, "--measure", engine, str(task)]
                output = subprocess.run(command, check=True, stdout=subprocess.PIPE).stdout
                timing = Timing(*pickle.loads(output))
                if engine in timings:
                    timings[engine].cases += timing.cases
                else:
                    timings[engine] = timing
    first = timings[ENGINES[0]]
    for engine, timing in timings.items():
        for number, (ours, theirs) in enumerate(zip(first.fired, timing.fired, strict=True)):
            if ours != theirs:
                raise ValueError(f"{engine} differs in case {number}: {ours} and {theirs}")
    return timings


def report(title: str, timings: dict[str, Timing]) -> None:
    ours = median(timings["coachbot"].cases)
    firings = sum(map(len, timings["coachbot"].fired)) / len(timings["coachbot"].fired)
    print(f"{title}; {firings:.1f} rules fire in a case")
    for engine, timing in timings.items():
        middle = median(timing.cases)
        print(
            f"  {engine:10} {middle * 1e3:8.3f} ms a case   ours/theirs {ours / middle:5.2f}   "
            f"build {timing.build * 1e3:7.0f} ms"
        )
    print("  all engines fire the same rules in every case", flush=True)


def _own_rules(rounds: int) -> None:
    """The shipped rules on what the development messages state."""
    from coachbot.case import Case as Told
    from coachbot.case import Known
    from coachbot.knowledge.book import load
    from coachbot.knowledge.places import shipped_rules
    from tests.messages.model import development

    book = load(shipped_rules())
    rules = [e for rule in book.rules.values() for e in rule.for_engine()]
    cases = []
    for message in development(book):
        known = [Known(n.fact, n.value, n.denied) for n in message.facts]
        cases.append(Told().with_known(known, book.single_valued).for_engine())
    title = f"the project's own {len(book.rules)} rules, {len(cases)} cases"
    report(title, compare(rules, book.single_valued, cases, rounds))


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--sizes", type=int, nargs="+", default=[100, 500, 5000])
    parser.add_argument("--cases", type=int, default=300)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--own", action="store_true", help="the project's own rules first")
    parser.add_argument("--measure", nargs=2, metavar=("ENGINE", "TASK"), help=argparse.SUPPRESS)
    arguments = parser.parse_args()
    if arguments.measure:
        engine, task = arguments.measure
        rules, single_valued, cases = pickle.loads(Path(task).read_bytes())
        timing = measure(engine, rules, single_valued, cases)
        sys.stdout.buffer.write(pickle.dumps((timing.build, timing.cases, timing.fired)))
        return
    if arguments.own:
        _own_rules(arguments.rounds)
    for size in arguments.sizes:
        rules = generated.rule_set(arguments.seed, size)
        cases = generated.cases(arguments.seed, arguments.cases)
        report(f"{size} rules", compare(rules, (), cases, arguments.rounds))


if __name__ == "__main__":
    main()
