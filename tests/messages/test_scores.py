"""The figures of the held-back set do not fall under ``floor.yaml``."""

from __future__ import annotations

import pytest

from coachbot.knowledge import reading
from coachbot.knowledge.book import RuleBook, load
from coachbot.knowledge.places import shipped_rules
from tests.messages import model, score

FLOOR = model.HERE / "floor.yaml"


@pytest.fixture(scope="module")
def book() -> RuleBook:
    return load(shipped_rules())


@pytest.fixture(scope="module")
def floor() -> dict[str, float]:
    tree = reading.read(FLOOR, FLOOR.name, FLOOR.parent).tree
    assert isinstance(tree, dict)
    return {name: float(str(least)) for name, least in tree.items()}


def _holds(floor: dict[str, float], measured: dict[str, float]) -> None:
    under = {n: round(f, 4) for n, f in measured.items() if f < floor[n]}
    assert not under, f"under the floor {floor}: {under}"


def test_held_back_messages_are_understood(book: RuleBook, floor: dict[str, float]) -> None:
    pytest.importorskip("coachbot.understanding")
    found = score.score_facts(book, model.held_back(book), score.reads_with(book))
    _holds(floor, {"facts_f1": found.all.f1, "alarm_recall": found.alarms.recall})


def test_held_back_messages_are_answered(book: RuleBook, floor: dict[str, float]) -> None:
    pytest.importorskip("coachbot.understanding")
    from coachbot.advice import Coach

    coach = Coach(book)
    try:
        found = score.score_advice(book, model.held_back(book), score.answers_with(book, coach))
    finally:
        coach.close()
    shares = found.all
    _holds(floor, {"first_three": shares.skills, "stop": shares.stop, "scope": shares.scope})
