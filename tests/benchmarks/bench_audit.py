"""Time of an audit: of the shipped rules as a whole, of a few of them, and of growing rule sets.

    python -m tests.benchmarks.bench_audit [--sizes 500 1000 2000 5000] [--compare]

Seconds of wall time, with those of the processor in brackets. The generated rules are
conjunctions on 60 facts; 30 in 100 conclude what others read, the rest suggest. ``--compare``
adds the time of comparing each set with itself after one rule in 100 was changed.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from dataclasses import replace
from random import Random

from coachbot.engine.model import All, Condition, Op, Test
from coachbot.knowledge.book import Place, ReadRule, RuleBook, load
from coachbot.knowledge.model import Rule
from coachbot.knowledge.places import shipped_rules
from coachbot.review.audit import Report, audit
from coachbot.review.comparing import compare
from tests.benchmarks import generated
from tests.review.small import asked, choice, number, rule, several, small_book, suggest, yes_no

TROUBLES = ("slips", "swings", "stuck", "tires", "falls", "waits")
FEW = 8


Timed = tuple[float, float, Report, list[tuple[str, float]]]


def timed(book: RuleBook, only: Sequence[str] = ()) -> Timed:
    """Wall and processor time of an audit, its report, and its stages, the longest first."""
    stages: list[tuple[str, float]] = []
    start, working = time.perf_counter(), time.process_time()

    def tell(text: str) -> None:
        stages.append((text, time.perf_counter()))

    report = audit(book, only, tell)
    end = time.perf_counter()
    ends = [at for _, at in stages[1:]] + [end]
    took = [(text, after - at) for (text, at), after in zip(stages, ends, strict=True)]
    busy = time.process_time() - working
    return end - start, busy, report, sorted(took, key=lambda each: -each[1])


def generated_book(seed: int, size: int) -> RuleBook:
    """A book of generated rules that the engine can run."""
    rng = Random(seed)
    facts = {"trouble": choice(*TROUBLES)}
    for n in range(generated.ATTRIBUTES):
        name = f"given{n}"
        more = asked() if n % 6 == 0 else {}
        facts[name] = number(0, 100, **more) if n % 4 == 0 else several(*"abcdefgh", **more)
    groups = max(1, size // 25)
    facts |= {
        f"made{level}_{g}": several(*"abcd", concluded=True)
        for level in range(4)
        for g in range(groups)
    }
    facts["not_allowed"] = several("climbing", "jump", concluded=True)
    facts["tired"] = yes_no()
    safety = rule("tired is yes", then=["not_allowed is jump"])
    words = {n: ("number",) if f["kind"] == "number" else tuple(f.get("values", ("yes", "no")))
             for n, f in facts.items() if not f.get("concluded")}  # fmt: skip
    property_ = {"when": ["tired is yes"], "never": ["jump"], "because": "it hurts"}
    book = small_book(facts, {"safety": safety}, words, {"held": property_})
    rules = dict(book.rules)
    for i, engine_rule in enumerate(generated.rule_set(seed, size)):
        name = f"r{i}"
        advises = rng.random() < 0.7
        trouble = Test("trouble", Op.EQUAL, rng.choice(TROUBLES))
        when = All((trouble, engine_rule.when)) if advises else engine_rule.when
        cue = suggest(f"Cue {i} {rng.random():.9f}", loads=["jump"] if i % 5 == 0 else [])
        spec = rule(suggest=cue) if advises else rule(then=["-"])
        parsed = Rule.model_validate(spec)
        then = () if advises else engine_rule.then
        rules[name] = ReadRule(name, "feet", Place("rules", 1), parsed, _flat(when), then)
    return replace(book, rules=rules)


def _flat(when: Condition) -> All:
    assert isinstance(when, All)
    parts: list[Condition] = []
    for part in when.parts:
        parts += part.parts if isinstance(part, All) else [part]
    return All(tuple(parts))


def show(name: str, made: Timed) -> None:
    seconds, busy, report, stages = made
    kinds = f"{len(report.findings)} findings, {len(report.accepted)} accepted"
    print(f"{name}: {seconds:.1f} s ({busy:.1f} s), {kinds}", flush=True)
    for text, took in stages[:4]:
        print(f"    {took:6.2f} s  {text}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", nargs="*", type=int, default=[500, 1000, 2000, 5000])
    parser.add_argument("--compare", action="store_true")
    arguments = parser.parse_args()
    start = time.perf_counter()
    book = load(shipped_rules())
    print(f"{len(book.rules)} shipped rules read in {time.perf_counter() - start:.1f} s")
    show("the shipped rules", timed(book))
    rng = Random(1)
    ids = rng.sample(list(book.rules), FEW)
    alone = [timed(book, [i])[1] for i in ids]
    print(f"one rule alone ({FEW} of them): ({min(alone):.1f} to {max(alone):.1f} s)")
    show(f"{FEW} rules together", timed(book, ids))
    first: float | None = None
    for size in arguments.sizes:
        made = generated_book(1, size)
        found = timed(made)
        first = first or found[1]
        show(f"{size} generated rules ({found[1] / first:.1f} times the first)", found)
        if arguments.compare:
            changed = dict(made.rules)
            for name in rng.sample([n for n in changed if n != "safety"], max(1, size // 100)):
                parts = changed[name].when
                assert isinstance(parts, All)
                changed[name] = replace(changed[name], when=All(parts.parts[1:]))
            start = time.perf_counter()
            differs = compare(made, replace(made, rules=changed)).changed
            took = time.perf_counter() - start
            print(f"    compared with itself changed: {took:.1f} s, {len(differs)} rules differ")


if __name__ == "__main__":
    main()
