"""Cases added to rule tests, so that every condition of a rule is needed by one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.model import RuleCheck
from coachbot.review.rule_tests import run

from . import roundtrip
from .drafting import case_text
from .near_misses import Proposal, propose


@dataclass(frozen=True, slots=True)
class Sharper:
    """The cases that a rule's test lacks."""

    rule_id: str
    proposal: Proposal


def sharper(
    book: RuleBook, tests: Mapping[str, RuleCheck], ids: Sequence[str] = ()
) -> Iterator[Sharper]:
    """Cases for all rules, or some, that have a condition which no case needs."""
    lacking = dict.fromkeys(u.rule for u in run(book, tests, ids).unneeded)
    for rule_id in lacking:
        test = tests[rule_id]
        yield Sharper(rule_id, propose(book, book.rules[rule_id], test.fires, test.silent))


def with_cases(text: str, proposal: Proposal) -> str:
    """A test's file with the cases added at the end of its lists."""
    tree = roundtrip.read(text)
    for case in proposal.cases:
        tree["fires" if case.fires else "silent"].append(roundtrip.read(case_text(case.given)))
    return roundtrip.write(tree)
