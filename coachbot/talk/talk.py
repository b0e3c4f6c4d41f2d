"""One talk: a list of states, one for each message that changed something.

Undo drops the last state; a question about the advice leaves the states as they are.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from typing import Protocol

from pydantic import BaseModel, ConfigDict

from coachbot.advice import Advice, Ask, Coach, Suggested, Understood
from coachbot.advice.explaining import what_if, why, why_not
from coachbot.advice.inference import Outcome
from coachbot.advice.ranking import FORMULA
from coachbot.case import Case, Known, KnownBy
from coachbot.knowledge.lemmas import lemma
from coachbot.understanding import Reading

from . import saying
from .card import Card, card
from .state import State

FIRST = 3
ASKED_IN_ALL = 6
ASKED_AGAIN = 2
BARE = 4
PASSING = frozenset({"act", "off_topic"})
ASIDE = ("did_not_help", "tried_that", "cannot_do")
ACTS = (
    "undo", "ask_what_if", "ask_why_not", "ask_understood", "ask_ranking", "ask_help",
    "ask_question_reason", "ask_why", "ask_card", "ask_more", "worked", "leave",
)  # fmt: skip
NEEDS_ADVICE = {"ask_why", "ask_card", "ask_more", "worked"}
NOT_BESIDE = {"worked": set(ASIDE), "ask_why": {"ask_why_not"}, "ask_more": set(ASIDE)}
_ORDINALS = {"first": 1, "second": 2, "third": 3, "fourth": 4, "fifth": 5, "last": -1}
_NUMBER_ALONE = re.compile(r"^\s*(?:number |no\.? ?|#)?[1-6]\s*[.!?]?\s*$", re.IGNORECASE)
_NUMBER = re.compile(r"(?:^|[\s#(])([1-6])(?:st|nd|rd|th)?(?:[\s.,:;!?)]|$)")


class ReadsWords(Protocol):
    """What a talk needs of the understanding."""

    def read(self, text: str, expecting: str | None = None) -> Reading: ...

    def nearly(self, text: str, fact: str) -> Sequence[str]: ...


class TurnOut(BaseModel):
    """What one message of the user leads to: the JSON Lines object of a turn, without its id."""

    model_config = ConfigDict(frozen=True)

    understood: tuple[Understood, ...]
    suggestions: tuple[Suggested, ...]
    stop: bool
    ask: Ask | None
    in_scope: bool
    say: str


class Talk:
    """A talk with one person. ``plan`` may add a practice plan to what is said."""

    def __init__(
        self,
        coach: Coach,
        reader: ReadsWords,
        plan: Callable[[Outcome], str | None] = lambda outcome: None,
    ) -> None:
        self._coach = coach
        self._reader = reader
        self._plan = plan
        self._states: list[State] = [State()]

    def move_to(self, other: Talk) -> None:
        """Go on with the rules and words of another talk; what was said stays."""
        self._coach, self._reader, self._plan = other._coach, other._reader, other._plan

    @property
    def state(self) -> State:
        """What stands now."""
        return self._states[-1]

    def choices(self) -> tuple[str, ...]:
        """The choices of the open question, for completion."""
        asked = self._open_ask(self.state)
        return asked.choices if asked else ()

    def turn(self, text: str) -> TurnOut:
        """Take one message. Never raises on any text."""
        state = self.state
        reading = self._read(text)
        acts = {str(h.value) for h in reading.heard if h.fact == "act" and not h.denied}
        news = [
            Known(h.fact, h.value, h.denied, KnownBy.SAID, text[h.start : h.end])
            for h in reading.heard
            if h.fact != "act"
        ]
        if state.open_ask:
            answer = KnownBy.ANSWERED
            news = [replace(k, known_by=answer) if k.fact == state.open_ask else k for k in news]
        if _NUMBER_ALONE.match(text) and self._pointed_at(text) and not self._wants_number():
            return self._detail(text)
        for act in (a for a in ACTS if a in acts and not NOT_BESIDE.get(a, set()) & acts):
            out = self._act(act, text, news)
            if out is not None:
                return out
        return self._tell(text, reading, acts, news)

    def _read(self, text: str) -> Reading:
        """A message, read for the open question; a bare number for one that may be asked too."""
        state = self.state
        reading = self._reader.read(text, state.open_ask)
        if reading.heard or reading.declined or not state.open_ask or len(text.split()) > BARE:
            return reading
        facts = self._coach.book.facts
        others = [
            other
            for fact in self._coach.infer(state.case).askable
            if facts[fact].kind == "number" and fact != state.open_ask
            and (other := self._reader.read(text, fact)).heard
        ]  # fmt: skip
        return others[0] if len(others) == 1 else reading

    def _act(self, act: str, text: str, news: Sequence[Known]) -> TurnOut | None:
        """Messages that ask about the talk itself; None when the message tells something."""
        state = self.state
        tells = any(self._about(k.fact) != "talk" for k in news)
        if act == "undo" and not tells:
            return self._undo()
        if act == "ask_what_if" and news:
            return self._explain(self._what_if(news))
        if act == "ask_why_not":
            known = bool(state.case.known)
            return self._explain(self._why_not(text) if known else saying.NOTHING_YET)
        if act == "ask_understood":
            return self._explain(saying.understood(self._coach.understood(state.case)))
        if act == "ask_ranking":
            return self._explain(FORMULA)
        if act == "ask_help" and not tells:
            return self._explain(saying.HELP)
        if act == "ask_question_reason" and state.open_ask:
            return self._explain(self._coach.ask(state.open_ask).reason)
        if act == "ask_why" and state.shown and (not tells or len(text.split()) <= 6):
            return self._explain(self._why(text))
        if act == "ask_card" and state.shown:
            taken = self.card(text)
            return self._explain(taken.text() if taken else "There is nothing to write down yet.")
        if act == "ask_more" and state.shown and not tells:
            return self._more()
        if act == "worked" and state.shown and not tells:
            return self._worked(text)
        if act in NEEDS_ADVICE and not state.shown and not tells:
            return self._explain(saying.NOTHING_YET)
        if act == "leave" and not tells:
            return self._explain(saying.GOODBYE)
        return None

    def _about(self, fact: str) -> str:
        return self._coach.book.facts[fact].about

    def _tell(
        self, text: str, reading: Reading, acts: Collection[str], news: Sequence[Known]
    ) -> TurnOut:
        """A message that tells something: take it into the case and advise."""
        book = self._coach.book
        before = self.state
        state = replace(before, case=before.case.without(PASSING))
        if "new_problem" in acts:
            state = State(case=self._keeping(state.case, {"climber"}))
        elif "other_move" in acts:
            kept = self._keeping(state.case, {"climber", "problem"})
            state = State(case=kept)
        for act in ASIDE:
            if act in acts and state.shown:
                told = any(k.fact == "tried" for k in news)
                by_name = self._by_words(text, state.shown) if told else self._first_of(state)
                rule = self._pointed_at(text) or by_name
                if rule:
                    state = replace(state, put_aside={**state.put_aside, rule: act}, worked=None)
        case = state.case.with_known(news, book.single_valued)
        state = replace(state, told=text)
        if (reading.declined and state.open_ask) or (
            state.open_ask
            and not case.settled(state.open_ask)
            and state.asked.get(state.open_ask, 0) >= ASKED_AGAIN
        ):
            case = case.declining(state.open_ask)
        changed = case != state.case or state is not before
        state = replace(state, case=case, worked=None if changed else state.worked)
        advice, outcome, state = self._advise(state, reading)
        told = bool(news) or bool(acts) or reading.declined
        lost = not told and not advice.suggestions and not before.shown
        nonsense = lost and not self._speaks_of_climbing(reading)
        if nonsense:
            advice = advice.model_copy(update={"ask": None})
            state = replace(state, open_ask=None)
        self._states.append(replace(state, case=state.case.without(PASSING)))
        new_here = [u for u in self._coach.understood(state.case) if u.words and u.words in text]
        say = saying.advice(
            advice,
            heard=new_here,
            first=FIRST,
            before=before.shown[:FIRST],
            understood_nothing=not told,
            reading=reading,
            plan=None if advice.stop else self._plan(outcome),
            aside=[a for a in ASIDE if a in acts and before.shown],
        )
        talk_only = bool(news) and all(k.fact == "off_topic" for k in news)
        declined = bool(advice.replies) and not self._ordinary(advice)
        in_scope = advice.stop or not (talk_only or nonsense or declined)
        return self._out(state, advice, say, in_scope)

    def _advise(
        self, state: State, reading: Reading | None = None
    ) -> tuple[Advice, Outcome, State]:
        enough = sum(state.asked.values()) >= ASKED_IN_ALL
        advice, outcome = self._coach.advise(state.case, tuple(state.put_aside), ask=not enough)
        ask = advice.ask
        if reading is not None and reading.maybes and not advice.stop:
            first = reading.maybes[0]
            choices = tuple(saying.choice(self._coach.book, first.fact, v) for v in first.values)
            ask = self._coach.ask(first.fact).model_copy(update={"choices": choices})
        if ask is None and not advice.suggestions and not advice.replies and not advice.stop:
            open_trouble = not state.case.settled("trouble")
            ask = self._ask("trouble", state) if open_trouble else None
        if advice.replies and not advice.suggestions:
            ask = None
        if ask is not None and not (reading is not None and reading.maybes):
            ask = self._ask(ask.fact, state, ask.bits)
        advice = advice.model_copy(update={"ask": ask})
        shown = tuple(s.rule for s in advice.suggestions)
        state = replace(state, shown=shown, stopped=advice.stop)
        return advice, outcome, state.asking(ask.fact if ask else None)

    def _speaks_of_climbing(self, reading: Reading) -> bool:
        """Whether a word that was not understood belongs to the trade at all."""
        trade = {lemma(w) for w in self._coach.book.concepts.get("trade", ())}
        return any(lemma(w) in trade for s in reading.unread for w in s.words.lower().split())

    def _ordinary(self, advice: Advice) -> bool:
        """Whether there is advice besides stops and safety."""
        rules = (self._coach.book.rules[s.rule].rule for s in advice.suggestions)
        return any(not (rule.stop or rule.safety) for rule in rules)

    def _keeping(self, case: Case, about: set[str]) -> Case:
        facts = self._coach.book.facts
        return case.without([n for n, f in facts.items() if f.about not in about])

    def _out(self, state: State, advice: Advice, say: str, in_scope: bool) -> TurnOut:
        return TurnOut(
            understood=self._coach.understood(state.case),
            suggestions=advice.suggestions,
            stop=advice.stop,
            ask=advice.ask,
            in_scope=in_scope,
            say=say,
        )

    def _standing(self) -> Advice:
        """The advice that stands, worked out again from the state."""
        state = self.state
        if state.worked:
            return Advice()
        advice, _ = self._coach.advise(state.case, tuple(state.put_aside), ask=False)
        return advice.model_copy(update={"ask": self._open_ask(state)})

    def _ask(self, fact: str, state: State, bits: float = 0.0) -> Ask:
        """A question; of many answers those come first that the last message came near to."""
        declared = self._coach.book.facts[fact]
        many = len(declared.values) > saying.CHOICES and declared.about in {"move", "problem"}
        return self._coach.ask(fact, bits, self._reader.nearly(state.told, fact) if many else ())

    def _open_ask(self, state: State) -> Ask | None:
        return self._ask(state.open_ask, state) if state.open_ask else None

    def _explain(self, say: str) -> TurnOut:
        advice = self._standing()
        if advice.ask:
            say = f"{say}\n\n{saying.question(advice.ask)}"
        return self._out(self.state, advice, say, True)

    def _undo(self) -> TurnOut:
        if len(self._states) == 1:
            return self._explain("There is nothing to take back yet.")
        self._states.pop()
        words = saying.understood(self._coach.understood(self.state.case))
        return self._explain(f"Taken back. {words}")

    def _first_of(self, state: State) -> str | None:
        return state.shown[0] if state.shown else None

    def _pointed_at(self, text: str) -> str | None:
        """The shown suggestion that a message points at by number."""
        shown = self.state.shown
        found = _NUMBER.search(text)
        number = int(found[1]) if found else None
        if number is None:
            words = re.findall(r"[a-z]+", text.lower())
            number = next((_ORDINALS[w] for w in words if w in _ORDINALS), None)
        if number is None or not shown:
            return None
        if number == -1:
            return shown[-1]
        return shown[number - 1] if number <= len(shown) else None

    def _outcome(self) -> Outcome:
        return self._coach.infer(self.state.case)

    def _why(self, text: str) -> str:
        rule = (
            self._pointed_at(text) or self._by_words(text, self.state.shown) or self.state.shown[0]
        )
        return saying.why(why(self._coach.book, self._outcome(), rule))

    def _why_not(self, text: str) -> str:
        book = self._coach.book
        others = [r for r in book.rules if book.rules[r].rule.suggest]
        rule = self._by_words(text, others)
        if rule is None:
            return "Why not what? Name the thing: for example, why not a drop knee?"
        outcome = self._outcome()
        if rule in self.state.put_aside:
            return "Because you told me that it did not serve. Say undo to bring it back."
        if rule in self.state.shown:
            place = self.state.shown.index(rule) + 1
            return f"I do suggest it: it is number {place}. {book.rules[rule].rule.suggest.now}"  # type: ignore[union-attr]
        return saying.why_not(book.rules[rule], why_not(book, outcome, rule))

    def _by_words(self, text: str, rules: Sequence[str]) -> str | None:
        """The rule that a message names, by the words of its skills, its id and its cue."""
        return saying.named(text, [self._coach.book.rules[r] for r in rules])

    def _what_if(self, news: Sequence[Known]) -> str:
        state = self.state
        supposed = [replace(k, known_by=KnownBy.SUPPOSED) for k in news]
        difference = what_if(self._coach, state.case, supposed, tuple(state.put_aside))
        return saying.what_if(self._coach.book, supposed, difference)

    def _wants_number(self) -> bool:
        """Whether the open question asks for a number."""
        ask = self.state.open_ask
        return ask is not None and self._coach.book.facts[ask].kind in {"number", "grade"}

    def _detail(self, text: str) -> TurnOut:
        """One shown suggestion in full."""
        rule = self._pointed_at(text)
        place = self.state.shown.index(rule) if rule else 0
        return self._explain(saying.detail(self._standing().suggestions[place], place + 1))

    def _more(self) -> TurnOut:
        advice = self._standing()
        if len(advice.suggestions) <= FIRST:
            return self._explain("That is all that I have for what I know so far.")
        say = saying.suggestions(advice.suggestions, FIRST)
        return self._explain(say)

    def _worked(self, text: str) -> TurnOut:
        rule = self._pointed_at(text) or self.state.shown[0]
        helped = self._coach.book.rules[rule].rule.suggest
        self._states.append(replace(self.state, worked=rule, open_ask=None))
        say = saying.worked(helped.now if helped else "")
        return self._out(self.state, Advice(), say, True)

    def card(self, text: str = "") -> Card | None:
        """The take-away card of the suggestion pointed at, of what helped, or of the first."""
        rule = self._pointed_at(text) or self.state.worked or self._first_of(self.state)
        advice, _ = self._coach.advise(self.state.case, ask=False)
        standing = {s.rule: s for s in advice.suggestions}
        if rule is None or rule not in standing:
            return None
        return card(standing[rule], self._coach.understood(self.state.case))
