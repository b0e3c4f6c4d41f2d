"""The rule tests that belong to a book: the shipped ones, and each own folder's ``tests``."""

from __future__ import annotations

from coachbot.knowledge.book import TESTS, RuleBook
from coachbot.knowledge.model import RuleCheck
from coachbot.knowledge.places import shipped_rule_tests, shipped_rules
from coachbot.knowledge.problems import BrokenRules, Problem
from coachbot.review.rule_tests import read_tests


def rule_tests_of(book: RuleBook) -> dict[str, RuleCheck]:
    """The tests by rule id; a later folder's test replaces. Raises BrokenRules.

    Shipped tests of rules that a gym has switched off are left out.
    """
    found: dict[str, RuleCheck] = {}
    problems: list[Problem] = []
    for folder in book.folders:
        shipped = folder.resolve() == shipped_rules().resolve()
        place = shipped_rule_tests() if shipped else folder / TESTS
        if not place.is_dir():
            continue
        try:
            tests = read_tests(place, f"{folder.name}/{TESTS}" if not shipped else "tests/rules")
        except BrokenRules as error:
            problems += error.problems
            continue
        found |= {i: t for i, t in tests.items() if i in book.rules} if shipped else tests
    if problems:
        raise BrokenRules(problems)
    return found
