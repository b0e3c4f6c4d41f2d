"""Staff study at the terminal: one line a turn, the same on a terminal and through a pipe."""

from __future__ import annotations

import getpass
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from random import Random

import click

from coachbot.knowledge import cache
from coachbot.knowledge.problems import Refused
from coachbot.study import readiness
from coachbot.study.drawing import LARGEST, LEVELS, Drawn
from coachbot.study.exercises import Advise, Exercise, Room, listed
from coachbot.study.learner import KEPT_AS, Learner, open_room
from coachbot.study.store import Store, study_file

from . import screen
from .chat import PlainLines
from .opening import folders_of, open_coach

LEAVING = {"bye", "quit", "exit", "leave", "done"}
LONGEST_NAME = 60
HELP = """\
Answer as you would speak to the climber. You can also say:
  pick           four suggestions to choose from (then a letter)
  again          the same case in other words
  skip           another case; this one comes back
  dispute ...    the last mark is wrong, and why: your coach sees it
  leave          stop; all answers are kept"""
BEGIN = 'Say "help" for what else you can say, "leave" to stop.'


def trainee(name: str | None) -> str:
    """The name to study under. Raises Refused."""
    if name is None:
        try:
            name = getpass.getuser()
        except (OSError, KeyError):
            raise Refused("Say who studies: --as NAME") from None
    name = " ".join(name.split())
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        raise Refused(f"A name has 1 to {LONGEST_NAME} letters; say it with --as NAME")
    return name


@contextmanager
def opened(own: tuple[Path, ...]) -> Iterator[tuple[Room, Store]]:
    """The rules and the store. Raises BrokenRules and Refused."""
    folders = folders_of(own)
    if not cache.is_kept(KEPT_AS, folders):
        click.echo("These rules are new here: getting ready, this once.", err=True)
    coach = open_coach(folders)
    try:
        store = Store(study_file())
        try:
            room = open_room(coach, folders)
        except LookupError as error:
            raise Refused(str(error.args[0])) from None
        try:
            yield room, store
        finally:
            room.deck.close()
            store.close()
    finally:
        coach.close()


def study(own: tuple[Path, ...], name: str | None, minutes: float, kind: str | None) -> None:
    """Hold one session of study."""
    who = trainee(name)
    with opened(own) as (room, store):
        learner = Learner(room, store, who, Random(), _now())
        plan = learner.today(_now(), minutes)
        count = len(plan.repeat) + len(plan.new)
        over = f" {plan.left_over} more are due after that." if plan.left_over else ""
        screen.write(
            f"{who}: {len(plan.repeat)} to repeat and {len(plan.new)} new, about {minutes:g}"
            f" minutes.{over} {BEGIN}"
        )
        keys = (*plan.repeat, *plan.new)
        if kind is not None:  # not every card allows every kind: others stand in
            keys += tuple(k for k in learner.order if k not in keys)
        done = _Session(learner, store).hold(keys, kind, count)
        screen.write(f"\n{done} of {count} done. A little each day lasts longest.")


class _Session:
    def __init__(self, learner: Learner, store: Store) -> None:
        self._learner, self._store = learner, store
        self._lines = PlainLines()
        self._last: int | None = None

    def hold(self, keys: Sequence[str], kind: str | None, count: int) -> int:
        """Show so many cards; gives how many were answered."""
        done = shown = 0
        for key in keys:
            exercise = self._learner.exercise(key, kind) if shown < count else None
            if exercise is None:
                continue
            shown += 1
            answered = self._one(key, exercise)
            if answered is None:
                break
            done += answered
        else:
            self._last_words()
        return done

    def _one(self, key: str, exercise: Exercise) -> bool | None:
        """One card: whether it was answered, or None when the trainee leaves."""
        self._show(exercise)
        began = time.monotonic()
        while (line := self._lines.ask(())) is not None:
            word = line.strip().lower().strip(".!")
            if word in LEAVING:
                return None
            if not word:
                screen.write('Say what you would tell the climber, or "skip".')
            elif word == "help":
                screen.write(HELP)
            elif word == "skip":
                return False
            elif word == "again":
                exercise = self._learner.again(exercise)
                self._show(exercise)
            elif word == "pick":
                shown = listed(exercise.choices) or "There is nothing to pick from here."
                screen.write(shown)
            elif word.split()[0] == "dispute":
                self._dispute(line)
            else:
                took = time.monotonic() - began if sys.stdin.isatty() else None
                result, self._last = self._learner.answer(key, exercise, line, _now(), took)
                screen.write(f"\n{result.explained}")
                return True
        return None

    def _last_words(self) -> None:
        """After the last mark there is still time to dispute it."""
        if self._last is None or not sys.stdin.isatty():
            line = None if self._last is None else self._lines.ask(())
        else:
            screen.write(
                '\nThat was the last one. Say "dispute ..." if its mark is wrong, or Enter.'
            )
            line = self._lines.ask(())
        if line and line.strip().lower().startswith("dispute"):
            self._dispute(line)

    def _dispute(self, line: str) -> None:
        if self._last is None:
            screen.write("There is no mark yet that you could dispute.")
            return
        words = line.strip()[len("dispute") :].strip(" :,-") or "no reason given"
        self._store.dispute(self._last, words, _now())
        screen.write("Kept for your coach, with the case, your answer and the mark.")

    def _show(self, exercise: Exercise) -> None:
        screen.write(f"\n{title(exercise.drawn)}\n{exercise.prompt}")


def title(drawn: Drawn) -> str:
    """The line above a case."""
    if drawn.key is not None:
        return f"A case from your coach ({drawn.key})"
    return f"Case {drawn.number} ({LEVELS[drawn.level]})"


def one_case(own: tuple[Path, ...], name: str | None, number: int) -> None:
    """Show one case by its number, and mark what is said to it."""
    with opened(own) as (room, store):
        drawn = room.deck.draw(number)
        learner = Learner(room, store, trainee(name), Random(), _now())
        _Session(learner, store)._one(f"rule:{drawn.rule}", Advise(room, drawn))


def check(own: tuple[Path, ...], name: str | None, seed: int, pass_share: float) -> bool:
    """Begin or go on with a readiness check; gives whether it is passed."""
    who = trainee(name)
    with opened(own) as (room, store):
        held = readiness.Check(room, store, who, seed, pass_share, _now())
        done = len(held.answers)
        begin = "goes on" if done else "begins"
        screen.write(
            f"The readiness check of {who} (seed {seed}) {begin}: {readiness.CASES} cases, no"
            f" hints, {held.sitting.pass_share:.0%} to pass, every safety case must be right."
            ' Say "leave" to stop; it goes on from there.'
        )
        lines = PlainLines()
        while (following := held.next()) is not None:
            place, drawn = following
            screen.write(f"\n{place} of {readiness.CASES}\n{drawn.told}\n\nWhat do you say?")
            line = lines.ask(())
            if line is None or line.strip().lower().strip(".!") in LEAVING:
                kept = "1 answer" if place == 2 else f"{place - 1} answers"
                screen.write(f"\nKept: {kept}. Run the same command to go on.")
                return False
            held.answer(line, _now())
        screen.write(f"\n{readiness.report(held.answers, held.sitting)}")
        return held.outcome().passed


def check_reports(own: tuple[Path, ...], name: str | None) -> None:
    """Print every check of one trainee, or of all."""
    with opened(own) as (_, store):
        found = store.sittings(store.trainee(trainee(name), _now()) if name else None)
        if not found:
            screen.write("No check was held yet.")
        for sitting in found:
            screen.write(f"{readiness.report(store.answers(sitting=sitting.id), sitting)}\n")


def unfinished_seed(name: str | None) -> int | None:
    """The seed of the check that a trainee has not finished, if any."""
    store = Store(study_file())
    try:
        left = [
            s
            for s in store.sittings()
            if s.trainee.lower() == trainee(name).lower() and s.finished is None
        ]
        return left[-1].seed if left else None
    finally:
        store.close()


def new_seed() -> int:
    """A seed for a check when none is given."""
    return Random().randint(1, LARGEST)


def _now() -> datetime:
    return datetime.now(UTC)
