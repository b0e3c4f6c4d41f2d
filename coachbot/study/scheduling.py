"""When each thing comes round again: the FSRS scheduler, one card a heuristic or situation.

FSRS is the published free spaced repetition scheduler (package ``fsrs``): a card has a
stability, the days after which it is recalled with a chance of 90 %, and a difficulty.
Nothing is left to chance: the same reviews give the same dates.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from statistics import median

import fsrs

from coachbot.knowledge.book import RuleBook, Study

from .drawing import warns
from .store import Card
from .weighing import Verdict

KNOWN_DAYS = 21.0
MINUTES_A_CASE = 1.0
QUICKEST, SLOWEST = 0.5, 4.0
PACE_FROM = 5
PACE_OVER = 40
LONGEST_FORECAST = 730

RATINGS = {
    Verdict.UNSAFE: fsrs.Rating.Again,
    Verdict.WRONG: fsrs.Rating.Again,
    Verdict.PARTLY: fsrs.Rating.Hard,
    Verdict.RIGHT: fsrs.Rating.Good,
}


class Schedule:
    """Moves cards and says what is due. All times are in UTC."""

    def __init__(self) -> None:
        self._scheduler = fsrs.Scheduler(enable_fuzzing=False)

    def review(self, key: str, card: Card | None, verdict: Verdict, now: datetime) -> Card:
        """The card after a review; a new one when there was none."""
        before = _to_fsrs(card) if card else fsrs.Card(card_id=0, due=now)
        after, _ = self._scheduler.review_card(before, RATINGS[verdict], now.astimezone(UTC))
        return _from_fsrs(key, card.id if card else 0, after)

    def recall(self, card: Card, now: datetime) -> float:
        """The chance that the card is known now, 0 to 1."""
        return float(self._scheduler.get_card_retrievability(_to_fsrs(card), now.astimezone(UTC)))

    def due(self, cards: Collection[Card], now: datetime) -> list[Card]:
        """The cards that are due, those most likely forgotten first.

        In FSRS the chance of recall falls with the days since the review over the stability.
        """
        waiting = [c for c in cards if c.due <= now]

        def forgotten(card: Card) -> float:
            since = now - (card.last_review or card.due)
            return since / timedelta(days=max(card.stability or 0.0, 0.001))

        return sorted(waiting, key=lambda c: (-forgotten(c), c.due, c.key))

    def is_known(self, card: Card) -> bool:
        """Whether a card will last three weeks and more."""
        return card.stability is not None and card.stability >= KNOWN_DAYS


@dataclass(frozen=True, slots=True)
class Today:
    """The plan for one day: what to repeat, what is new, and how much is due beyond that."""

    repeat: tuple[str, ...]
    new: tuple[str, ...]
    left_over: int


def curriculum(book: RuleBook, study: Study) -> tuple[str, ...]:
    """Every card in the order in which it is learnt.

    The coach's own cases come first, then the situations, then single rules; in each, what
    is about safety comes before the rest, and what a rule is surest of comes early.
    """
    teaching = [r for r in book.rules.values() if r.rule.suggest]
    served = {s for r in teaching for s in r.rule.serves}
    safe = {s for r in teaching if warns(r) for s in r.rule.serves}
    situations = sorted(
        (s for s in book.situations if s in served), key=lambda s: (s not in safe, s)
    )
    rules = sorted(
        teaching,
        key=lambda r: (not warns(r), -(r.rule.suggest.strength if r.rule.suggest else 0), r.id),
    )
    return (
        *(f"case:{name}" for name in study.pinned),
        *(f"situation:{s}" for s in situations),
        *(f"rule:{r.id}" for r in rules),
    )


def today(
    schedule: Schedule,
    order: Sequence[str],
    cards: Mapping[str, Card],
    now: datetime,
    minutes: float = 10,
    pace: float = MINUTES_A_CASE,
) -> Today:
    """A plan for some minutes. What is due comes first; new things fill what room is left.

    ``pace`` is the minutes that a case takes.
    """
    room = max(1, round(minutes / pace))
    known_keys = set(order)
    due = [c.key for c in schedule.due(list(cards.values()), now) if c.key in known_keys]
    fresh = [k for k in order if k not in cards]
    repeat = due[:room]
    new = fresh[: room - len(repeat)]
    return Today(tuple(repeat), tuple(new), len(due) - len(repeat))


def pace_of(seconds: Sequence[float]) -> float:
    """The minutes that a case takes a trainee: the median of the last answers.

    While there are few, a minute. Reading the mark takes a third of that again.
    """
    if len(seconds) < PACE_FROM:
        return MINUTES_A_CASE
    return min(SLOWEST, max(QUICKEST, median(seconds[-PACE_OVER:]) * 4 / 3 / 60))


def repeated_right(seen: Sequence[tuple[str, Verdict]]) -> float:
    """The share of repetitions that go right, from answers (card, verdict) in order.

    The first answer on a card counts for nothing. While there are few, the scheduler's own
    aim of nine in ten weighs as much as five answers.
    """
    met: set[str] = set()
    right, total = 4.5, 5.0
    for key, verdict in seen:
        if key in met:
            total += 1
            right += verdict is Verdict.RIGHT
        met.add(key)
    return right / total


def forecast(
    schedule: Schedule,
    order: Sequence[str],
    cards: Mapping[str, Card],
    wanted: Collection[str],
    right_share: float,
    now: datetime,
    minutes: float = 10,
    pace: float = MINUTES_A_CASE,
    enough: float = 0.9,
) -> int | None:
    """In how many days ``enough`` of the wanted cards are known, or None beyond two years.

    The days are played through with today's plan. Of the repetitions as many go wrong as
    so far, evenly spread: nothing is drawn by lot, so the same record gives the same day.
    """
    needed = round(enough * len(wanted)) or 1
    played = dict(cards)
    wrong_debt = 0.0
    for day in range(LONGEST_FORECAST + 1):
        known = sum(1 for k in wanted if k in played and schedule.is_known(played[k]))
        if known >= needed:
            return day
        at = now + timedelta(days=day)
        plan = today(schedule, order, played, at, minutes, pace)
        for key in (*plan.repeat, *plan.new):
            wrong_debt += 1 - right_share
            verdict = Verdict.WRONG if wrong_debt >= 1 else Verdict.RIGHT
            wrong_debt -= 1 if wrong_debt >= 1 else 0
            card = schedule.review(key, played.get(key), verdict, at)
            if card.due < at + timedelta(hours=12):
                card = schedule.review(key, card, Verdict.RIGHT, card.due)
            played[key] = card
    return None


def _to_fsrs(card: Card) -> fsrs.Card:
    return fsrs.Card(
        card_id=card.id,
        state=fsrs.State(card.state),
        step=card.step,
        stability=card.stability,
        difficulty=card.difficulty,
        due=card.due,
        last_review=card.last_review,
    )


def _from_fsrs(key: str, number: int, card: fsrs.Card) -> Card:
    return Card(
        id=number,
        key=key,
        state=int(card.state),
        step=card.step,
        stability=card.stability,
        difficulty=card.difficulty,
        due=card.due,
        last_review=card.last_review,
    )
