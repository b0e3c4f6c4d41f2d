"""Small rule sets from a seed, as a coach would write them down, and the same said otherwise."""

from __future__ import annotations

from copy import deepcopy
from random import Random
from typing import Any as Anything

from coachbot.knowledge.book import RuleBook
from tests.review.small import asked, choice, number, rule, several, small_book, suggest, yes_no

Rules = dict[str, dict[str, Anything]]

HOLDS = ("jug", "edge", "sloper")
FACTS = {
    "trouble": choice("slips", "swings", **asked()),
    "hold": choice(*HOLDS, **asked(ask_when=["trouble is known"])),
    "tired": yes_no(**asked(ask_when=[{"any": ["trouble is slips", "angle is at least 2"]}])),
    "angle": number(0, 4),
    "means": choice("weak", "far", "odd", concluded=True),
    "marks": several("red", "blue", concluded=True),
    "not_allowed": several("climbing", "jump", concluded=True),
}
WORDS = {"trouble": ("slips", "swings"), "hold": HOLDS, "angle": ("number",)}


def book_of(rules: Rules, **more: Anything) -> RuleBook:
    """The rules over the vocabulary of this module."""
    return small_book(FACTS, rules, WORDS, **more)


def random_rules(rng: Random, most: int = 9) -> Rules:
    """Rules in three levels: the first two conclude, the last suggest."""
    rules: Rules = {}
    for i in range(rng.randint(4, most)):
        level = rng.choice((0, 0, 1, 2, 2))
        name = f"r{i}"
        when = _conditions(rng, level)
        if level == 0:
            rules[name] = rule(*when, then=[f"means is {rng.choice(('weak', 'far', 'odd'))}"])
        elif level == 1:
            made = rng.choice(("marks is red", "marks is blue", "not_allowed is jump"))
            rules[name] = rule(*when, then=[made])
        else:
            rules[name] = rule(
                *when, suggest=suggest(f"Cue {i}.", (rng.choice(("grip", "feet")),), _loads(rng))
            )
    return rules


def _loads(rng: Random) -> list[str]:
    return rng.choice(([], ["climbing"], ["climbing", "jump"]))


def _conditions(rng: Random, level: int) -> list[Anything]:
    parts: list[Anything] = [
        _any_or_test(rng, level) for _ in range(rng.choice((1, 2, 2, 3)))
    ]  # fmt: skip
    return parts


def _any_or_test(rng: Random, level: int) -> Anything:
    if rng.random() < 0.25:
        ways: list[Anything] = [_test(rng, level) for _ in range(rng.choice((2, 2, 3)))]
        if rng.random() < 0.3:
            ways[0] = {"all": [ways[0], _test(rng, level)]}
        return {"any": ways}
    return _test(rng, level)


def _test(rng: Random, level: int) -> str:
    made = {1: ["means"], 2: ["means", "marks"]}.get(level, [])
    fact = rng.choice(["trouble", "hold", "hold", "tired", "angle", *made, *made])
    if fact == "angle":
        return f"angle is at {rng.choice(('least', 'most'))} {rng.randint(0, 4)}"
    if rng.random() < 0.12:
        return f"{fact} is {rng.choice(('known', 'unknown'))}"
    values = ("yes", "no") if fact == "tired" else tuple(FACTS[fact]["values"])
    if len(values) > 2 and rng.random() < 0.25:
        return f"{fact} is one of {', '.join(rng.sample(values, 2))}"
    return f"{fact} is {'not ' if rng.random() < 0.2 else ''}{rng.choice(values)}"


def said_otherwise(rng: Random, rules: Rules) -> Rules:
    """Rules that mean the same: other order, other words for the same, added repeats."""
    changed = deepcopy(rules)
    for spec in changed.values():
        spec["when"] = _same(rng, spec["when"])
        if "then" in spec and rng.random() < 0.5:
            spec["then"] = [*spec["then"], spec["then"][0]]
    return changed


def _same(rng: Random, parts: list[Anything]) -> list[Anything]:
    parts = [_same_part(rng, part) for part in parts]
    if rng.random() < 0.3:
        parts.append(deepcopy(rng.choice(parts)))
    rng.shuffle(parts)
    # (a or b) and c: (a and c) or (b and c)
    if len(parts) == 2 and rng.random() < 0.4:
        one, other = parts
        if isinstance(one, dict) and "any" in one and not isinstance(other, dict):
            plain = [way for way in one["any"] if isinstance(way, str)]
            if len(plain) == len(one["any"]):
                return [{"any": [{"all": [way, other]} for way in plain]}]
    return parts


def _same_part(rng: Random, part: Anything) -> Anything:
    if isinstance(part, dict):
        ((kind, inner),) = part.items()
        inner = list(inner)
        rng.shuffle(inner)
        return {kind: inner}
    fact, _, rest = part.partition(" is one of ")
    if rest:
        values = rest.split(", ")
        rng.shuffle(values)
        if rng.random() < 0.7:
            return {"any": [f"{fact} is {value}" for value in values]}
        return f"{fact} is one of {', '.join(values)}"
    if part == "tired is known":
        return {"any": ["tired is yes", "tired is no"]}
    if part == "means is known":
        return "means is one of odd, weak, far"
    if part == "angle is at most 4":
        return "angle is known"
    return part
