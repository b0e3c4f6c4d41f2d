"""A gym's own folder to work in, and a small rule set that loads in a moment."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from coachbot.doors.opening import House
from coachbot.knowledge.book import load
from coachbot.knowledge.places import shipped_rules
from coachbot.workshop.effects import Minds
from coachbot.workshop.folder import OwnFolder

RULE = """\
# Ines wrote this after a busy Tuesday.
serves: [H06]
when:
  - hold is sloper   # the round ones by the door
  - wall is slab
suggest:
  now: "Chest over the feet, then press."
  drill: "Three slow steps with flat hands."
  works_when: "The hands feel light."
  skills: [weight-shift]
  loads: [climbing]
  strength: 0.95
  sure: 0.95
why: "On a slab the feet carry."
ground:
  - key: common-practice
    says: "weight over the feet on a slab"
author: Ines
reviewed: 2026-11-01
"""
TEST = """\
practice: "common practice, no source: weight over the feet on a slab"
fires:
  - {hold: sloper, wall: slab}
silent:
  - {hold: jug, wall: slab}
  - {hold: sloper, wall: steep}
"""


@pytest.fixture
def own(tmp_path: Path) -> OwnFolder:
    """The invented gym's folder with one rule and its test."""
    folder = tmp_path / "saltmarsh"
    (folder / "holds").mkdir(parents=True)
    (folder / "holds" / "chest-over-feet.yaml").write_text(RULE)
    (folder / "tests" / "holds").mkdir(parents=True)
    (folder / "tests" / "holds" / "chest-over-feet.yaml").write_text(TEST)
    return OwnFolder(folder)


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """A copy of the shipped vocabulary with three rules of one family."""
    folder = tmp_path / "rules"
    shutil.copytree(shipped_rules(), folder, ignore=_few)
    return folder


KEPT = {"sloper-hang-low.yaml", "sloper-feet-push-toward-it.yaml", "sloper-look-for-the-dish.yaml"}


def _few(folder: str, names: list[str]) -> set[str]:
    place = Path(folder)
    if place.parent != shipped_rules() or place.name in {"vocabulary", "words", "mechanics"}:
        return set()
    return {n for n in names if n not in KEPT}


@pytest.fixture(scope="session")
def minds(house: House) -> Minds:
    return Minds(house.book, house.coach, house.reader)


@pytest.fixture
def small_minds(small: Path, minds: Minds) -> Iterator[Minds]:
    """The small rule set, read with the shipped words."""
    made = Minds.of(load(small), minds)
    yield made
    made.close()
