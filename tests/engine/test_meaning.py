"""What tests, conditions and conclusions mean, one small case at a time."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from coachbot.engine import (
    All,
    Any,
    Case,
    Condition,
    Conflict,
    EngineRule,
    Matched,
    Network,
    Op,
    Run,
    Test,
    Value,
)

NAN, INF = float("nan"), float("inf")
LONG = "x" * 70_000


def run(
    *rules: EngineRule,
    said: Mapping[str, tuple[Value, ...]] | None = None,
    denied: Mapping[str, tuple[Value, ...]] | None = None,
    single: tuple[str, ...] = (),
) -> Run:
    with Network(rules, single) as network:
        return network.run(Case(said or {}, denied or {}))


def fires(when: Condition, values: tuple[Value, ...] = (), denied: tuple[Value, ...] = ()) -> bool:
    rule = EngineRule("rule", when)
    return bool(run(rule, said={"x": values}, denied={"x": denied}).firings)


@pytest.mark.parametrize(
    ("op", "value", "values", "denied", "expected"),
    [
        (Op.EQUAL, "a", ("a",), (), True),
        (Op.EQUAL, "a", ("b", "a"), (), True),
        (Op.EQUAL, "a", ("b",), (), False),
        (Op.EQUAL, "a", (), (), False),
        (Op.EQUAL, "a", (), ("b",), False),
        (Op.EQUAL, 1, (1.0,), (), True),
        (Op.EQUAL, 1, (True,), (), False),
        (Op.EQUAL, True, (1,), (), False),
        (Op.EQUAL, False, (0,), (), False),
        (Op.EQUAL, 0, (-0.0,), (), True),
        (Op.EQUAL, "1", (1,), (), False),
        (Op.EQUAL, "true", (True,), (), False),
        (Op.EQUAL, 1e-7, (1e-7,), (), True),
        (Op.EQUAL, 1e22, (10**22,), (), True),
        (Op.EQUAL, 2**64, (2**64 + 1,), (), False),
        (Op.EQUAL, INF, (INF,), (), True),
        (Op.EQUAL, INF, (-INF,), (), False),
        (Op.EQUAL, "", ("",), (), True),
        (Op.EQUAL, "", (), (), False),
        (Op.EQUAL, 'say "grip"\\\n', ('say "grip"\\\n',), (), True),
        (Op.EQUAL, "größe", ("größe",), (), True),
        (Op.EQUAL, "\ud800", ("\ud800",), (), True),
        (Op.EQUAL, LONG, (LONG,), (), True),
        (Op.EQUAL, LONG, (LONG + "y",), (), False),
        (Op.EQUAL, "x", ("x" + "y" * 65_536,), (), False),
        (Op.NOT_EQUAL, "a", ("b",), (), True),
        (Op.NOT_EQUAL, "a", ("a",), (), False),
        (Op.NOT_EQUAL, "a", ("a", "b"), (), False),
        (Op.NOT_EQUAL, "a", (), (), False),
        (Op.NOT_EQUAL, "a", (), ("a",), True),
        (Op.NOT_EQUAL, "a", (), ("b",), False),
        (Op.NOT_EQUAL, "a", ("a",), ("a",), False),
        (Op.NOT_EQUAL, 1, (True,), (), True),
        (Op.NOT_EQUAL, 1, (), (True,), False),
        (Op.NOT_EQUAL, 1, (), (1.0,), True),
        (Op.AT_LEAST, 10, (10,), (), True),
        (Op.AT_LEAST, 10, (9.999,), (), False),
        (Op.AT_LEAST, 10, (3, 12), (), True),
        (Op.AT_LEAST, 10, ("12",), (), False),
        (Op.AT_LEAST, 0, (True,), (), False),
        (Op.AT_LEAST, 10, (INF,), (), True),
        (Op.AT_LEAST, INF, (10**400,), (), False),
        (Op.AT_LEAST, 10, (10**400,), (), True),
        (Op.AT_LEAST, 10, (NAN,), (), False),
        (Op.AT_LEAST, 10, (), (10,), False),
        (Op.AT_MOST, 10, (10.0,), (), True),
        (Op.AT_MOST, 10, (10.5,), (), False),
        (Op.AT_MOST, 10, (12, 3), (), True),
        (Op.AT_MOST, 10, (False,), (), False),
        (Op.AT_MOST, -INF, (-INF,), (), True),
        (Op.AT_MOST, 10, (NAN,), (), False),
        (Op.ONE_OF, ("a", "b"), ("b",), (), True),
        (Op.ONE_OF, ("a", "b"), ("c", "a"), (), True),
        (Op.ONE_OF, ("a", "b"), ("c",), (), False),
        (Op.ONE_OF, (1, "a"), (True,), (), False),
        (Op.ONE_OF, (1, "a"), (1.0,), (), True),
        (Op.KNOWN, None, ("a",), (), True),
        (Op.KNOWN, None, (False,), (), True),
        (Op.KNOWN, None, (), (), False),
        (Op.KNOWN, None, (), ("a",), False),
        (Op.KNOWN, None, (NAN,), (), False),
        (Op.UNKNOWN, None, (), (), True),
        (Op.UNKNOWN, None, (), ("a",), True),
        (Op.UNKNOWN, None, (NAN,), (), True),
        (Op.UNKNOWN, None, (0,), (), False),
    ],
)
def test_one_test(
    op: Op,
    value: Value | tuple[Value, ...] | None,
    values: tuple[Value, ...],
    denied: tuple[Value, ...],
    expected: bool,
) -> None:
    assert fires(Test("x", op, value), values, denied) is expected


def test_a_fact_that_was_never_mentioned_is_unknown() -> None:
    assert run(EngineRule("rule", Test("x", Op.UNKNOWN))).firings
    assert not run(EngineRule("rule", Test("x", Op.NOT_EQUAL, "a"))).firings


def test_values_that_are_no_words_and_no_numbers_do_no_harm() -> None:
    odd: tuple[Value, ...] = (None,)  # type: ignore[assignment]
    assert not fires(Test("x", Op.EQUAL, "None"), odd)
    assert not fires(Test("x", Op.AT_LEAST, 0), odd)
    assert fires(Test("x", Op.EQUAL, "a"), (*odd, "a"))


A, B, C = (Test(name, Op.EQUAL, True) for name in "abc")


@pytest.mark.parametrize(
    ("when", "matched_by_facts"),
    [
        (All(()), {"": "", "a": "", "abc": ""}),
        (Any(()), {"": None, "abc": None}),
        (All((A, B)), {"a": None, "b": None, "ab": "ab", "abc": "ab"}),
        (Any((A, B)), {"": None, "a": "a", "b": "b", "ab": "ab"}),
        (All((A, Any((B, C)))), {"a": None, "ab": "ab", "ac": "ac", "abc": "abc", "bc": None}),
        (Any((All((A, B)), C)), {"a": None, "c": "c", "ac": "c", "abc": "abc"}),
        # The wider alternative adds nothing to the narrower one and is not looked at.
        (Any((All((A, B)), A)), {"a": "a", "ab": "a", "b": None}),
        (Any((A, All(()))), {"": "", "a": ""}),
        (All((A, Any(()))), {"a": None}),
        (All((A, All((A, B)), Any((A, C)))), {"ab": "ab", "abc": "ab", "a": None}),
        (Any((C, All((B, A)))), {"abc": "cba"}),
    ],
)
def test_nested_conditions_match_and_tell_what_matched(
    when: Condition, matched_by_facts: dict[str, str | None]
) -> None:
    with Network([EngineRule("rule", when)], ()) as network:
        for facts, expected in matched_by_facts.items():
            found = network.run(Case(dict.fromkeys(facts, (True,))))
            told = ["".join(m.test.attribute for m in firing.matched) for firing in found.firings]
            assert told == ([] if expected is None else [expected]), facts


def test_a_test_that_is_written_twice_is_told_once_as_first_written() -> None:
    first, again = Test("x", Op.EQUAL, 1), Test("x", Op.EQUAL, 1.0)
    (firing,) = run(EngineRule("rule", All((first, again))), said={"x": (1,)}).firings
    assert repr(firing.matched) == repr((Matched(first, (1,)),))


def test_a_test_is_told_as_its_own_rule_writes_it() -> None:
    rules = [EngineRule(str(n), Test("x", Op.AT_LEAST, n)) for n in (1, 1.0)]
    told = [firing.matched[0].test.value for firing in run(*rules, said={"x": (2,)}).firings]
    assert repr(told) == "[1, 1.0]"


def test_matched_values_are_those_that_made_the_test_hold() -> None:
    tests = (
        Test("x", Op.EQUAL, 5),
        Test("x", Op.AT_LEAST, 4),
        Test("x", Op.AT_MOST, 3),
        Test("x", Op.ONE_OF, ("a", 2)),
        Test("x", Op.NOT_EQUAL, "b"),
        Test("x", Op.KNOWN),
        Test("y", Op.UNKNOWN),
        Test("z", Op.NOT_EQUAL, 1),
    )
    (firing,) = run(
        EngineRule("rule", All(tests)),
        said={"x": ("a", 5.0, 2, True, 4)},
        denied={"z": (1,)},
    ).firings
    values = [matched.values for matched in firing.matched]
    everything = ("a", 5.0, 2, True, 4)
    assert values == [(5.0,), (5.0, 4), (2,), ("a", 2), everything, everything, (), ()]


STEEP = EngineRule("steep", Test("angle", Op.AT_LEAST, 20), (("wall", "steep"),))
SLAB = EngineRule("slab", Test("feet", Op.EQUAL, "all"), (("wall", "slab"),))
READER = EngineRule("reader", Test("wall", Op.KNOWN), (("ready", True),))
WITHOUT = EngineRule("without", Test("wall", Op.UNKNOWN))
BOTH: dict[str, tuple[Value, ...]] = {"angle": (45,)}


def test_conclusions_are_read_by_rules_of_higher_levels() -> None:
    found = run(READER, STEEP, WITHOUT, said=BOTH, single=("wall",))
    assert [firing.rule for firing in found.firings] == ["steep", "reader"]
    assert found.facts == {"angle": (45,), "wall": ("steep",), "ready": (True,)}
    assert found.firings[1].matched == (Matched(Test("wall", Op.KNOWN), ("steep",)),)
    assert [firing.rule for firing in run(READER, STEEP, WITHOUT).firings] == ["without"]


def test_what_was_said_is_never_overwritten() -> None:
    found = run(STEEP, READER, said={**BOTH, "wall": ("slab",)}, single=("wall",))
    assert found.firings[0].overruled == (("wall", "steep"),)
    assert found.firings[0].concluded == ()
    assert found.facts["wall"] == ("slab",)
    assert not found.conflicts


def test_concluding_what_was_said_is_no_contradiction() -> None:
    for single in ((), ("wall",)):
        found = run(STEEP, said={**BOTH, "wall": ("steep",)}, denied={"x": (1,)}, single=single)
        assert found.firings[0].concluded == (("wall", "steep"),)
        assert found.firings[0].overruled == ()
        assert found.facts["wall"] == ("steep",)


def test_what_was_denied_is_never_concluded() -> None:
    for single in ((), ("wall",)):
        found = run(STEEP, WITHOUT, said=BOTH, denied={"wall": ("steep",)}, single=single)
        assert [firing.rule for firing in found.firings] == ["steep", "without"]
        assert found.firings[0].overruled == (("wall", "steep"),)
        assert "wall" not in found.facts


def test_a_denied_derived_value_is_not_equal_once_nothing_concludes_another() -> None:
    negative = EngineRule("negative", Test("wall", Op.NOT_EQUAL, "slab"))
    assert run(STEEP, negative, denied={"wall": ("slab",)}, single=("wall",)).firings
    assert not run(STEEP, negative, single=("wall",)).firings


def test_several_values_are_added_to_what_was_said() -> None:
    found = run(STEEP, SLAB, said={"angle": (45,), "feet": ("all",), "wall": ("dusty",)})
    assert found.facts["wall"] == ("dusty", "slab", "steep")
    assert not found.conflicts


FEET = EngineRule("feet", Test("hips", Op.KNOWN), (("feet", "all"),))
IN_CONFLICT: dict[str, tuple[Value, ...]] = {"angle": (45,), "hips": ("low",)}


def test_rules_that_disagree_are_told_and_no_value_stands() -> None:
    # One maker is on level 0, the other on level 1; the readers wait for both.
    found = run(FEET, SLAB, STEEP, READER, WITHOUT, said=IN_CONFLICT, single=("wall",))
    assert found.conflicts == (Conflict("wall", ("steep", "slab"), ("slab", "steep")),)
    assert "wall" not in found.facts
    assert [firing.rule for firing in found.firings] == ["feet", "steep", "slab", "without"]
    assert [firing.concluded for firing in found.firings] == [(("feet", "all"),), (), (), ()]
    assert not any(firing.overruled for firing in found.firings)


def test_the_persons_word_settles_a_disagreement() -> None:
    said = {**IN_CONFLICT, "wall": ("slab",)}
    found = run(FEET, SLAB, STEEP, said=said, single=("wall",))
    assert not found.conflicts
    assert found.facts["wall"] == ("slab",)
    denied: dict[str, tuple[Value, ...]] = {"wall": ("slab",)}
    found = run(FEET, SLAB, STEEP, said=IN_CONFLICT, denied=denied, single=("wall",))
    assert not found.conflicts
    assert found.facts["wall"] == ("steep",)


def test_a_disagreement_of_kinds_is_one_and_of_spellings_none() -> None:
    def concluding(value: Value) -> EngineRule:
        return EngineRule(repr(value), Test("made", Op.KNOWN), (("x", value),))

    maker = EngineRule("maker", All(()), (("made", True),))
    assert run(maker, concluding(1), concluding(True), single=("x",)).conflicts
    found = run(maker, concluding(1), concluding(1.0), single=("x",))
    assert not found.conflicts
    assert [len(firing.concluded) for firing in found.firings] == [1, 1, 1]


def test_a_rule_may_conclude_alike_values_of_which_one_is_overruled() -> None:
    rule = EngineRule("rule", All(()), (("x", 1), ("x", True), ("x", 1.0)))
    (firing,) = run(rule, denied={"x": (True,)}).firings
    assert repr(firing.concluded) == "(('x', 1),)"
    assert repr(firing.overruled) == "(('x', True),)"


def test_a_single_valued_attribute_with_two_values_said_is_refused() -> None:
    with pytest.raises(ValueError, match="wall has one value at a time, but the case has 2"):
        run(STEEP, said={"wall": ("slab", "steep")}, single=("wall",))
    assert run(STEEP, said={"wall": ("slab", "slab")}, single=("wall",)).facts == {
        "wall": ("slab",)
    }


def test_no_rules_no_conditions_no_facts() -> None:
    assert run() == Run((), {}, ())
    assert run(said={"x": (1,)}).facts == {"x": (1,)}
    always = EngineRule("always", All(()), (("x", 1),))
    assert run(always).facts == {"x": (1,)}
    assert run(STEEP) == Run((), {}, ())


def test_the_case_is_not_changed() -> None:
    said: dict[str, tuple[Value, ...]] = {"angle": (45,)}
    with Network([STEEP], ()) as network:
        first = network.run(Case(said))
        assert said == {"angle": (45,)}
        assert network.run(Case(said)) == first
