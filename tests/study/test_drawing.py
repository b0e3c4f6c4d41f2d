"""Cases by number: possible, sound, reproducible, and told so that the program reads them."""

from __future__ import annotations

from collections import Counter

import pytest

from coachbot.engine import Network
from coachbot.engine.model import EngineRule
from coachbot.knowledge.book import RuleBook
from coachbot.study.drawing import Deck, warns
from coachbot.study.exercises import Room
from coachbot.study.possible import Between
from coachbot.study.telling import phrases, tell
from coachbot.understanding import Reader

NUMBERS = range(1, 241)


def test_every_teaching_rule_has_something_that_can_be_said_for_it(room: Room) -> None:
    """Exact: clingo finds the smallest sets of said facts; the engine must then agree."""
    deck = room.deck
    without = [r for r in deck.rules if not deck.possible.least(r)]
    assert without == []


def test_what_is_possible_is_what_the_engine_fires_on(room: Room) -> None:
    """Each least set fires its rule in the engine's own run, and no smaller one does."""
    deck = room.deck
    for rule in deck.rules[::11]:
        for said in deck.possible.least(rule)[:6]:
            facts = {
                fact: tuple(v.low if isinstance(v, Between) else v for v in values)
                for fact, values in said.items()
            }
            assert _fires(room, rule, facts), (rule, said)
            for fact in facts:
                rest = {f: v for f, v in facts.items() if f != fact}
                assert not _fires(room, rule, rest), (rule, said, fact)


def _fires(room: Room, rule: str, facts: dict[str, tuple[object, ...]]) -> bool:
    from coachbot.case import Case, Known

    known = tuple(Known(f, v) for f, values in facts.items() for v in values)  # type: ignore[arg-type]
    return rule in room.coach.infer(Case(known)).firings


def test_a_drawn_case_is_confirmed_by_the_engine(room: Room) -> None:
    deck, coach = room.deck, room.coach
    levels: Counter[int] = Counter()
    missing = []
    for number in NUMBERS:
        drawn = deck.draw(number)
        if drawn is None:
            missing.append(deck.rule_of(number))
            continue
        levels[drawn.level] += 1
        outcome = coach.infer(drawn.case)
        ranking = coach.rank(outcome)
        assert drawn.rule in outcome.firings, number
        assert not outcome.conflicts, number
        assert drawn.rule is not None
        if drawn.level == 1 and not warns(deck.book.rules[drawn.rule]):
            assert not any(warns(deck.book.rules[r.rule]) for r in ranking.suggestions), number
        if drawn.level == 2:
            assert drawn.rule in {r.rule for r in ranking.suggestions}, number
        if drawn.level == 3:
            assert drawn.beside in outcome.firings, number
            assert any(warns(deck.book.rules[r]) for r in (drawn.rule, str(drawn.beside))), number
    assert len(missing) <= len(NUMBERS) // 50, missing
    assert min(levels[1], levels[2], levels[3]) > 40


def test_what_cannot_be_together_is_never_drawn(room: Room) -> None:
    deck = room.deck
    rules = [EngineRule(f"apart-{i}", when) for i, when in enumerate(deck.study.apart)]
    assert len(rules) > 30
    with Network(rules, deck.book.single_valued) as network:
        for number in NUMBERS:
            drawn = deck.draw(number)
            if drawn is not None:
                assert not network.run(drawn.case.for_engine()).firings, drawn.told


def test_the_same_number_is_the_same_case_in_the_same_words(room: Room) -> None:
    other = Deck(room.coach)
    for number in (7, 8, 9, 123, 99_999):
        assert room.deck.draw(number) == other.draw(number)
    other.close()


def test_cases_differ_and_are_told_in_different_words(room: Room) -> None:
    told = [d.told for n in NUMBERS if (d := room.deck.draw(n))]
    assert len(set(told)) == len(told)
    drawn = next(d for n in NUMBERS if (d := room.deck.draw(n)) and len(d.case.known) >= 3)
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
            from coachbot.case import Known

            for number in range(12):
                text = tell(book, study, [Known(fact, value)], number, messy=False)
                assert not set("{}+") & set(text.replace("V0+", "")), text
                for wrong in ("she am", "i has", "she have ", "she don't", "trys"):
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
        if drawn is None:
            continue
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
