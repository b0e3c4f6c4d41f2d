"""The second opinion of these tests is right itself: it agrees with the engine and the ranking."""

from __future__ import annotations

from random import Random

import pytest

from coachbot.advice import Coach
from coachbot.engine.model import RuleSetError
from coachbot.knowledge.book import RuleBook
from coachbot.review.proofs import talk_case
from tests.engine.naive import Naive
from tests.review.every_case import EveryCase
from tests.review.generated_books import book_of, random_rules
from tests.review.small import rule, suggest

SPEAKING = {
    "halt": rule(
        "hold is sloper", "tired is yes", suggest=suggest("See someone."), stop="clinician"
    ),
    "call": rule("hold is jug", "tired is yes", suggest=suggest("Call."), stop="emergency"),
    "quiet": rule("angle is at least 4", reply="Hello.", alone=True),
    "care": rule("trouble is slips", suggest=suggest("Slowly.", loads=["jump"]), safety=True),
}


@pytest.mark.parametrize("seed", range(25))
def test_it_agrees_with_the_engine_and_with_what_the_ranking_shows(seed: int) -> None:
    rng = Random(seed)
    book = book_of(random_rules(rng) | SPEAKING)
    table = EveryCase(book)
    naive = Naive([e for r in book.rules.values() for e in r.for_engine()], book.single_valued)
    coach = _coach(book)
    for number in rng.sample(range(table.count), 40):
        case, here = table.case(number), 1 << number
        assert table.only(case) == here
        run = naive.run(case)
        fired = {f.rule for f in run.firings}
        assert {i for i in book.rules if table.fired(i) & here} == fired
        for name in book.facts:
            values = {v for v in table._values(name) if table.has(name, v) & here}
            assert values == set(run.facts.get(name, ()))
            assert bool(table.conflict(name) & here) == (
                name in {c.attribute for c in run.conflicts}
            )
        if coach is not None:
            ranking = coach.rank(coach.infer(talk_case(case)))
            shown = {r.rule for r in ranking.suggestions}
            allowed = {i for i in book.rules if table.shown(i) & here}
            # The ranking leaves out what is much weaker than the best, and more than six.
            assert shown <= allowed
            assert shown or not allowed
            assert bool(ranking.stop) == bool(table.stop & here)
    if coach is not None:
        coach.close()


def _coach(book: RuleBook) -> Coach | None:
    try:
        return Coach(book)
    except RuleSetError:  # two values of one fact for sure, which the engine refuses
        return None
