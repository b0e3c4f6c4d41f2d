"""What holds for every rule set and case, tried on generated ones that shrink when they fail."""

from __future__ import annotations

from random import Random

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coachbot.engine import (
    All,
    Any,
    Case,
    Condition,
    EngineRule,
    Network,
    Op,
    RuleSetError,
    Run,
    Test,
    Value,
)
from tests.engine.naive import Naive, text

GIVEN = ("a", "b", "c")
SINGLE = ("a", "one")
VALUES: st.SearchStrategy[Value] = st.one_of(
    st.sampled_from([True, False, 0, 1, 2, 1.0, 2.5, "1", "x", ""]),
    st.floats(allow_nan=False),
    st.text("ab1é ", max_size=3),
)
NUMBERS = st.one_of(st.integers(-3, 3), st.floats(allow_nan=False))
# Machines that are busy with something else are no failure.
steady = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
POSITIVE = (Op.EQUAL, Op.ONE_OF, Op.AT_LEAST, Op.AT_MOST, Op.KNOWN)


@st.composite
def single_tests(draw: st.DrawFn, attributes: tuple[str, ...], ops: tuple[Op, ...]) -> Test:
    attribute, op = draw(st.sampled_from(attributes)), draw(st.sampled_from(ops))
    if op in (Op.KNOWN, Op.UNKNOWN):
        return Test(attribute, op)
    if op is Op.ONE_OF:
        return Test(attribute, op, tuple(draw(st.lists(VALUES, min_size=1, max_size=3))))
    return Test(attribute, op, draw(NUMBERS if op in (Op.AT_LEAST, Op.AT_MOST) else VALUES))


def conditions(
    attributes: tuple[str, ...], ops: tuple[Op, ...] = tuple(Op)
) -> st.SearchStrategy[Condition]:
    def nested(parts: st.SearchStrategy[Condition]) -> st.SearchStrategy[Condition]:
        several = st.lists(parts, max_size=3).map(tuple)
        return several.map(All) | several.map(Any)

    single: st.SearchStrategy[Condition] = single_tests(attributes, ops)
    return st.recursive(single, nested, max_leaves=6)


@st.composite
def rule_sets(draw: st.DrawFn, ops: tuple[Op, ...] = tuple(Op)) -> list[EngineRule]:
    """Rules of three tiers; ``one`` is derived and single-valued, ``more`` several-valued."""
    rules: list[EngineRule] = []
    tiers: tuple[tuple[tuple[str, ...], tuple[str, ...]], ...] = (
        (GIVEN, ("more",)),
        ((*GIVEN, "more"), ("one", "other")),
        ((*GIVEN, "more", "one", "other"), ("last",)),
    )
    for reads, makes in tiers:
        for _ in range(draw(st.integers(0, 4))):
            when = draw(conditions(reads, ops))
            made = st.tuples(st.sampled_from(makes), VALUES)
            attribute, value = draw(made)
            if attribute == "one":
                when = All((when, draw(single_tests(("more",), ops))))
            rules.append(EngineRule(f"r{len(rules)}", when, ((attribute, value),)))
    return rules


FACTS = st.dictionaries(
    st.sampled_from([*GIVEN, "more", "one", "other"]),
    st.lists(VALUES, max_size=3).map(tuple),
)


def one_value(facts: dict[str, tuple[Value, ...]]) -> dict[str, tuple[Value, ...]]:
    return {a: values[:1] if a in SINGLE else values for a, values in facts.items()}


CASES = st.builds(Case, FACTS.map(one_value), FACTS)


def run(rules: list[EngineRule], case: Case, single: tuple[str, ...] = SINGLE) -> Run | None:
    """None when the rules clash for sure, as generated ones may."""
    try:
        with Network(rules, single) as network:
            return network.run(case)
    except RuleSetError:
        return None


@steady
@given(rule_sets(), CASES)
def test_a_case_comes_to_what_the_naive_chainer_says(rules: list[EngineRule], case: Case) -> None:
    found = run(rules, case)
    if found is not None:
        assert text(found) == text(Naive(rules, SINGLE).run(case))


@steady
@given(rule_sets(), CASES, st.integers())
def test_the_order_of_rules_and_facts_does_not_matter(
    rules: list[EngineRule], case: Case, seed: int
) -> None:
    found = run(rules, case)
    rng = Random(seed)
    said, denied = list(case.said.items()), list(case.denied.items())
    for items in (rules, said, denied):
        rng.shuffle(items)
    again = run(rules, Case(dict(said), dict(denied)))
    assert (found is None) == (again is None)
    if found is not None and again is not None:
        assert text(found) == text(again)


@steady
@given(rule_sets(), FACTS.map(one_value))
def test_saying_what_was_concluded_changes_nothing(
    rules: list[EngineRule], said: dict[str, tuple[Value, ...]]
) -> None:
    first = run(rules, Case(said))
    if first is None or first.conflicts or any(firing.overruled for firing in first.firings):
        return
    second = run(rules, Case(first.facts))
    assert second is not None
    assert text(second) == text(first)


@steady
@given(rule_sets(POSITIVE), FACTS, FACTS)
def test_without_negation_more_facts_never_take_a_firing_away(
    rules: list[EngineRule],
    said: dict[str, tuple[Value, ...]],
    more: dict[str, tuple[Value, ...]],
) -> None:
    both = {a: said.get(a, ()) + more.get(a, ()) for a in {**said, **more}}
    less, rich = run(rules, Case(said), ()), run(rules, Case(both), ())
    assert less is not None
    assert rich is not None
    assert {firing.rule for firing in less.firings} <= {firing.rule for firing in rich.firings}
    for attribute, values in less.facts.items():
        there = [(type(v) is bool, v) for v in rich.facts[attribute]]
        assert all((type(v) is bool, v) in there for v in values)


@steady
@given(st.lists(conditions(GIVEN), max_size=4), CASES)
def test_any_holds_when_one_of_its_parts_would_as_a_rule(
    parts: list[Condition], case: Case
) -> None:
    rules = [EngineRule(f"part {n}", part) for n, part in enumerate(parts)]
    rules += [EngineRule("any", Any(tuple(parts))), EngineRule("all", All(tuple(parts)))]
    found = run(rules, case)
    if found is None:  # more than 64 alternatives
        return
    fired = {firing.rule for firing in found.firings}
    held = [f"part {n}" in fired for n in range(len(parts))]
    assert ("any" in fired, "all" in fired) == (any(held), all(held))


@steady
@given(VALUES, CASES)
def test_opposite_tests_never_hold_together(value: Value, case: Case) -> None:
    rules = [
        EngineRule("is", Test("b", Op.EQUAL, value)),
        EngineRule("is not", Test("b", Op.NOT_EQUAL, value)),
        EngineRule("known", Test("b", Op.KNOWN)),
        EngineRule("unknown", Test("b", Op.UNKNOWN)),
    ]
    found = run(rules, case)
    assert found is not None
    fired = {firing.rule for firing in found.firings}
    assert len(fired & {"known", "unknown"}) == 1
    assert len(fired & {"is", "is not"}) == 1 or "unknown" in fired
    assert not {"is", "is not"} <= fired
