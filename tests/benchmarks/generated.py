"""Rule sets of any size that look like a coach's: short conjunctions, some of them chained."""

from __future__ import annotations

from random import Random

from coachbot.engine import All, Case, EngineRule, Op, Test, Value

ATTRIBUTES = 60
_WORDS: tuple[Value, ...] = ("a", "b", "c", "d", "e", "f", "g", "h")


def rule_set(seed: int, size: int) -> list[EngineRule]:
    """Conjunctions of 1 to 8 tests on 60 given attributes; 40 in 100 rules also read what
    rules of up to 3 lower levels conclude. Every rule concludes one value."""
    rng = Random(seed)
    rules: list[EngineRule] = []
    for n in range(size):
        level = rng.choice((1, 2, 3)) if rng.random() < 0.4 else 0
        tests = [_test(rng, f"given{rng.randrange(ATTRIBUTES)}") for _ in range(rng.randint(1, 8))]
        if level:
            group = rng.randrange(max(1, size // 25))
            tests[0] = Test(
                f"made{level - 1}_{group}",
                rng.choices((Op.EQUAL, Op.UNKNOWN, Op.KNOWN), (6, 1, 1))[0],
            )
            if tests[0].op is Op.EQUAL:
                tests[0] = Test(tests[0].attribute, Op.EQUAL, rng.choice(_WORDS[:4]))
        made = f"made{level}_{rng.randrange(max(1, size // 25))}"
        rules.append(EngineRule(f"rule {n}", All(tuple(tests)), ((made, rng.choice(_WORDS[:4])),)))
    return rules


def _number_valued(attribute: str) -> bool:
    return int(attribute.removeprefix("given")) % 4 == 0


def _test(rng: Random, attribute: str) -> Test:
    if _number_valued(attribute):
        if rng.random() < 0.7:
            op = rng.choice((Op.AT_LEAST, Op.AT_MOST))
            return Test(attribute, op, rng.randrange(0, 100, 5))
    elif rng.random() < 0.7:
        op = rng.choices((Op.EQUAL, Op.ONE_OF), (5, 1))[0]
        words = tuple(rng.sample(_WORDS, 3))
        return Test(attribute, op, words if op is Op.ONE_OF else words[0])
    op = rng.choices((Op.KNOWN, Op.UNKNOWN, Op.NOT_EQUAL), (1, 2, 2))[0]
    if op is Op.NOT_EQUAL:
        return Test(attribute, op, 50 if _number_valued(attribute) else rng.choice(_WORDS))
    return Test(attribute, op)


def cases(seed: int, number: int) -> list[Case]:
    """Cases in which 5 to 25 given attributes have one or, at times, two values."""
    rng = Random(seed)
    found: list[Case] = []
    for _ in range(number):
        said: dict[str, tuple[Value, ...]] = {}
        denied: dict[str, tuple[Value, ...]] = {}
        for n in rng.sample(range(ATTRIBUTES), rng.randint(5, 25)):
            name = f"given{n}"
            if rng.random() < 0.05:
                denied[name] = (rng.choice(_WORDS),)
            elif _number_valued(name):
                said[name] = (rng.randrange(100),)
            else:
                said[name] = tuple(rng.sample(_WORDS, rng.choice((1, 1, 1, 2))))
        found.append(Case(said, denied))
    return found
