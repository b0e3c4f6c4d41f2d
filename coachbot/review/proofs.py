"""Proves what must hold in every case, or finds the smallest case that breaks it.

A proof covers every case of `cases.space_of`. A case that breaks a claim is run again through
the engine and the ranking, so that nothing is refuted by the solver's word alone.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, product

from coachbot.advice import Coach
from coachbot.advice.ranking import Ranking
from coachbot.case import Case as TalkCase
from coachbot.case import Known
from coachbot.engine.model import Case, Condition, Op, RuleSetError, Test
from coachbot.knowledge.book import Place, ReadContradiction, ReadProperty, ReadRule, RuleBook

from .cases import Cases, ToldCase

SAFETY, CONTRADICTION, CONFLICT = "safety", "contradiction", "conflict"
Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Proof:
    """One claim: proved, or refuted by ``case``, in which ``rules`` do what they must not.

    A ``vacuous`` claim speaks of cases that cannot be, so that it says nothing.
    """

    kind: str
    name: str
    place: Place
    claim: str
    because: str
    proved: bool
    vacuous: bool = False
    case: ToldCase | None = None
    rules: tuple[str, ...] = ()
    wrong: str = ""


def conditions(book: RuleBook) -> list[Condition]:
    """The conditions that the proofs add to those of the rules."""
    return [each.when for each in book.properties.values()]


def prove(cases: Cases, tell: Progress = lambda _: None) -> tuple[Proof, ...]:
    """Every claim of the rule book. Raises AssertionError when solver and engine disagree."""
    book = cases.book
    tell(f"proving {len(book.properties)} safety properties")
    found = list(safety(cases))
    tell(f"proving {len(book.contradictions)} contradictions")
    found += contradictions(cases)
    tell("proving that no two rules conclude different values of one fact")
    found += conflicts(cases)
    return tuple(found)


def safety(cases: Cases, only: Collection[str] = ()) -> tuple[Proof, ...]:
    """Every safety property; with ``only`` those that one of these rules could break.

    A rule that takes part in stopping or holding back could break every one of them.
    """
    rules = [cases.book.rules[rule] for rule in only]
    deciding = any(_decides(cases, rule) for rule in rules)
    carriers = None if not only or deciding else frozenset(only)
    found = [
        proof for read in cases.book.properties.values() for proof in _safety(cases, read, carriers)
    ]
    _confirm(cases, found)
    return tuple(found)


def contradictions(cases: Cases, only: Collection[str] = ()) -> tuple[Proof, ...]:
    """Every contradiction; with ``only`` between pairs that one of these rules is in."""
    found = [
        proof
        for read in cases.book.contradictions.values()
        for proof in _contradiction(cases, read, frozenset(only))
    ]
    _confirm(cases, found)
    return tuple(found)


def conflicts(cases: Cases, only: Collection[str] = ()) -> tuple[Proof, ...]:
    """For every fact that rules conclude; with ``only`` for those that these rules conclude."""
    found = [
        proof
        for fact in cases.book.facts
        if not only or not set(only).isdisjoint(cases.makers(fact))
        for proof in _conflict(cases, fact)
    ]
    _confirm(cases, found)
    return tuple(found)


def _decides(cases: Cases, rule: ReadRule) -> bool:
    """Whether a rule stops, silences, holds back, or makes a fact on which that depends."""
    makes = {name for e in rule.for_engine() for name, _ in e.then}
    return bool(rule.rule.stop or rule.rule.alone or not makes.isdisjoint(cases.safety_cone))


def _safety(cases: Cases, read: ReadProperty, carriers: frozenset[str] | None) -> Iterator[Proof]:
    solver, claimed = cases.solver, read.property
    when = solver.literal(read.when)
    vacuous = not solver.possible(when)

    def proof(
        name: str, claim: str, case: ToldCase | None, rules: Sequence[str], wrong: str
    ) -> Proof:
        proved = case is None and not vacuous
        return Proof(
            SAFETY,
            name,
            read.place,
            claim,
            claimed.because,
            proved,
            vacuous,
            case,
            tuple(rules),
            wrong,
        )

    if claimed.stop and carriers is None:
        word = "emergency" if claimed.stop == "emergency" else "clinician or emergency"
        case = cases.smallest(
            when, -cases.stops(claimed.stop), cone=cases.cone(when=[read.when], shown=True)
        )
        claim = f"the climbing ends ({word})"
        yield proof(f"{read.name}/stop", claim, case, (), f"no rule stops the climbing ({word})")
    if not claimed.never:
        return
    carrying = [
        rule.id for rule in cases.carrying(claimed.never) if carriers is None or rule.id in carriers
    ]
    shown = solver.any_of(cases.kept(rule) for rule in carrying)
    case = cases.smallest(when, shown)
    rules: list[str] = []
    wrong = ""
    if case is not None:
        held = solver.consequences(case.case, [cases.kept(rule) for rule in carrying])
        rules = [rule for rule in carrying if held[cases.kept(rule)]]
        count = sum(solver.possible(when, cases.kept(rule)) for rule in carrying)
        also = f"; {count} rules can break it" if count > len(rules) else ""
        told = " and ".join(f"{r} ({cases.carried(r, claimed.never)})" for r in rules)
        wrong = f"shown: {told}{also}"
    yield proof(
        read.name, f"no suggestion shown carries {', '.join(claimed.never)}", case, rules, wrong
    )


def _contradiction(cases: Cases, read: ReadContradiction, only: frozenset[str]) -> Iterator[Proof]:
    contradiction = read.contradiction
    solver = cases.solver
    sides = [cases.side(side) for side in contradiction.sides]
    pairs = [
        (one, other)
        for left, right in combinations(sides, 2)
        for one, other in product(left, right)
        if one != other and (not only or one in only or other in only)
    ]
    claim = "two sides are never shown together"
    if contradiction.decided_by:
        claim += f", unless {', '.join(contradiction.decided_by)} is not known yet and can be asked"

    def proof(case: ToldCase | None, rules: Sequence[str], wrong: str) -> Proof:
        return Proof(
            CONTRADICTION, read.name, read.place, claim, contradiction.because,
            case is None, not pairs and not only, case, tuple(rules), wrong,
        )  # fmt: skip

    open_still = solver.any_of(
        solver.all_of([solver.literal(Test(fact, Op.UNKNOWN)), cases.asking(fact)])
        for fact in contradiction.decided_by
    )
    broken = False
    for one, other in pairs:
        together = (cases.kept(one), cases.kept(other), -open_still)
        if not solver.possible(*together):
            continue
        decided = [Test(fact, Op.KNOWN) for fact in contradiction.decided_by]
        asked = [cases.book.ask_when[fact] for fact in contradiction.decided_by]
        cone = cases.cone(one, other, when=[*decided, *asked], shown=True)
        case = cases.smallest(*together, cone=cone)
        broken = True
        yield proof(case, (one, other), f"{one} and {other} are both shown")
    if not broken:
        yield proof(None, (), "")


def _conflict(cases: Cases, fact: str) -> Iterator[Proof]:
    makers = cases.makers(fact)
    if fact not in cases.book.single_valued or not makers:
        return
    solver = cases.solver
    case = cases.smallest(solver.conflict(fact), cone=solver.cone_of(attributes=[fact]))
    rules: tuple[str, ...] = ()
    if case is not None:
        held = solver.consequences(case.case, [cases.fired(rule) for rule in makers])
        rules = tuple(rule for rule in makers if held[cases.fired(rule)])
    yield Proof(
        CONFLICT, fact, cases.book.rules[(rules or makers)[0]].place,
        f"no two rules conclude different values of {fact}", "a fact has one value at a time",
        case is None, False, case, rules,
        f"{' and '.join(rules)} conclude different values of {fact}" if case else "",
    )  # fmt: skip


def talk_case(case: Case) -> TalkCase:
    """A case of the engine as what a person said."""
    said = [Known(name, v) for name, values in case.said.items() for v in values]
    denied = [Known(name, v, True) for name, values in case.denied.items() for v in values]
    return TalkCase((*said, *denied))


def _confirm(cases: Cases, found: Sequence[Proof]) -> None:
    book = cases.book
    broken = [proof for proof in found if proof.case is not None]
    if not broken or cases.left_out:
        return
    try:
        coach = Coach(book)
    except RuleSetError:  # the engine refuses rules that it finds at odds by itself
        return
    try:
        for proof in broken:
            assert proof.case is not None
            outcome = coach.infer(talk_case(proof.case.case))
            ranking = coach.rank(outcome)
            if proof.kind == CONFLICT:
                agreed = any(c.attribute == proof.name for c in outcome.conflicts)
            elif proof.rules:
                agreed = set(proof.rules) <= left_by_safety(book, outcome.firings, ranking)
            else:
                agreed = ranking.stop != "emergency"
            if not agreed:
                raise AssertionError(f"the engine does not confirm {proof}")
    finally:
        coach.close()


def left_by_safety(book: RuleBook, fired: Iterable[str], ranking: Ranking) -> set[str]:
    """The rules whose suggestions the ranking may show, however faint they are."""
    held = {rule for rule, _ in ranking.held_back}
    fired = list(fired)
    alone = any(book.rules[r].rule.alone for r in fired)
    left = {r: book.rules[r].rule for r in fired if book.rules[r].rule.suggest and r not in held}
    if ranking.stop:
        return {r for r, rule in left.items() if rule.stop in (ranking.stop, "emergency")}
    return {r for r, rule in left.items() if rule.safety or not alone}
