"""One trainee at study: what comes today, the exercise for it, and what an answer moves."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from random import Random

from coachbot.advice import Coach
from coachbot.knowledge.conditions import told as told_value

from .drawing import LARGEST, Deck, Drawn
from .exercises import Advise, Exercise, Result, Room, possible_exercises
from .marking import Marker
from .scheduling import Schedule, Today, curriculum, today
from .store import Answer, Card, Store

ADVISE_SHARE = 0.5
LEVEL_FROM_DAYS = ((15.0, 3), (3.0, 2))
_NUMBERS_TRIED = 6


def open_room(coach: Coach) -> Room:
    """Everything that exercises need, for one rule book. Raises LookupError."""
    return Room(coach, Deck(coach), Marker(coach))


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
        return today(self.schedule, self.order, self.cards(), now, minutes)

    def exercise(self, key: str, kind: str | None = None) -> Exercise | None:
        """An exercise about a card; None when no case about it can be told.

        A kind that does not fit the case falls back to the plain question for advice.
        """
        card = self.cards().get(key)
        for drawn in self._cases(key, self._level(card)):
            if drawn.told == self._last_told:
                continue
            kinds = possible_exercises(self.room, drawn)
            wanted = kind or self._kind(card, list(kinds))
            made = kinds[wanted]() if wanted in kinds else None
            if made is None and kind is not None and kind in kinds:
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

    def answer(self, key: str, exercise: Exercise, said: str, now: datetime) -> tuple[Result, int]:
        """Mark an answer, move its card, and keep both; gives the mark and the answer's number."""
        result = exercise.mark(said)
        card = self.schedule.review(key, self.cards().get(key), result.verdict, now)
        kept = kept_answer(self.name, exercise, key, said, result, now)
        return result, self._store.record(self.id, kept, facts_of(exercise.drawn), card)

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
    )


def facts_of(drawn: Drawn) -> list[list[str]]:
    """The facts of a case as they are kept, so that it stays the same when rules change."""
    return [[k.fact, ("not " if k.denied else "") + told_value(k.value)] for k in drawn.case.known]
