"""The schedule against the fsrs package's own figures, and on learners of known memory."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from random import Random

import fsrs
import pytest
from statsmodels.stats.proportion import proportion_confint

from coachbot.knowledge.book import RuleBook
from coachbot.study.charts import bars, svg
from coachbot.study.mastery import Share, shares, wilson
from coachbot.study.scheduling import (
    MINUTES_A_CASE,
    Schedule,
    curriculum,
    forecast,
    pace_of,
    repeated_right,
    today,
)
from coachbot.study.store import Card
from coachbot.study.weighing import Verdict

from .test_store import answer

NOW = datetime(2022, 11, 29, 12, 30, tzinfo=UTC)
RATED = {"good": Verdict.RIGHT, "again": Verdict.WRONG, "hard": Verdict.PARTLY}


def test_the_intervals_are_those_of_the_packages_own_tests() -> None:
    """``test_review_card`` of the fsrs package (py-fsrs 6): 13 ratings, intervals in days.

    Again and good only; the figures are from memory of that test and are recomputed below.
    """
    schedule, plain = Schedule(), fsrs.Scheduler(enable_fuzzing=False)
    ratings = ["good"] * 6 + ["again"] * 2 + ["good"] * 5
    card, theirs, now = None, fsrs.Card(card_id=1, due=NOW), NOW
    intervals = []
    for word in ratings:
        rating = fsrs.Rating.Good if word == "good" else fsrs.Rating.Again
        theirs, _ = plain.review_card(theirs, rating, now)
        card = schedule.review("k", card, RATED[word], now)
        assert (card.due, card.stability, card.difficulty) == (
            theirs.due,
            theirs.stability,
            theirs.difficulty,
        )
        intervals.append((card.due - now).days)
        now = card.due
    assert intervals == [0, 2, 11, 46, 163, 498, 0, 0, 2, 4, 7, 12, 21]


def test_recall_is_nine_in_ten_after_the_stability() -> None:
    """FSRS defines stability as the days after which recall has fallen to 90 %."""
    schedule = Schedule()
    card = schedule.review("k", None, Verdict.RIGHT, NOW)
    card = schedule.review("k", card, Verdict.RIGHT, card.due)
    assert card.stability is not None
    last = card.last_review
    assert last is not None
    days = round(card.stability)
    assert schedule.recall(card, last + timedelta(days=days)) == pytest.approx(0.9, abs=0.02)
    assert schedule.recall(card, last) == pytest.approx(1)


def test_what_is_most_faded_comes_first_as_the_package_sees_it() -> None:
    schedule, random = Schedule(), Random(5)
    cards = []
    for i in range(40):
        card = schedule.review(f"k{i}", None, Verdict.RIGHT, NOW)
        for _ in range(random.randint(0, 4)):
            verdict = random.choice([Verdict.RIGHT, Verdict.PARTLY, Verdict.WRONG])
            card = schedule.review(card.key, card, verdict, card.due)
        cards.append(card)
    now = NOW + timedelta(days=60)
    due = schedule.due(cards, now)
    recalls = [schedule.recall(c, now) for c in due]
    assert len(due) > 10
    assert recalls == sorted(recalls)
    assert all(c.due <= now for c in due)


class Learner:
    """A memory of exponential forgetting: recall = exp(-days / strength).

    A recalled item grows stronger, the more the nearer it was to being forgotten (the
    spacing effect, Cepeda et al. 2008); a forgotten one falls back to one day.
    """

    def __init__(self, seed: int) -> None:
        self.strength: dict[str, float] = {}
        self.seen: dict[str, float] = {}
        self._random = Random(seed)

    def recall(self, key: str, day: float) -> float:
        if key not in self.strength:
            return 0.0
        return math.exp(-(day - self.seen[key]) / self.strength[key])

    def review(self, key: str, day: float) -> bool:
        chance = self.recall(key, day)
        knew = self._random.random() < chance
        if knew:
            self.strength[key] *= 1 + 4 * (1 - chance)
        else:
            self.strength[key] = 3.0
        self.seen[key] = day
        return knew

    def knows(self, keys: list[str], days: float = 60) -> bool:
        """Whether nearly all would last so long."""
        good = sum(self.strength.get(k, 0) >= days for k in keys)
        return good >= 0.9 * len(keys)


def reviews_with_schedule(seed: int, keys: list[str]) -> int:
    schedule, learner = Schedule(), Learner(seed)
    cards: dict[str, Card] = {}
    count = 0
    for day in range(2000):
        at = NOW + timedelta(days=day)
        plan = today(schedule, keys, cards, at, minutes=10)
        for key in (*plan.repeat, *plan.new):
            knew = learner.review(key, day)
            verdict = Verdict.RIGHT if knew or key not in cards else Verdict.WRONG
            card = schedule.review(key, cards.get(key), verdict, at)
            if card.due < at + timedelta(hours=12):
                card = schedule.review(key, card, Verdict.RIGHT, card.due)
            cards[key] = card
            count += 1
            if learner.knows(keys):
                return count
    raise AssertionError("never learnt")


def reviews_in_fixed_order(seed: int, keys: list[str]) -> int:
    learner = Learner(seed)
    count = 0
    for day in range(5000):
        for _ in range(10):
            learner.review(keys[count % len(keys)], day)
            count += 1
            if learner.knows(keys):
                return count
    raise AssertionError("never learnt")


def test_learners_of_known_memory_need_fewer_reviews_than_in_a_fixed_order(
    capsys: pytest.CaptureFixture[str],
) -> None:
    keys = [f"k{i}" for i in range(40)]
    with_schedule = [reviews_with_schedule(seed, keys) for seed in range(12)]
    fixed = [reviews_in_fixed_order(seed, keys) for seed in range(12)]
    ratio = sum(with_schedule) / sum(fixed)
    with capsys.disabled():
        print(f"\nreviews to mastery: schedule {sum(with_schedule) / 12:.0f}, fixed order"
              f" {sum(fixed) / 12:.0f}, ratio {ratio:.2f}")  # fmt: skip
    assert ratio < 0.9
    assert sum(a < b for a, b in zip(with_schedule, fixed, strict=True)) >= 10


def test_a_day_never_holds_more_than_its_minutes_and_repeats_first(book: RuleBook) -> None:
    assert book.study is not None
    order = curriculum(book, book.study)
    assert len(set(order)) == len(order)
    kinds = [k.partition(":")[0] for k in order]
    assert kinds == sorted(kinds, key=["case", "situation", "rule"].index)
    schedule = Schedule()
    fresh = today(schedule, order, {}, NOW, minutes=10)
    assert (fresh.repeat, fresh.new) == ((), order[:10])
    cards = {k: schedule.review(k, None, Verdict.WRONG, NOW) for k in order[:14]}
    busy = today(schedule, order, cards, NOW + timedelta(days=1), minutes=10)
    assert (len(busy.repeat), busy.new, busy.left_over) == (10, (), 4)


def test_who_answers_quickly_gets_more_cases_into_ten_minutes() -> None:
    order = [f"k{i}" for i in range(100)]
    assert pace_of([5.0] * 4) == MINUTES_A_CASE
    assert pace_of([45.0] * 9) == pytest.approx(1)
    assert pace_of([1.0] * 9) == 0.5
    assert pace_of([9000.0] * 9) == 4.0
    assert len(today(Schedule(), order, {}, NOW, minutes=10).new) == 10
    assert len(today(Schedule(), order, {}, NOW, minutes=10, pace=0.5).new) == 20


def test_the_forecast_comes_true_when_played_out() -> None:
    """Whoever studies as the forecast supposes knows the family on the day that it said."""
    schedule = Schedule()
    order = [f"k{i}" for i in range(30)]
    wanted = order[:20]
    days = forecast(schedule, order, {}, wanted, right_share=1.0, now=NOW)
    assert days is not None
    cards: dict[str, Card] = {}
    known_on = None
    for day in range(days + 5):
        at = NOW + timedelta(days=day)
        if sum(k in cards and schedule.is_known(cards[k]) for k in wanted) >= 18:
            known_on = day
            break
        plan = today(schedule, order, cards, at)
        for key in (*plan.repeat, *plan.new):
            card = schedule.review(key, cards.get(key), Verdict.RIGHT, at)
            if card.due < at + timedelta(hours=12):
                card = schedule.review(key, card, Verdict.RIGHT, card.due)
            cards[key] = card
    assert known_on == days
    slower = forecast(schedule, order, {}, wanted, right_share=0.9, now=NOW)
    assert slower is not None
    assert slower >= days
    assert forecast(schedule, order, {}, wanted, right_share=0.0, now=NOW) is None


def test_repetitions_count_for_the_forecast_and_first_answers_do_not() -> None:
    right, wrong = Verdict.RIGHT, Verdict.WRONG
    assert repeated_right([]) == pytest.approx(0.9)
    assert repeated_right([("a", wrong), ("b", wrong)]) == pytest.approx(0.9)
    assert repeated_right([("a", wrong), ("a", right)]) == pytest.approx(5.5 / 6)
    assert repeated_right([("a", wrong)] * 46) == pytest.approx(4.5 / 50)


@pytest.mark.parametrize(
    ("right", "of", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
        (3, 3, 0.4385, 1.0),
        (8, 10, 0.4902, 0.9433),
    ],
)
def test_the_interval_is_wilsons(right: int, of: int, low: float, high: float) -> None:
    """Cases of Newcombe, Stat Med 17, 857-872, 1998 (the first four); limits by the formula."""
    assert wilson(right, of) == pytest.approx((low, high), abs=1e-4)
    assert wilson(right, of) == pytest.approx(
        proportion_confint(right, of, method="wilson"), abs=1e-12
    )


def test_bars_fit_80_columns_and_show_the_numbers() -> None:
    found = shares(
        [answer(verdict="right")] * 8 + [answer(verdict="not it")] * 2, lambda a: ["holds"]
    )
    (share,) = found
    assert (share.right, share.of) == (8, 10)
    text = bars([share, Share("a very long name of a family", 0, 3, *wilson(0, 3))])
    assert all(len(line) <= 80 for line in text.splitlines())
    assert "8 of 10" in text
    assert text.count("|") == 2


def test_the_picture_is_well_formed_has_its_text_and_no_script() -> None:
    from xml.etree import ElementTree

    share = Share("holds & <feet>", 8, 10, *wilson(8, 10))
    root = ElementTree.fromstring(svg("Right answers", [share]))
    names = {e.tag.partition("}")[2] for e in root.iter()}
    assert names == {"svg", "title", "desc", "text", "rect", "line"}
    assert "holds & <feet>: 8 of 10" in "".join(root.itertext())
    (line,) = (e for e in root.iter() if e.tag.endswith("line"))
    width = float(line.attrib["x2"]) - float(line.attrib["x1"])
    assert width == pytest.approx((share.high - share.low) * 420, abs=0.2)
