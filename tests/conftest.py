"""The shipped rule book, loaded once for all tests."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from coachbot.advice import Coach
from coachbot.doors.opening import House, open_house
from coachbot.knowledge.book import RuleBook, load
from coachbot.knowledge.places import shipped_rules


@pytest.fixture(autouse=True)
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No test reads or writes the talks of the person who runs it."""
    monkeypatch.setenv("COACHBOT_HOME", str(tmp_path / "coachbot-home"))


@pytest.fixture(scope="session")
def book() -> RuleBook:
    return load(shipped_rules())


@pytest.fixture(scope="session")
def coach(book: RuleBook) -> Iterator[Coach]:
    coach = Coach(book)
    yield coach
    coach.close()


@pytest.fixture(scope="session")
def house() -> Iterator[House]:
    house = open_house()
    yield house
    house.close()
