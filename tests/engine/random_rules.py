"""Random rule sets and cases of every kind the engine takes, from a seed."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

from coachbot.engine import All, Any, Case, Condition, EngineRule, Op, Test, Value

_WORDS: tuple[Value, ...] = ("slab", "roof", "edge", "", "größe", 'q"\\', "1", "yes")
_NUMBERS: tuple[Value, ...] = (0, 1, 1.0, 2, 2.5, -3, 40, 1e-7, 1e22, float("inf"), 10**30)
_MIXED: tuple[Value, ...] = (True, False, 1, 0, 1.0, "1", "true", "True", 2.5)
_YES_NO: tuple[Value, ...] = (True, False)


@dataclass
class Attribute:
    """``tier`` 0 is given; others are concluded by rules that read lower tiers only."""

    name: str
    tier: int
    single: bool
    values: tuple[Value, ...]


@dataclass
class RuleSet:
    rules: list[EngineRule]
    single: frozenset[str]
    attributes: list[Attribute]


def random_rule_set(rng: Random, size: int) -> RuleSet:
    """A rule set that the engine accepts; some of its cases run into conflicts."""
    tiers = rng.randint(1, 4)
    attributes = [_attribute(rng, f"given{n}", 0) for n in range(rng.randint(3, 8 + size // 8))]
    split = Attribute("split", 0, True, ("low", "mid", 7, True))
    attributes.append(split)
    for tier in range(1, tiers + 1):
        attributes += [
            _attribute(rng, f"made{tier}_{n}", tier) for n in range(rng.randint(1, 2 + size // 30))
        ]
    styles = {a.name: rng.choice(("home", "split")) for a in attributes}
    rules: list[EngineRule] = []
    while len(rules) < size:
        tier = rng.choices(range(tiers + 1), [4] + [6] * tiers)[0]
        lower = [a for a in attributes if a.tier < max(tier, 1)]
        when = _condition(rng, lower, rng.choice((0, 1, 1, 2, 3)))
        then: list[tuple[str, Value]] = []
        made_already = {attribute for rule in rules for attribute, _ in rule.then}
        derived = [a for a in lower if a.name in made_already]
        makeable = [a for a in attributes if a.tier == tier]
        for made in rng.sample(makeable, min(len(makeable), rng.choice((1, 1, 2)))) if tier else ():
            value = rng.choice(made.values)
            if made.single:
                when, value = _without_sure_clash(rng, when, made, derived, styles, value)
            then.append((made.name, value))
            if not made.single and rng.random() < 0.3:
                then.append((made.name, rng.choice(made.values)))
        if _ways(when) <= 64:
            rules.append(EngineRule(f"rule {len(rules)}", when, tuple(then)))
    rng.shuffle(rules)
    single = frozenset(a.name for a in attributes if a.single)
    return RuleSet(rules, single, attributes)


def _without_sure_clash(
    rng: Random,
    when: Condition,
    made: Attribute,
    derived: list[Attribute],
    styles: dict[str, str],
    value: Value,
) -> tuple[Condition, Value]:
    """Rules for one single-valued attribute may clash in a case, but not for sure."""
    if derived and rng.random() < 0.6:
        return All((when, _test(rng, rng.choice(derived)))), value
    if styles[made.name] == "home":
        return when, made.values[0]
    side = rng.choice(("low", "mid", 7, True))
    place = ("low", "mid", 7, True).index(side)
    return All((Test("split", Op.EQUAL, side), when)), made.values[place % len(made.values)]


def _attribute(rng: Random, name: str, tier: int) -> Attribute:
    pool = rng.choice((_WORDS, _NUMBERS, _MIXED, _YES_NO))
    values = tuple(rng.sample(pool, rng.randint(2, min(6, len(pool)))))
    return Attribute(name, tier, rng.random() < 0.6, values)


def _condition(rng: Random, attributes: list[Attribute], depth: int) -> Condition:
    if depth == 0 or rng.random() < 0.3:
        return _test(rng, rng.choice(attributes))
    kind = rng.choice((All, All, Any))
    parts = rng.choice((0, 1, 2, 2, 3, 4)) if depth < 3 else rng.randint(1, 3)
    return kind(tuple(_condition(rng, attributes, depth - 1) for _ in range(parts)))


def _test(rng: Random, attribute: Attribute) -> Test:
    op = rng.choices(list(Op), [6, 2, 2, 2, 2, 1, 1])[0]
    values = attribute.values
    numbers = [v for v in values if isinstance(v, (int, float)) and not isinstance(v, bool)]
    if op in (Op.KNOWN, Op.UNKNOWN):
        return Test(attribute.name, op)
    if op is Op.ONE_OF:
        return Test(attribute.name, op, tuple(rng.choices(values, k=rng.randint(1, 3))))
    if op in (Op.AT_LEAST, Op.AT_MOST):
        return Test(attribute.name, op, rng.choice(numbers or [0, 1.5]))
    return Test(attribute.name, op, rng.choice(values))


def _ways(when: Condition) -> int:
    """No fewer alternatives than the condition has."""
    if isinstance(when, Test):
        return 1
    counts = [_ways(part) for part in when.parts]
    if isinstance(when, Any):
        return sum(counts)
    product = 1
    for count in counts:
        product *= count
    return product


def random_case(rng: Random, rule_set: RuleSet) -> Case:
    """Given attributes are often said, derived ones at times; some values are denied."""
    said: dict[str, tuple[Value, ...]] = {}
    denied: dict[str, tuple[Value, ...]] = {}
    talkative = rng.choice((0.0, 0.3, 0.6, 0.9))
    for attribute in rng.sample(rule_set.attributes, len(rule_set.attributes)):
        if rng.random() < (talkative if attribute.tier == 0 else 0.15):
            number = 1 if attribute.single else rng.choice((0, 1, 1, 2, 3))
            said[attribute.name] = tuple(rng.choices(attribute.values, k=number))
        if rng.random() < 0.15:
            denied[attribute.name] = tuple(rng.choices(attribute.values, k=rng.randint(0, 2)))
    return Case(said, denied)
