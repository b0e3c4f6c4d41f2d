"""The solver's meaning against the engine's, and its smallest cases against plain enumeration.

No published values: the engine itself and the enumeration of every case are the measure.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain, combinations, product
from random import Random

import pytest

from coachbot.engine import Case, EngineRule, Network, Value
from coachbot.engine.logic import distinct, key
from coachbot.knowledge.book import RuleBook
from coachbot.review.cases import Cases
from coachbot.review.solver import Domain, Solver
from tests.engine.random_rules import RuleSet, random_case, random_rule_set


def said_once(case: Case) -> Case:
    """The case without values that are said and denied, which no talk can make."""
    said = {a: distinct(v) for a, v in case.said.items() if v}
    denied = {
        a: tuple(v for v in distinct(values) if key(v) not in set(map(key, said.get(a, ()))))
        for a, values in case.denied.items()
    }
    return Case(said, {a: v for a, v in denied.items() if v})


def whole_space(rules: RuleSet) -> dict[str, Domain]:
    return {a.name: Domain(a.values, a.single, a.values) for a in rules.attributes}


@pytest.mark.parametrize("seed", range(60))
def test_a_case_comes_to_the_same_in_solver_and_engine(seed: int) -> None:
    rng = Random(seed)
    rules = random_rule_set(rng, rng.choice((3, 10, 40)))
    solver = Solver(rules.rules, whole_space(rules))
    facts = {(a.name, key(v)): solver.has(a.name, v) for a in rules.attributes for v in a.values}
    clashes = {a: solver.conflict(a) for a in rules.single}
    with Network(rules.rules, rules.single) as network:
        for _ in range(12):
            case = said_once(random_case(rng, rules))
            run = network.run(case)
            held = solver.consequences(
                case, [*solver.fires.values(), *facts.values(), *clashes.values()]
            )
            assert {r for r, n in solver.fires.items() if held[n]} == {f.rule for f in run.firings}
            in_engine = {(a, key(v)) for a, values in run.facts.items() for v in values}
            assert {k for k, n in facts.items() if held[n]} == in_engine
            assert {a for a, n in clashes.items() if held[n]} == {
                c.attribute for c in run.conflicts
            }


def test_a_case_of_the_shipped_rules_comes_to_the_same(book: RuleBook) -> None:
    cases = Cases(book)
    rules = [e for r in book.rules.values() for e in r.for_engine()]
    rng = Random(8)
    with Network(rules, book.single_valued) as network:
        for _ in range(150):
            case = some_case(rng, cases)
            run = network.run(case)
            held = cases.solver.consequences(case, cases.solver.fires.values())
            fired = {r for r, n in cases.solver.fires.items() if held[n] and ":" not in r}
            assert fired == {f.rule for f in run.firings}, case


def some_case(rng: Random, cases: Cases) -> Case:
    """A case in which a few or many facts are said, some denied."""
    said: dict[str, tuple[Value, ...]] = {}
    denied: dict[str, tuple[Value, ...]] = {}
    talkative = rng.choice((0.03, 0.1, 0.3))
    for name, domain in cases.space.items():
        if domain.values and rng.random() < talkative:
            most = 1 if domain.single else min(3, len(domain.values))
            said[name] = tuple(rng.sample(domain.values, rng.randint(1, most)))
        if domain.deniable and rng.random() < talkative / 3:
            denied[name] = (rng.choice(domain.deniable),)
    return said_once(Case(said, denied))


def test_numbers_between_two_bounds_are_alike(book: RuleBook) -> None:
    """Any number behaves as the one that stands for it in the space."""
    cases = Cases(book)
    rules = [e for r in book.rules.values() for e in r.for_engine()]
    rng = Random(3)
    with Network(rules, book.single_valued) as network:

        def fired(name: str, value: Value) -> frozenset[str]:
            return frozenset(f.rule for f in network.run(Case({name: (value,)})).firings)

        for name, fact in book.facts.items():
            if fact.kind != "number":
                continue
            kinds = {fired(name, v) for v in cases.space[name].values}
            assert fact.low is not None
            assert fact.high is not None
            for _ in range(60):
                value = fact.counted(rng.uniform(fact.low, fact.high))
                assert fired(name, max(value, fact.low)) in kinds, (name, value)


@pytest.mark.parametrize("seed", range(40))
def test_smallest_cases_are_those_of_plain_enumeration(seed: int) -> None:
    rng = Random(1000 + seed)
    rules = random_rule_set(rng, 6)
    named = [a for a in rules.attributes if a.tier == 0][:3]
    space = {
        a.name: Domain(a.values[:2], a.single, a.values[:1] if rng.random() < 0.5 else ())
        for a in named
    }
    solver = Solver(rules.rules, space)
    sizes: dict[str, int] = {}
    clashes: dict[str, int] = {}
    with Network(rules.rules, rules.single) as network:
        for case in every_case(space):
            run = network.run(case)
            size = sum(map(len, (*case.said.values(), *case.denied.values())))
            for firing in run.firings:
                sizes[firing.rule] = min(size, sizes.get(firing.rule, size))
            for conflict in run.conflicts:
                at = conflict.attribute
                clashes[at] = min(size, clashes.get(at, size))
    for rule in rules.rules:
        assert smallest(solver, solver.fires[rule.name]) == sizes.get(rule.name)
        assert solver.possible(solver.fires[rule.name]) == (rule.name in sizes)
        cone = solver.cone_of([rule.name])
        assert smallest(solver, solver.fires[rule.name], cone) == sizes.get(rule.name)
    for name in rules.single:
        assert smallest(solver, solver.conflict(name)) == clashes.get(name)


def smallest(solver: Solver, literal: int, cone: frozenset[str] | None = None) -> int | None:
    case = solver.smallest(literal, cone=cone)
    if case is None:
        return None
    return sum(map(len, (*case.said.values(), *case.denied.values())))


def every_case(space: dict[str, Domain]) -> Iterator[Case]:
    choices = [list(_choices(name, domain)) for name, domain in space.items()]
    for picked in product(*choices):
        said = {name: s for name, s, _ in picked if s}
        yield Case(said, {name: d for name, _, d in picked if d})


def _choices(
    name: str, domain: Domain
) -> Iterator[tuple[str, tuple[Value, ...], tuple[Value, ...]]]:
    most = 1 if domain.single else len(domain.values)
    for said in chain.from_iterable(combinations(domain.values, n) for n in range(most + 1)):
        for denied in chain.from_iterable(
            combinations(domain.deniable, n) for n in range(len(domain.deniable) + 1)
        ):
            if not set(map(key, said)) & set(map(key, denied)):
                yield name, said, denied


def test_a_case_out_of_the_space_is_refused() -> None:
    from coachbot.engine import Op, Test

    rule = EngineRule("r", Test("wall", Op.EQUAL, "slab"))
    solver = Solver([rule], {"wall": Domain(("slab", "roof"), True)})
    with pytest.raises(ValueError, match="outside"):
        solver.consequences(Case({"wall": ("cave",)}), [solver.fires["r"]])
    with pytest.raises(ValueError, match="more"):
        solver.consequences(Case({"wall": ("slab", "roof")}), [solver.fires["r"]])
