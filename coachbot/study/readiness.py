"""The readiness check: thirty cases from a seed, no hints, safety without a miss."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from random import Random

from .drawing import LARGEST, Deck, Drawn, warns
from .exercises import Advise, Room
from .learner import facts_of, kept_answer
from .store import Answer, Sitting, Store
from .weighing import Verdict

CASES = 30
STOPS, WARNINGS = 6, 4
PASS_SHARE = 0.8
EXERCISE = "check"


@dataclass(frozen=True, slots=True)
class Outcome:
    """The result: how many were right, of how many; of the safety cases likewise."""

    right: int
    of: int
    safety_right: int
    safety_of: int
    pass_share: float

    @property
    def complete(self) -> bool:
        return self.of == CASES

    @property
    def passed(self) -> bool:
        """Whether enough is right, and every safety case is."""
        enough = self.right >= self.pass_share * self.of
        return self.complete and enough and self.safety_right == self.safety_of


def cases(deck: Deck, seed: int) -> tuple[Drawn, ...]:
    """The thirty cases of a seed: stops, warnings, and the families in turn, mixed."""
    random = Random(f"check {seed}")
    book = deck.book
    stops = [r for r in deck.rules if book.rules[r].rule.stop]
    cautions = [r for r in deck.rules if warns(book.rules[r]) and not book.rules[r].rule.stop]
    families: dict[str, list[str]] = {}
    for rule in deck.rules:
        if not warns(book.rules[rule]):
            families.setdefault(book.rules[rule].family, []).append(rule)
    taken = _some(deck, stops, STOPS, random) + _some(deck, cautions, WARNINGS, random)
    names = sorted(families)
    random.shuffle(names)
    turn = 0
    while len(taken) < CASES:
        taken += _some(deck, families[names[turn % len(names)]], 1, random)
        turn += 1
    random.shuffle(taken)
    return tuple(taken[:CASES])


def _some(deck: Deck, rules: Sequence[str], count: int, random: Random) -> list[Drawn]:
    found: list[Drawn] = []
    for rule in random.sample(list(rules), k=len(rules)):
        if len(found) == count:
            break
        level = random.choice(deck.levels_for(rule))
        number = next(deck.numbers_for(rule, level, random.randint(1, LARGEST)))
        found.append(deck.draw(number))
    return found


class Check:
    """One trainee's check. What was answered stays answered; it goes on where it stopped."""

    def __init__(
        self, room: Room, store: Store, name: str, seed: int, pass_share: float, now: datetime
    ) -> None:
        self._room, self._store, self._name = room, store, name
        self._trainee = store.trainee(name, now)
        self.sitting: Sitting = store.sitting(self._trainee, seed, pass_share, now)
        self.cases = cases(room.deck, seed)

    @property
    def answers(self) -> list[Answer]:
        return self._store.answers(sitting=self.sitting.id)

    def next(self) -> tuple[int, Drawn] | None:
        """The next case with its place from 1, or None when all are answered."""
        place = len(self.answers)
        return (place + 1, self.cases[place]) if place < len(self.cases) else None

    def answer(self, said: str, now: datetime) -> None:
        """Keep the answer to the next case; nothing is told about it."""
        following = self.next()
        if following is None:
            return
        place, drawn = following
        exercise = Advise(self._room, drawn)
        exercise.choices = ()
        result = exercise.mark(said)
        kept = kept_answer(self._name, exercise, f"rule:{drawn.rule}", said, result, now, place)
        self._store.record(self._trainee, kept, facts_of(drawn), None, self.sitting.id)
        if place == len(self.cases):
            self._store.finish(self.sitting.id, now)

    def outcome(self) -> Outcome:
        """How it stands."""
        return outcome(self.answers, self.sitting.pass_share)


def outcome(answers: Sequence[Answer], pass_share: float) -> Outcome:
    """The result of some answers. A case is about safety when its advice is."""
    safety = [a for a in answers if a.safety]
    return Outcome(
        right=_right(answers),
        of=len(answers),
        safety_right=_right(safety),
        safety_of=len(safety),
        pass_share=pass_share,
    )


def report(answers: Sequence[Answer], sitting: Sitting) -> str:
    """The result as it is printed for the coach: each case with its answer, mark and reasons."""
    result = outcome(answers, sitting.pass_share)
    word = "PASSED" if result.passed else "not passed" if result.complete else "not finished"
    day = sitting.started.astimezone().strftime("%d %B %Y")
    lines = [
        f"READINESS CHECK  {sitting.trainee}, {day}, seed {sitting.seed}",
        f"Result: {word}. {result.right} of {result.of} right"
        f" (needed: {sitting.pass_share:.0%} of {CASES}); safety {result.safety_right} of"
        f" {result.safety_of} (needed: all).",
    ]
    for a in answers:
        mark = " [safety]" if a.safety else ""
        lines.append(f"\n{a.place}. {a.verdict.upper()}{mark}  case {a.number}")
        lines.append(f"   Story: {a.told}")
        lines.append(f"   Answer: {a.said}")
        lines += [f"   {line}" for line in a.explained.splitlines()]
    return "\n".join(lines)


def _right(answers: Sequence[Answer]) -> int:
    return sum(a.verdict == Verdict.RIGHT for a in answers)
