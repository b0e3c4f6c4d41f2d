"""Every kind of exercise, marked by the engine's own measures."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from itertools import permutations
from random import Random

import pytest
from scipy.stats import kendalltau

from coachbot.advice.explaining import Standing, why_not
from coachbot.study.drawing import Drawn, warns
from coachbot.study.exercises import (
    LETTERS,
    Advise,
    AskFirst,
    Cue,
    Exercise,
    Order,
    RedFlag,
    Room,
    RuledOut,
    kendall_tau,
    picked_place,
    picked_places,
    possible_exercises,
)
from coachbot.study.learner import Learner
from coachbot.study.scheduling import curriculum
from coachbot.study.store import Store
from coachbot.study.weighing import Verdict

NOW = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)


def some(
    room: Room, make: Callable[[Drawn], Exercise | None], count: int = 12
) -> Iterator[Exercise]:
    found = 0
    for number in range(5000, 5400):
        drawn = room.deck.draw(number)
        made = make(drawn)
        if made is not None:
            found += 1
            yield made
        if found == count:
            return
    raise AssertionError(f"only {found}")


def test_picking_the_first_suggestion_is_right_and_the_others_are_not(room: Room) -> None:
    unfit = []
    for exercise in some(room, lambda d: Advise(room, d), 30):
        advice, _ = room.coach.advise(exercise.drawn.case, ask=False)
        first = exercise.choices.index(advice.suggestions[0].now)
        assert len(set(exercise.choices)) == len(exercise.choices) >= 2
        for place in range(len(exercise.choices)):
            right = exercise.mark(LETTERS[place]).verdict is Verdict.RIGHT
            if right != (place == first):
                unfit.append((exercise.drawn.number, exercise.choices[place]))
    assert unfit == []


def test_the_best_question_is_right_and_the_share_is_its_bits(room: Room) -> None:
    for exercise in some(room, lambda d: AskFirst.of(room, d)):
        worths = room.coach.question_worths(exercise.drawn.case)
        best = max(worths, key=lambda f: worths[f])
        advice, _ = room.coach.advise(exercise.drawn.case)
        if advice.ask is not None and advice.ask.bits:
            assert worths[advice.ask.fact] == worths[best]
        place = exercise.choices.index(room.coach.ask(best).question)
        assert exercise.mark(LETTERS[place]).verdict is Verdict.RIGHT
        assert exercise.mark("no idea").verdict is Verdict.WRONG
        shares = sorted(exercise.mark(LETTERS[i]).share for i in range(len(exercise.choices)))
        assert shares[-1] == 1.0
        assert shares[0] < 1.0


def test_the_fact_that_rules_out_is_the_only_one_in_the_way(room: Room) -> None:
    for exercise in some(room, lambda d: RuledOut.of(room, d)):
        assert isinstance(exercise, RuledOut)
        outcome = room.coach.infer(exercise.drawn.case)
        verdicts = why_not(room.book, outcome, exercise._other)
        assert [v.standing for v in verdicts].count(Standing.HOLDS) == len(verdicts) - 1
        marks = [exercise.mark(LETTERS[i]).verdict for i in range(len(exercise.choices))]
        assert marks.count(Verdict.RIGHT) == 1
        # without that fact nothing in the story is against it any more
        against = exercise.drawn.case.known[exercise._place]
        without = exercise.drawn.case.without([against.fact])
        left = why_not(room.book, room.coach.infer(without), exercise._other)
        assert not any(v.standing is Standing.FAILS for v in left)


def test_the_red_flag_is_what_the_safety_rules_rest_on(room: Room) -> None:
    flagged = clean = 0
    for exercise in some(room, lambda d: RedFlag(room, d), 40):
        advice, _ = room.coach.advise(exercise.drawn.case, ask=False)
        safety = any(warns(room.book.rules[s.rule]) for s in advice.suggestions)
        assert isinstance(exercise, RedFlag)
        nothing = LETTERS[len(exercise.choices) - 1]
        letters = " ".join(LETTERS[i] for i in sorted(exercise._right)) or nothing
        assert exercise.mark(letters).verdict is Verdict.RIGHT
        if safety:
            flagged += 1
            assert exercise.mark(nothing).verdict is Verdict.UNSAFE
        else:
            clean += 1
    assert flagged > 5
    assert clean > 5


def test_kendalls_tau_is_scipys() -> None:
    for order in permutations(range(4)):
        assert kendall_tau(order) == pytest.approx(kendalltau(range(4), order).statistic)


def test_the_engines_order_is_right_and_the_reverse_is_not(room: Room) -> None:
    for exercise in some(room, lambda d: Order.of(room, d)):
        assert isinstance(exercise, Order)
        right = [LETTERS[exercise._shown.index(r)] for r in exercise._ranked]
        assert exercise.mark(" ".join(right)).verdict is Verdict.RIGHT
        assert exercise.mark(", ".join(reversed(right))).verdict is Verdict.WRONG
        assert exercise.mark("a").verdict is Verdict.WRONG
        near = [right[0], *reversed(right[1:3]), *right[3:]]
        assert exercise.mark(" ".join(near)).share < 1


def test_a_cue_is_right_in_ten_words_and_partly_right_when_longer(room: Room) -> None:
    right = total = 0
    for exercise in some(room, lambda d: Cue(room, d, str(d.rule)), 30):
        cue = room.book.rules[str(exercise.drawn.rule)].rule.suggest
        assert cue is not None
        total += 1
        short = " ".join(cue.now.replace(",", "").split()[:10])
        right += exercise.mark(short).verdict is not Verdict.WRONG
        long = f"{cue.now} and that again and again, as long as ever you can do it"
        assert exercise.mark(long).verdict is not Verdict.RIGHT
        assert exercise.mark("bananas on the moon").verdict is Verdict.WRONG
    assert right >= 0.9 * total


def test_answers_pick_by_letter_or_by_words() -> None:
    choices = ("How old are you?", "Where does it hurt?", "What kind of wall is it?")
    assert picked_place("b", choices) == 1
    assert picked_place(" B) ", choices) == 1
    assert picked_place("where does it hurt", choices) == 1
    assert picked_place("what time is it in the cafe now please", choices) is None
    assert picked_places("a and c", choices) == {0, 2}
    assert picked_places("", choices) == set()
    assert picked_place("z", choices) is None


def test_a_trainee_meets_every_kind_and_never_the_same_words_twice_running(
    room: Room, store: Store
) -> None:
    learner = Learner(room, store, "Tomas", Random(3), NOW)
    kinds = set()
    last = None
    for i, key in enumerate((*learner.order[:12], *learner.order[-6:]) * 5):
        exercise = learner.exercise(key)
        if exercise is None:
            continue
        assert exercise.drawn.told != last
        last = exercise.drawn.told
        kinds.add(exercise.kind)
        result, number = learner.answer(key, exercise, "press your foot first", NOW)
        assert number == store.answers(learner.id)[-1].id or i > 0
        assert result.explained
    assert kinds >= {"advise", "red flag", "order", "question", "cue"}
    assert set(learner.cards()) <= set(learner.order)


def test_a_new_trainee_can_be_taught_nearly_every_card(room: Room, store: Store) -> None:
    learner = Learner(room, store, "Tomas", Random(4), NOW)
    order = curriculum(room.book, room.deck.study)
    sample = [*order[:130:3], *order[130::17]]
    without = [k for k in sample if learner.exercise(k) is None]
    assert len(without) <= len(sample) // 25, without


def test_pinned_cases_get_the_advice_that_their_coach_wants(room: Room) -> None:
    for name, pinned in room.deck.study.pinned.items():
        drawn = room.deck.pinned(name, 1)
        advice, outcome = room.coach.advise(drawn.case, ask=False)
        assert advice.suggestions, name
        assert not outcome.conflicts, name
        assert set(pinned.wants) <= {s.rule for s in advice.suggestions}, name
        assert possible_exercises(room, drawn)["advise"]() is not None
