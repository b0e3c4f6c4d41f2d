"""Rule sets that cannot be run are refused with all reasons, in words a coach can use."""

from __future__ import annotations

from itertools import combinations
from random import Random

import pytest

from coachbot.engine import (
    All,
    Any,
    Case,
    Condition,
    EngineRule,
    Network,
    Op,
    RuleSetError,
    Test,
    Value,
)
from tests.engine.naive import witnesses


def problems(*rules: EngineRule, single: tuple[str, ...] = ()) -> tuple[str, ...]:
    try:
        Network(rules, single).close()
    except RuleSetError as error:
        return error.problems
    return ()


def test_the_error_reads_as_its_problems() -> None:
    with pytest.raises(RuleSetError, match=r"^one\ntwo$"):
        raise RuleSetError(("one", "two"))


def reading(*attributes: str) -> All:
    return All(tuple(Test(attribute, Op.KNOWN) for attribute in attributes))


def test_all_problems_are_told_at_once() -> None:
    found = problems(
        EngineRule("", All(())),
        EngineRule("twin", All(())),
        EngineRule("twin", All(())),
        EngineRule("round", reading("x"), (("x", 1),)),
        EngineRule("one", All(()), (("s", 1),)),
        EngineRule("two", All(()), (("s", 2),)),
        single=("s",),
    )
    assert found == (
        "Rule number 1 has no name: give it one.",
        "2 rules are named 'twin': give each a name of its own.",
        "Rules depend on each other in a circle: rule 'round' reads x, made by rule 'round'. "
        "Take one of these conditions or conclusions away.",
        "Rules 'one' and 'two' conclude different values of s (1 and 2) in the same case, "
        "always. Make their conditions exclude each other, or their conclusions agree.",
    )


@pytest.mark.parametrize(
    ("when", "expected"),
    [
        (Test("x", "=", 1), "x: '=' is no test; the tests are 'is', 'is not'"),  # type: ignore
        (Test("", Op.EQUAL, 1), "a condition names no attribute."),
        (Test("x", Op.EQUAL), "x is: give one value, not None."),
        (Test("x", Op.EQUAL, ("a",)), "x is: give one value, not ('a',)."),
        (Test("x", Op.EQUAL, float("nan")), "x is: give one value, not nan."),
        (Test("x", Op.AT_LEAST, "ten"), "x is at least: give a number, not 'ten'."),
        (Test("x", Op.AT_MOST, True), "x is at most: give a number, not True."),
        (Test("x", Op.ONE_OF, ()), "x is one of: give one or more values, not ()."),
        (Test("x", Op.ONE_OF, "ab"), "x is one of: give one or more values, not 'ab'."),
        (Test("x", Op.KNOWN, 1), "x is known: this test takes no value, but 1 was given."),
        (All((Any(("x",)),)), "'x' is no condition."),  # type: ignore
    ],
)
def test_malformed_conditions(when: Condition, expected: str) -> None:
    (problem,) = problems(EngineRule("rule", when))
    assert problem.startswith(f"Rule 'rule': {expected}")


def test_malformed_conclusions() -> None:
    found = problems(
        EngineRule("rule", All(()), (("", 1), ("x", None), ("y", float("nan")))),  # type: ignore
        EngineRule("double", All(()), (("s", 1), ("s", True))),
        single=("s",),
    )
    assert [line.split(":")[0] for line in found[:3]] == ["Rule 'rule'"] * 3
    assert found[3].startswith("Rule 'double' concludes s is 1 and yes, but s has one value")


def test_a_circle_is_told_with_its_whole_path() -> None:
    found = problems(
        EngineRule("a", reading("x"), (("z", 1),)),
        EngineRule("b", reading("y"), (("x", 1),)),
        EngineRule("c", reading("z", "given"), (("y", 1),)),
        EngineRule("after", reading("z"), (("last", 1),)),
        EngineRule("p", reading("q"), (("r", 1),)),
        EngineRule("q", reading("r"), (("q", 1),)),
    )
    assert found == (
        "Rules depend on each other in a circle: rule 'a' reads x, made by rule 'b', which reads "
        "y, made by rule 'c', which reads z, made by rule 'a'. "
        "Take one of these conditions or conclusions away.",
        "Rules depend on each other in a circle: rule 'p' reads q, made by rule 'q', which reads "
        "r, made by rule 'p'. Take one of these conditions or conclusions away.",
    )


def test_levels_are_one_above_the_highest_maker() -> None:
    rules = [
        EngineRule("top", reading("b", "given"), ()),
        EngineRule("low", reading("given"), (("a", 1), ("b", 1))),
        EngineRule("mid", reading("a"), (("b", 2),)),
        EngineRule("alone", reading("never made")),
    ]
    with Network(rules, ()) as network:
        assert network.levels == {"low": 0, "alone": 0, "mid": 1, "top": 2}


def any_pairs(number: int) -> All:
    return All(
        tuple(Any((Test(f"a{n}", Op.KNOWN), Test(f"b{n}", Op.KNOWN))) for n in range(number))
    )


def test_64_alternatives_are_taken_and_more_are_refused() -> None:
    any_of_65 = Any(tuple(Test("x", Op.EQUAL, n) for n in range(65)))
    assert problems(EngineRule("rule", Any(any_of_65.parts[:64]))) == ()
    assert problems(EngineRule("rule", any_pairs(6))) == ()
    for when in (any_of_65, any_pairs(7), any_pairs(12), any_pairs(40)):
        assert problems(EngineRule("rule", when)) == (
            "Rule 'rule' can hold in more than 64 ways, because its 'any' parts multiply: "
            "split it into several rules.",
        )


def test_alternatives_that_cannot_hold_do_not_count() -> None:
    values = [Test("x", Op.EQUAL, n) for n in range(60)]
    when = All((Any(tuple(values[:40])), Any(tuple(values[20:]))))
    assert problems(EngineRule("rule", when), single=("x",)) == ()
    assert len(problems(EngineRule("rule", when))) == 1


def test_240_conditions_at_once_are_taken_and_more_are_refused() -> None:
    names = [f"x{n}" for n in range(241)]
    with Network([EngineRule("rule", reading(*names[:240]))], ()) as network:
        assert network.run(Case(dict.fromkeys(names[:240], (1,)))).firings
        assert not network.run(Case(dict.fromkeys(names[1:], (1,)))).firings
    (problem,) = problems(EngineRule("rule", reading(*names)))
    assert problem.startswith("Rule 'rule' asks for 241 conditions at once")


def clash(left: Condition, right: Condition, *single: str) -> str | None:
    """The example with which a sure clash is told."""
    found = problems(
        EngineRule("l", left, (("out", 1),)),
        EngineRule("r", right, (("out", 2),)),
        single=("out", *single),
    )
    if not found:
        return None
    (problem,) = found
    assert problem.startswith("Rules 'l' and 'r' conclude different values of out (1 and 2)")
    return problem.split("for example when ")[1].split(". Make")[0]


def x(op: Op, value: Value | tuple[Value, ...] | None = None) -> Test:
    return Test("x", op, value)


@pytest.mark.parametrize(
    ("left", "right", "single", "several"),
    [
        (x(Op.EQUAL, 1), x(Op.EQUAL, 2), None, "x is 1, x is 2"),
        (x(Op.EQUAL, 1), x(Op.EQUAL, 1.0), "x is 1", "x is 1"),
        (x(Op.EQUAL, 1), x(Op.EQUAL, True), None, "x is 1, x is yes"),
        (x(Op.EQUAL, 1), x(Op.NOT_EQUAL, 1), None, None),
        (x(Op.EQUAL, 1), x(Op.NOT_EQUAL, 2), "x is 1", "x is 1"),
        (x(Op.EQUAL, 1), x(Op.UNKNOWN), None, None),
        (x(Op.KNOWN), x(Op.UNKNOWN), None, None),
        (x(Op.KNOWN), x(Op.KNOWN), "x is known", "x is known"),
        (x(Op.NOT_EQUAL, 1), x(Op.UNKNOWN), "x was denied to be 1", "x was denied to be 1"),
        (x(Op.UNKNOWN), x(Op.UNKNOWN), "x is unknown", "x is unknown"),
        (x(Op.AT_LEAST, 5), x(Op.AT_MOST, 5), "x is 5", "x is 5"),
        (x(Op.AT_LEAST, 6), x(Op.AT_MOST, 5), None, "x is 6, x is 5"),
        (x(Op.AT_LEAST, 5), x(Op.EQUAL, 7.5), "x is 7.5", "x is 7.5"),
        (x(Op.AT_LEAST, 5), x(Op.EQUAL, "7"), None, "x is 5, x is 7"),
        (x(Op.ONE_OF, ("a", "b")), x(Op.ONE_OF, ("c", "b")), "x is b", "x is b"),
        (x(Op.ONE_OF, ("a", "b")), x(Op.ONE_OF, ("c",)), None, "x is a, x is c"),
        (x(Op.ONE_OF, ("a", 3)), x(Op.AT_MOST, 3), "x is 3", "x is 3"),
        (
            All((x(Op.AT_LEAST, 1), x(Op.AT_MOST, 2))),
            All((x(Op.NOT_EQUAL, 1), x(Op.NOT_EQUAL, 2))),
            "x is 1.5",
            "x is 1.5",
        ),
        (All((x(Op.AT_LEAST, 2), x(Op.AT_MOST, 2))), x(Op.NOT_EQUAL, 2), None, "x is 3, x is 1"),
        (x(Op.AT_LEAST, float("inf")), x(Op.NOT_EQUAL, float("inf")), None, None),
    ],
)
def test_conclusions_that_clash_for_sure(
    left: Condition, right: Condition, single: str | None, several: str | None
) -> None:
    assert clash(left, right, "x") == single
    assert clash(left, right) == several


def test_the_smallest_example_is_told() -> None:
    left = Any((All((x(Op.EQUAL, 1), Test("y", Op.EQUAL, 1))), x(Op.EQUAL, 2)))
    assert clash(left, Test("x", Op.NOT_EQUAL, 5), "x") == "x is 2"


def test_a_clash_over_derived_attributes_is_left_to_the_case() -> None:
    maker = EngineRule("m", Test("x", Op.EQUAL, 1), (("made", True),))
    left = EngineRule("l", Test("made", Op.KNOWN), (("out", 1),))
    right = EngineRule("r", Test("x", Op.EQUAL, 1), (("out", 2),))
    with Network([maker, left, right], ("out",)) as network:
        assert network.run(Case({"x": (1,)})).conflicts[0].rules == ("l", "r")
    assert problems(maker, right, EngineRule("l", Any((left.when, All(()))), left.then)) == ()
    assert problems(
        maker, right, EngineRule("l", Any((left.when, All(()))), left.then), single=("out",)
    )


def test_agreeing_conclusions_and_several_values_do_not_clash() -> None:
    one, two = (EngineRule(n, All(()), (("out", n),)) for n in "ab")
    assert problems(one, two) == ()
    assert problems(one, EngineRule("b", All(()), (("out", "a"),)), single=("out",)) == ()
    number, spelled, truth = (EngineRule(repr(v), All(()), (("out", v),)) for v in (1, 1.0, True))
    assert problems(number, spelled, single=("out",)) == ()
    assert len(problems(number, truth, single=("out",))) == 1


def test_sure_clashes_against_trying_every_case() -> None:
    """Whether two conditions can hold together, against all cases of a few values.

    The values tried hold those that tests name, one between and one beyond each of them.
    All are denied: a denial can make a test hold and never keeps one from holding.
    """
    rng = Random(20240)
    named: tuple[Value, ...] = (1, 2, "a", True)
    tried: tuple[Value, ...] = (0, 1, 1.5, 2, 3, "a", True, "b")
    several = [s for n in range(len(tried) + 1) for s in combinations(tried, n)]
    ways = {True: [(), *combinations(tried, 1)], False: several}
    clashes = 0
    for _ in range(400):
        tests: list[Test] = []
        for _ in range(rng.randint(2, 5)):
            op = rng.choice(list(Op))
            if op is Op.ONE_OF:
                tests.append(x(op, tuple(rng.sample(named, 2))))
            elif op in (Op.AT_LEAST, Op.AT_MOST):
                tests.append(x(op, rng.choice((1, 2))))
            else:
                tests.append(x(op, None if op in (Op.KNOWN, Op.UNKNOWN) else rng.choice(named)))
        cut = rng.randint(1, len(tests) - 1)
        left, right = All(tuple(tests[:cut])), All(tuple(tests[cut:]))
        for single in (True, False):
            possible = any(
                all(witnesses(test, values, tried) is not None for test in tests)
                for values in ways[single]
            )
            found = clash(left, right, *(["x"] if single else []))
            assert (found is not None) == possible, (tests, single)
            clashes += possible
    assert 100 < clashes < 700
