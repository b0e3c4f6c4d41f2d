"""Random walks through the chat: what must hold wherever a talk goes.

Invariants: never an exception; what was said last stands; after a red flag no suggestion
loads the body; undo restores the very state; questions about the advice and what-if leave
the state as it is; a replay of the same messages gives the same state.
"""

from __future__ import annotations

import os
from typing import Any

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from coachbot.doors.opening import House, open_house
from coachbot.talk import Talk, TurnOut

_HOUSE: list[House] = []

TELLING = (
    "my foot slips off a tiny foothold on the slab", "my hand slips off the sloper",
    "feet cut on the roof when i throw for the jug", "i swing open like a door on the arete",
    "cant reach the next hold, a few cm short", "the wall is vertical", "it is 40 degrees",
    "i am 14 years old", "no sorry it is a pinch", "left hand", "by accident", "on purpose",
    "my elbow hurts a bit", "nothing hurts", "yes", "no", "don't know", "i tried flagging",
    "sit start, cannot get off the ground", "i am afraid of falling", "give me a drill",
)  # fmt: skip
ALARMS = ("felt a pop in my ring finger", "my fingers are numb and tingling",
    "i hit my head on the mat and feel dizzy")  # fmt: skip
ASKING = ("why", "why 2", "why not a heel hook", "what if the wall were steep",
    "what did you understand", "help", "more", "card", "how do you rank")  # fmt: skip
STEERING = ("that worked", "that did not help", "tried that already", "can't do that",
    "another move", "another problem", "2 did not help")  # fmt: skip


def house() -> House:
    if not _HOUSE:
        _HOUSE.append(open_house())
    return _HOUSE[0]


class Wandering(RuleBasedStateMachine):
    """One talk and all that was said in it."""

    @initialize()
    def begin(self) -> None:
        self.talk: Talk = house().talk()
        self.said: list[str] = []
        self.out: TurnOut | None = None

    def say(self, text: str) -> TurnOut:
        self.said.append(text)
        self.out = self.talk.turn(text)
        return self.out

    @rule(text=st.sampled_from(TELLING))
    def tell(self, text: str) -> None:
        before = self.talk.state
        out = self.say(text)
        if "40 degrees" in text:
            assert [u.value for u in out.understood if u.fact == "wall_angle"] == [40]
        if text == "i am 14 years old":
            assert [u.value for u in out.understood if u.fact == "age"] == [14]
        assert self.talk.state is not before

    @rule(text=st.text(max_size=200))
    def babble(self, text: str) -> None:
        self.say(text)

    @rule(text=st.sampled_from(ALARMS))
    def alarm(self, text: str) -> None:
        assert self.say(text).stop

    @rule(text=st.sampled_from(STEERING))
    def steer(self, text: str) -> None:
        self.say(text)

    @rule(text=st.sampled_from(ASKING))
    def ask(self, text: str) -> None:
        before = self.talk.state
        self.say(text)
        assert self.talk.state == before

    @precondition(lambda self: self.said)
    @rule(text=st.sampled_from(TELLING))
    def tell_and_undo(self, text: str) -> None:
        before = self.talk.state
        self.say(text)
        self.say("undo")
        assert self.talk.state == before

    @precondition(lambda self: 0 < len(self.said) <= 12)
    @rule()
    def replay(self) -> None:
        again = house().talk()
        for text in self.said:
            again.turn(text)
        assert again.state == self.talk.state

    @invariant()
    def nothing_loads_the_body_after_a_red_flag(self) -> None:
        if self.out is None:
            return
        book = house().book
        if self.out.stop:
            assert self.out.ask is None
            for s in self.out.suggestions:
                suggestion = book.rules[s.rule].rule.suggest
                assert suggestion is not None
                assert suggestion.loads == []

    @invariant()
    def every_answer_has_words_and_known_rules(self) -> None:
        if self.out is None:
            return
        assert self.out.say
        facts = [u.fact for u in self.out.understood if not u.denied]
        single = house().book.single_valued
        assert all(facts.count(f) == 1 for f in facts if f in single)


CI = bool(os.environ.get("CI"))
Wandering.TestCase.settings = settings(
    max_examples=60 if CI else 25,
    stateful_step_count=50,
    deadline=None,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
TestWandering: Any = Wandering.TestCase
