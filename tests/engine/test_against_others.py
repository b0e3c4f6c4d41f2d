"""The engine against two independent computations of the same meaning, on random rules.

One is a forward chainer in plain Python, the other clingo, a solver for logic programs.
COACHBOT_RULE_SETS sets how many random rule sets are tried, COACHBOT_SEED where the fresh
ones start.
"""

from __future__ import annotations

import os
import secrets
from random import Random

import pytest

from coachbot.engine import Network
from tests.engine.asp import by_case, outcome_of, outcomes
from tests.engine.naive import Naive, text
from tests.engine.random_rules import random_case, random_rule_set

RULE_SETS = int(os.environ.get("COACHBOT_RULE_SETS", "520"))
CASES = 20
CHUNKS = 20


def compare(seed: int) -> dict[str, int]:
    """Compares 20 cases of one random rule set; says how much there was to compare."""
    rng = Random(seed)
    size = rng.choice([*range(5, 41)] * 6 + [*range(41, 120)] + [150, 200, 250, 300] * 4)
    rule_set = random_rule_set(rng, size)
    cases = [random_case(rng, rule_set) for _ in range(CASES)]
    naive = Naive(rule_set.rules, rule_set.single)
    seen = dict.fromkeys(("firings", "conflicts", "overruled", "several", "derived"), 0)
    with Network(rule_set.rules, rule_set.single) as network:
        assert dict(network.levels) == naive.levels, f"seed {seed}"
        from_clingo = outcomes(rule_set.rules, rule_set.single, cases)
        for number, (case, expected) in enumerate(zip(cases, from_clingo, strict=True)):
            run = network.run(case)
            where = f"seed {seed}, case {number}: {case}"
            assert text(run) == text(naive.run(case)), where
            assert by_case(outcome_of(run)) == by_case(expected), where
            seen["firings"] += len(run.firings)
            seen["conflicts"] += len(run.conflicts)
            seen["overruled"] += sum(bool(firing.overruled) for firing in run.firings)
            seen["several"] += sum(len(values) > 1 for values in run.facts.values())
            seen["derived"] += sum(network.levels[firing.rule] > 0 for firing in run.firings)
    return seen


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_random_rule_sets(chunk: int) -> None:
    total: dict[str, int] = {}
    for seed in range(chunk, RULE_SETS, CHUNKS):
        for name, number in compare(seed).items():
            total[name] = total.get(name, 0) + number
    # The comparison is worth something only where all of this happened.
    assert RULE_SETS < 20 * CHUNKS or all(total.values()), total


def test_fresh_random_rule_sets() -> None:
    start = int(os.environ.get("COACHBOT_SEED", secrets.randbelow(2**40)))
    print(f"COACHBOT_SEED={start}")
    for seed in range(start, start + max(1, RULE_SETS // CHUNKS)):
        compare(seed)
