"""Cases added to rule tests, so that every condition of a rule is needed by one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.model import RuleCheck
from coachbot.review.cases import Cases
from coachbot.review.rule_tests import run, tellable
from coachbot.review.variants import Variant

from . import roundtrip
from .drafting import case_text, given_of
from .near_misses import Proposed, propose


@dataclass(frozen=True, slots=True)
class Sharper:
    """The cases that a rule's test lacks, and the changes for which there is none."""

    rule_id: str
    cases: tuple[Proposed, ...]
    left: tuple[Variant, ...]


def sharper(
    book: RuleBook, tests: Mapping[str, RuleCheck], ids: Sequence[str] = ()
) -> Iterator[Sharper]:
    """Cases for all rules, or some, that have a condition which no case needs.

    Near misses come first, because they read well; where there is none, the smallest case
    that shows the change is found by proof.
    """
    lacking: dict[str, list[Variant]] = defaultdict(list)
    for unneeded in tellable(book, run(book, tests, ids).unneeded):
        lacking[unneeded.rule].append(unneeded.variant)
    hard: list[tuple[str, tuple[Proposed, ...], list[Variant]]] = []
    for rule_id, variants in lacking.items():
        test = tests[rule_id]
        proposal = propose(book, book.rules[rule_id], test.fires, test.silent)
        left = [v for v in proposal.left if v in variants]
        if left:
            hard.append((rule_id, proposal.cases, left))
        elif proposal.cases:
            yield Sharper(rule_id, proposal.cases, ())
    if not hard:
        return
    cases = Cases(book, [v.when for _, _, variants in hard for v in variants])
    for rule_id, near, variants in hard:
        proved = {v: _proved(cases, rule_id, v) for v in variants}
        found = tuple(case for case in proved.values() if case)
        yield Sharper(rule_id, (*near, *found), tuple(v for v, case in proved.items() if not case))


def _proved(cases: Cases, rule_id: str, variant: Variant) -> Proposed | None:
    """The smallest case that shows the change, or None when there is none."""
    book = cases.book
    rule, changed = book.rules[rule_id].when, variant.when
    one, other = cases.solver.literal(rule), cases.solver.literal(changed)
    cone = cases.cone(when=[rule, changed])
    for literals, fires in (((other, -one), False), ((one, -other), True)):
        told = cases.smallest(*literals, cone=cone)
        if told is not None:
            said = [(n, v, False) for n, values in told.case.said.items() for v in values]
            denied = [(n, v, True) for n, values in told.case.denied.items() for v in values]
            return Proposed(given_of(book, [*said, *denied]), fires, (variant,))
    return None


def with_cases(text: str, cases: Sequence[Proposed]) -> str:
    """A test's file with the cases added at the end of its lists."""
    tree = roundtrip.read(text)
    for case in cases:
        tree["fires" if case.fires else "silent"].append(roundtrip.read(case_text(case.given)))
    return roundtrip.write(tree)
