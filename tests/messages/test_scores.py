"""The figures of the held-back set do not fall under ``floor.yaml``."""

from __future__ import annotations

import pytest

from coachbot.advice import Coach
from coachbot.knowledge import reading
from coachbot.knowledge.book import RuleBook
from coachbot.understanding import Reader
from tests.messages import model, sayings, score

FLOOR = model.HERE / "floor.yaml"


@pytest.fixture(scope="module")
def floor() -> dict[str, float]:
    tree = reading.read(FLOOR, FLOOR.name, FLOOR.parent).tree
    assert isinstance(tree, dict)
    return {name: float(str(least)) for name, least in tree.items()}


def _holds(floor: dict[str, float], measured: dict[str, float]) -> None:
    under = {n: round(f, 4) for n, f in measured.items() if f < floor[n]}
    assert not under, f"under the floor {floor}: {under}"


def test_held_back_messages_are_understood(book: RuleBook, floor: dict[str, float]) -> None:
    found = score.score_facts(book, model.held_back(book), score.reads_with(book))
    _holds(floor, {"facts_f1": found.all.f1, "alarm_recall": found.alarms.recall})


def test_held_back_messages_are_answered(
    book: RuleBook, coach: Coach, floor: dict[str, float]
) -> None:
    found = score.score_advice(book, model.held_back(book), score.answers_with(book, coach))
    shares = found.all
    _holds(floor, {"first_three": shares.skills, "stop": shares.stop, "scope": shares.scope})


def test_short_sayings_are_heard(book: RuleBook, floor: dict[str, float]) -> None:
    found = sayings.scored(Reader(book), sayings.every())
    shares = {f"{file} {kind}": share.share for (file, kind), share in found.items()}
    assert len(shares) == 7
    _holds(floor, shares)
