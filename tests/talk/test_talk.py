"""What each message does: corrections, undo, reasons, what-if, what helped, a red flag.

The kinds of explanation are those of the literature on rule-based systems: how and why from
the rule trace (Scott, Clancey, Davis, Shortliffe 1977; Buchanan, Shortliffe 1984, from
memory), why-not and what-if beside them (Lim, Dey, Avrahami 2009, from memory).
"""

from __future__ import annotations

import html
from datetime import UTC, datetime
from pathlib import Path

import pytest

from coachbot.doors.opening import House
from coachbot.kept_talks import Keeper, unfinished
from coachbot.talk import Talk, TurnOut

FEET = "my foot slips off a tiny foothold on the slab"


@pytest.fixture
def talk(house: House) -> Talk:
    return house.talk()


def rules(out: TurnOut) -> list[str]:
    return [s.rule for s in out.suggestions]


def known(out: TurnOut) -> dict[str, object]:
    return {u.fact: u.value for u in out.understood if not u.denied}


def test_a_message_is_read_shown_and_answered(talk: Talk) -> None:
    out = talk.turn(FEET)
    assert known(out)["wall"] == "slab"
    assert out.suggestions
    assert "I heard:" in out.say
    assert "1. " in out.say
    assert all(u.words in FEET for u in out.understood)


def test_a_correction_puts_the_old_value_right(talk: Talk) -> None:
    talk.turn("my hand slips off the sloper")
    out = talk.turn("no sorry, it is a pinch")
    assert known(out)["hold"] == "pinch"
    assert [u.known_by for u in out.understood if u.fact == "hold"] == ["corrected"]


def test_undo_brings_back_the_very_state(talk: Talk) -> None:
    talk.turn(FEET)
    before = talk.state
    talk.turn("as soon as i put weight on it")
    assert talk.state != before
    talk.turn("undo")
    assert talk.state == before


def test_undo_with_nothing_to_take_back_says_so(talk: Talk) -> None:
    assert "nothing to take back" in talk.turn("undo").say


def test_why_shows_the_chain_and_leaves_everything_as_it_is(talk: Talk) -> None:
    first = talk.turn(FEET)
    state = talk.state
    out = talk.turn("why")
    assert talk.state == state
    assert rules(out) == rules(first)
    assert "You said:" in out.say
    assert f"Rule {first.suggestions[0].rule}." in out.say
    assert "Rests on" in out.say


def test_why_with_a_number_speaks_of_that_suggestion(talk: Talk) -> None:
    first = talk.turn(FEET)
    assert f"Rule {first.suggestions[1].rule}." in talk.turn("why 2").say
    assert f"Rule {first.suggestions[1].rule}." in talk.turn("why the second one?").say


def test_why_not_tells_condition_by_condition(talk: Talk) -> None:
    talk.turn(FEET)
    say = talk.turn("why not a heel hook?").say
    assert "would need:" in say
    assert "no: " in say or "not known yet: " in say


def test_what_if_changes_nothing_but_shows_what_would_change(talk: Talk) -> None:
    first = talk.turn(FEET)
    state = talk.state
    out = talk.turn("what if the wall were steep?")
    assert talk.state == state
    assert rules(out) == rules(first)
    assert "Supposing the wall is steep" in out.say
    assert "Your case stays as it is." in out.say


def test_that_worked_ends_the_advice(talk: Talk) -> None:
    talk.turn(FEET)
    out = talk.turn("that worked")
    assert out.suggestions == ()
    assert talk.turn("why").suggestions == ()


@pytest.mark.parametrize(
    "text", ["that did not help", "tried that already", "can't do that, i'm too short for that"]
)
def test_what_did_not_serve_gives_way_to_the_next(talk: Talk, text: str) -> None:
    first = talk.turn(FEET)
    out = talk.turn(text)
    assert rules(first)[0] not in rules(out)
    assert rules(out)
    assert rules(first)[0] in rules(talk.turn("undo"))


def test_a_numbered_one_is_put_aside(talk: Talk) -> None:
    first = talk.turn(FEET)
    out = talk.turn("2 did not help")
    assert rules(first)[1] not in rules(out)
    assert rules(first)[0] in rules(out)


def test_a_stop_is_said_again_whatever_else_is_not_understood(talk: Talk) -> None:
    first = talk.turn("my ring finger made a pop").suggestions[0]
    out = talk.turn("blorp, can i still")
    assert out.stop
    assert first.now in out.say
    assert "did not understand" not in out.say


def test_a_red_flag_in_the_middle_stops_the_talk(talk: Talk) -> None:
    talk.turn("my fingers slide out of the two finger pocket")
    out = talk.turn("felt a pop in my ring finger on the last go")
    assert out.stop
    assert out.ask is None
    for later in ("how do i hold the pocket", "more", "why", "that did not help"):
        out = talk.turn(later)
        assert out.stop
        assert all(s.skills[0] == "stop-and-refer" for s in out.suggestions)


def test_another_problem_forgets_the_wall_but_not_the_climber(talk: Talk) -> None:
    talk.turn("i am 14 years old and my foot slips on the slab")
    out = talk.turn("another problem: i swing open like a door on the arete")
    assert known(out)["age"] == 14
    assert "wall" not in known(out)


def test_a_question_is_not_asked_when_answered_or_declined(talk: Talk) -> None:
    out = talk.turn(FEET)
    asked = []
    for _ in range(8):
        if out.ask is None:
            break
        assert out.ask.fact not in known(out)
        assert out.ask.fact not in asked
        asked.append(out.ask.fact)
        out = talk.turn("don't know")
    assert len(asked) <= 6


def test_out_of_scope_gets_a_line_and_no_advice(talk: Talk) -> None:
    for text in ("hello", "which shoes should i buy", "how do i belay", "asdf qwer zxcv"):
        out = talk.turn(text)
        assert not out.in_scope
        assert out.suggestions == ()
        assert out.say


def test_help_fits_one_screen(talk: Talk) -> None:
    assert len(talk.turn("help").say.splitlines()) <= 24


def test_a_number_alone_shows_that_suggestion_in_full(talk: Talk) -> None:
    first = talk.turn(FEET)
    assert first.suggestions[1].drill not in first.say
    out = talk.turn("2")
    assert first.suggestions[1].drill in out.say
    assert rules(out) == rules(first)


def test_a_number_answers_a_question_for_a_number(talk: Talk) -> None:
    talk.turn("my elbow hurts when i pull, no pop, no swelling, not numb")
    for _ in range(4):
        if talk.state.open_ask == "pain_weeks":
            break
        talk.turn("don't know")
    assert talk.state.open_ask == "pain_weeks"
    assert known(talk.turn("2"))["pain_weeks"] == 2


def test_a_card_holds_cue_drill_and_dose_as_text_and_as_a_page(talk: Talk) -> None:
    first = talk.turn(FEET)
    card = talk.card()
    assert card is not None
    for form in (card.text(), html.unescape(card.html())):
        assert first.suggestions[0].now in form
        assert first.suggestions[0].drill in form
        assert "Come back" in form


def test_several_talks_do_not_meet(tmp_path: Path) -> None:
    now = datetime(2026, 11, 25, 18, 0, tzinfo=UTC)
    one, two = Keeper(tmp_path), Keeper(tmp_path)
    one.said("my foot slips", now)
    two.said("my hand slips", now)
    assert unfinished(tmp_path) is None, "a talk that is open in a terminal is not offered"
    assert len(list(tmp_path.glob("*.jsonl"))) == 2
    one.close(now)
    two.close(now)
    assert unfinished(tmp_path) is None
