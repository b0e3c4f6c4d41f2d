"""Opens the rule book and everything that a talk needs, or says what is broken and where."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from coachbot.advice import Coach
from coachbot.advice.inference import Outcome
from coachbot.engine.model import RuleSetError
from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.cache import kept, load_cached
from coachbot.knowledge.places import shipped_rules
from coachbot.knowledge.problems import BrokenRules, Problem
from coachbot.planning import plan_for, render
from coachbot.talk import Talk
from coachbot.understanding import Reader


@dataclass(frozen=True, slots=True)
class House:
    """A sound rule book with its engine and its understanding of words."""

    book: RuleBook
    coach: Coach
    reader: Reader

    def talk(self) -> Talk:
        """A new talk."""
        return Talk(self.coach, self.reader, self._plan)

    def _plan(self, outcome: Outcome) -> str | None:
        plan = plan_for(self.book, outcome.facts)
        return render(plan) if plan else None

    def close(self) -> None:
        self.coach.close()


def folders_of(own: tuple[Path, ...]) -> tuple[Path, ...]:
    """The shipped rules first, then the gym's own folders."""
    return (shipped_rules(), *own)


def open_house(own: tuple[Path, ...] = ()) -> House:
    """The shipped rules and a gym's own folders. Raises BrokenRules with every mistake."""
    return open_folders(folders_of(own))


def open_folders(folders: tuple[Path, ...]) -> House:
    """Rule folders, each laid over those before it. Raises BrokenRules with every mistake."""
    coach = open_coach(folders)
    book = coach.book
    return House(book, coach, kept("words", folders, lambda: Reader(book)))


def open_coach(folders: tuple[Path, ...]) -> Coach:
    """The rules alone, for what reads no free text. Raises BrokenRules with every mistake."""
    book = load_cached(folders)
    try:
        return Coach(book)
    except RuleSetError as error:
        where = folders[-1].name
        raise BrokenRules(Problem(where, 1, 1, p) for p in error.problems) from None
