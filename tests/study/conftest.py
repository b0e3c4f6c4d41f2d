"""Staff study ready to use, once for all its tests."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from coachbot.advice import Coach
from coachbot.study.exercises import Room
from coachbot.study.learner import open_room
from coachbot.study.store import Store


@pytest.fixture(scope="session")
def room(coach: Coach) -> Iterator[Room]:
    room = open_room(coach)
    yield room
    room.deck.close()


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    store = Store(tmp_path / "study.sqlite3")
    yield store
    store.close()
