"""Cases by number: possible, sound, reproducible, and told so that the program reads them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from random import Random

import pytest

from coachbot.case import Case, Known
from coachbot.engine import Network
from coachbot.engine.model import EngineRule
from coachbot.knowledge.book import RuleBook
from coachbot.study.drawing import LEVELS, Deck, first_skill, warns
from coachbot.study.exercises import Room
from coachbot.study.telling import phrases, tell
from coachbot.understanding import Reader

NUMBERS = range(1, 241)


def test_every_teaching_rule_has_a_case_that_can_be_told(room: Room) -> None:
    """Exact: the solver of the audit says whether any told facts make a rule fire."""
    sampler = room.deck.sampler
    without = [r for r in room.deck.rules if not sampler.possible([sampler.fired(r)])]
    assert without == []


def test_a_sample_reaches_its_goal_and_nothing_can_be_taken_away(room: Room) -> None:
    """Judged by the engine's own run, which knows nothing of the solver."""
    sampler = room.deck.sampler
    for rule in room.deck.rules[::9]:
        for seed in range(3):
            case = sampler.sample([sampler.fired(rule)], Random(seed))
            assert case is not None
            assert _fires(room, rule, case.known), (rule, case)
            for k in case.known:
                rest = tuple(other for other in case.known if other != k)
                assert not _fires(room, rule, rest), (rule, case, k)


def test_a_sample_is_the_one_that_its_order_wants(room: Room) -> None:
    """Judged the slow way: one by one from the end of the order, what can be left out is."""
    sampler = room.deck.sampler
    solver = sampler.cases.solver
    for seed, rule in enumerate(room.deck.rules[5::250]):
        goal = [sampler.fired(rule)]
        order = Random(seed).sample(sampler.literals, k=len(sampler.literals))
        kept = list(order)
        for literal in reversed(order):
            rest = [n for n in kept if n != literal]
            if solver.holds_together((*goal, *(-n for n in order if n not in rest))):
                kept = rest
        assert solver.least_needed(goal, order) == kept[::-1], rule


def test_samples_of_one_rule_differ(room: Room) -> None:
    sampler = room.deck.sampler
    goal = [sampler.fired("one-finger-skip-it")]
    cases = {sampler.sample(goal, Random(seed)) for seed in range(12)}
    assert len(cases) >= 3


def test_what_is_impossible_is_told_and_not_searched_for(room: Room) -> None:
    sampler = room.deck.sampler
    rule = room.deck.rules[0]
    assert sampler.sample([sampler.fired(rule), -sampler.fired(rule)], Random(1)) is None


def _fires(room: Room, rule: str, known: Sequence[Known]) -> bool:
    return rule in room.coach.infer(Case(tuple(known))).firings


def test_every_number_gives_a_case_that_the_engine_confirms(room: Room) -> None:
    deck, coach = room.deck, room.coach
    levels: Counter[int] = Counter()
    for number in NUMBERS:
        drawn = deck.draw(number)
        levels[drawn.level] += 1
        outcome = coach.infer(drawn.case)
        ranking = coach.rank(outcome)
        suggested = {r.rule for r in ranking.suggestions}
        warned = [r for r in suggested if warns(deck.book.rules[r])]
        assert drawn.rule == deck.rule_of(number)
        assert drawn.rule in outcome.firings, number
        assert not outcome.conflicts, number
        if drawn.level == 1:
            assert drawn.rule in suggested, number
            assert set(warned) <= {drawn.rule}, number
            assert drawn.beside is None
        if drawn.level == 2:
            assert {drawn.rule, drawn.beside} <= set(ranking.first_three), number
            assert not warned, number
            skills = [first_skill(deck.book, str(r)) for r in (drawn.rule, drawn.beside)]
            assert skills[0] != skills[1]
        if drawn.level == 3:
            assert drawn.beside in outcome.firings, number
            assert any(warns(deck.book.rules[str(r)]) for r in (drawn.rule, drawn.beside)), number
    assert min(levels[1], levels[2], levels[3]) > len(NUMBERS) // 5, levels


def test_numbers_of_a_rule_are_found_at_the_levels_that_suit_it_and_at_no_other(
    room: Room,
) -> None:
    """A rule that warns makes any story one with something to watch out for."""
    deck = room.deck
    for rule in (deck.warnings[0], next(r for r in deck.rules if r not in deck.warnings)):
        levels = deck.levels_for(rule)
        assert levels == ((3,) if rule in deck.warnings else (1, 2, 3))
        for level in LEVELS:
            number = next(deck.numbers_for(rule, level, 12_345), None)
            assert (number is not None) == (level in levels)
            if number is not None:
                assert deck.rule_of(number) == rule
                assert deck.level_of(number) == level
    warned = sum(deck.rule_of(n) in deck.warnings for n in range(2, 1202, 3))
    assert 150 < warned < 250


def test_what_cannot_be_together_is_never_drawn(room: Room) -> None:
    deck = room.deck
    rules = [EngineRule(f"apart-{i}", when) for i, when in enumerate(deck.study.apart)]
    assert len(rules) > 30
    with Network(rules, deck.book.single_valued) as network:
        for number in NUMBERS:
            drawn = deck.draw(number)
            assert not network.run(drawn.case.for_engine()).firings, drawn.told


def test_the_same_number_is_the_same_case_in_the_same_words(room: Room) -> None:
    other = Deck(room.coach)
    for number in (7, 8, 9, 123, 99_999):
        assert room.deck.draw(number) == other.draw(number)
    other.close()


def test_cases_differ_and_are_told_in_different_words(room: Room) -> None:
    told = [room.deck.draw(n).told for n in NUMBERS]
    assert len(set(told)) == len(told)
    drawn = next(d for n in NUMBERS if len((d := room.deck.draw(n)).case.known) >= 3)
    assert len({room.deck.retold(drawn, n) for n in range(40)}) >= 15


def test_every_value_that_rules_read_can_be_told_in_more_than_one_voice(room: Room) -> None:
    study = room.deck.study
    known = room.deck.sayable
    for fact, values in known.items():
        for value in values:
            assert phrases(study, fact, value), (fact, value)
    assert len(study.telling.voices) >= 4
    assert {v.person for v in study.telling.voices.values()} == {"first", "third"}


def test_no_marks_of_a_phrase_are_left_in_what_is_told(room: Room, book: RuleBook) -> None:
    study = room.deck.study
    for fact, values in room.deck.sayable.items():
        for value in values:
            for number in range(12):
                text = tell(book, study, [Known(fact, value)], number, messy=False)
                assert not set("{}+") & set(text.replace("V0+", "")), text
                for wrong in (
                    "she am",
                    "i has",
                    "she have ",
                    "she don't",
                    "he have ",
                    "trys",
                    "  ",
                    " .",
                ):
                    assert wrong not in text.lower(), text


def test_the_programs_own_reader_finds_most_facts_of_200_told_cases(
    room: Room, book: RuleBook, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whoever can be understood is told in words that the program understands too."""
    reader = Reader(book)
    found = wanted = 0
    lost: Counter[str] = Counter()
    for number in range(1000, 1200):
        drawn = room.deck.draw(number)
        heard = {(h.fact, h.value) for h in reader.read(drawn.told).heard if not h.denied}
        for k in drawn.case.known:
            wanted += 1
            if (k.fact, k.value) in heard:
                found += 1
            else:
                lost[k.fact] += 1
    with capsys.disabled():
        print(f"\nrecall of told facts: {found} of {wanted} = {found / wanted:.3f}; lost {lost}")
    assert wanted > 400
    assert found / wanted >= 0.8
