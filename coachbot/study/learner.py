"""One trainee at study: what comes today, the exercise for it, and what an answer moves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import islice
from pathlib import Path
from random import Random

from coachbot.advice import Coach
from coachbot.knowledge.cache import kept
from coachbot.knowledge.conditions import told as told_value

from .drawing import LARGEST, Deck, Drawn
from .exercises import Advise, Exercise, Result, Room, possible_exercises
from .hearing import Ear
from .marking import Marker
from .profiles import Profiles, profiles_of
from .scheduling import Schedule, Today, curriculum, pace_of, today
from .store import Answer, Card, Store

ADVISE_SHARE = 0.5
LEVEL_FROM_DAYS = ((15.0, 3), (3.0, 2))
_NUMBERS_TRIED = 3
_CASES_TRIED = 12


KEPT_AS = "marking"


def open_room(coach: Coach, folders: Sequence[Path] = ()) -> Room:
    """Everything that exercises need, for one rule book. Raises LookupError.

    What marking needs is kept between starts when the folders of the rule book are given.
    """
    deck = Deck(coach)

    def make() -> Profiles:
        return profiles_of(coach.book, Ear(deck.study.hearing))

    profiles = kept(KEPT_AS, folders, make) if folders else make()
    return Room(coach, deck, Marker(coach, profiles))


class Learner:
    """The study of one trainee. Raises StoreTrouble when something cannot be kept."""

    def __init__(self, room: Room, store: Store, name: str, random: Random, now: datetime) -> None:
        self.room = room
        self.name = name
        self._store = store
        self._random = random
        self.id = store.trainee(name, now)
        self.schedule = Schedule()
        self.order = curriculum(room.book, room.deck.study)
        self._last_told = store.last_told(self.id)

    def cards(self) -> dict[str, Card]:
        """The cards of this trainee by key."""
        return self._store.cards(self.id)

    def today(self, now: datetime, minutes: float) -> Today:
        """The plan for so many minutes."""
        return today(self.schedule, self.order, self.cards(), now, minutes, self.pace())

    def pace(self) -> float:
        """The minutes that a case takes this trainee."""
        answers = self._store.answers(self.id)
        return pace_of([a.seconds for a in answers if a.seconds is not None])

    def exercise(self, key: str, kind: str | None = None) -> Exercise | None:
        """An exercise about a card; None when no case about it can be told.

        A kind that is asked for is kept to, and None when the cases tried do not allow it;
        one that was only drawn by lot falls back to the plain question for advice.
        """
        card = self.cards().get(key)
        for drawn in islice(self._cases(key, self._level(card)), _CASES_TRIED):
            if drawn.told == self._last_told:
                continue
            kinds = possible_exercises(self.room, drawn)
            wanted = kind or self._kind(card, list(kinds))
            made = kinds[wanted]() if wanted in kinds else None
            if made is None and kind is not None:
                continue
            self._last_told = drawn.told
            return made or Advise(self.room, drawn)
        return None

    def again(self, exercise: Exercise) -> Exercise:
        """The same facts told in other words, as a plain question for advice."""
        for number in range(1, 50):
            told = self.room.deck.retold(exercise.drawn, exercise.drawn.number + number)
            if told != self._last_told:
                break
        self._last_told = told
        d = exercise.drawn
        drawn = Drawn(d.number, d.level, d.rule, d.beside, d.case, told, d.key)
        return Advise(self.room, drawn)

    def answer(
        self, key: str, exercise: Exercise, said: str, now: datetime, seconds: float | None = None
    ) -> tuple[Result, int]:
        """Mark an answer, move its card, and keep both; gives the mark and the answer's number."""
        result = exercise.mark(said)
        card = self.schedule.review(key, self.cards().get(key), result.verdict, now)
        held = kept_answer(self.name, exercise, key, said, result, now, seconds=seconds)
        return result, self._store.record(self.id, held, facts_of(exercise.drawn), card)

    def _level(self, card: Card | None) -> int:
        stability = card.stability if card and card.stability else 0.0
        return next((level for days, level in LEVEL_FROM_DAYS if stability >= days), 1)

    def _kind(self, card: Card | None, kinds: list[str]) -> str:
        if card is None or self._random.random() < ADVISE_SHARE:
            return Advise.kind
        return self._random.choice([k for k in kinds if k != Advise.kind] or [Advise.kind])

    def _cases(self, key: str, level: int) -> Iterator[Drawn]:
        what, _, name = key.partition(":")
        deck = self.room.deck
        if what == "case":
            for _ in range(_NUMBERS_TRIED):
                yield deck.pinned(name, self._random.randint(1, LARGEST))
            return
        if what == "situation":
            rules = [r for r in deck.rules if name in self.room.book.rules[r].rule.serves]
        else:
            rules = [name] if name in deck.rules else []
        self._random.shuffle(rules)
        for wanted in dict.fromkeys((level, 1, 2, 3)):
            for rule in rules[:3]:
                numbers = deck.numbers_for(rule, wanted, self._random.randint(1, LARGEST))
                for number, _ in zip(numbers, range(_NUMBERS_TRIED), strict=False):
                    yield deck.draw(number)


def kept_answer(
    name: str,
    exercise: Exercise,
    key: str,
    said: str,
    result: Result,
    now: datetime,
    place: int | None = None,
    seconds: float | None = None,
) -> Answer:
    """An answer as it is kept."""
    return Answer(
        id=0,
        trainee=name,
        at=now,
        exercise=exercise.kind,
        key=key,
        number=exercise.drawn.number,
        rule=exercise.drawn.rule or (result.rules[0] if result.rules else None),
        told=exercise.drawn.told,
        said=said,
        verdict=result.verdict.value,
        share=result.share,
        explained=result.explained,
        rules=result.rules,
        place=place,
        safety=result.safety,
        seconds=seconds,
    )


def facts_of(drawn: Drawn) -> list[list[str]]:
    """The facts of a case as they are kept, so that it stays the same when rules change."""
    return [[k.fact, ("not " if k.denied else "") + told_value(k.value)] for k in drawn.case.known]
