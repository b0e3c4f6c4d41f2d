"""The kinds of exercise. Each knows its prompt, its choices, and how an answer is marked."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from random import Random
from typing import ClassVar, Protocol

from rapidfuzz import fuzz

from coachbot.advice import Coach
from coachbot.advice.explaining import Standing, why_not
from coachbot.advice.inference import SaidFact
from coachbot.case import Known
from coachbot.engine.logic import tests_of
from coachbot.engine.model import All
from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.wording import fact_sentence

from . import explaining
from .drawing import Deck, Drawn, warns
from .marking import Marker
from .weighing import Verdict

LETTERS = "abcdefghijkl"
CUE_WORDS = 10
_ALIKE = 75
_MOST_LOOKED_AT = 60


@dataclass(frozen=True, slots=True)
class Result:
    """The mark of one answer, explained, and the rules that it is about."""

    verdict: Verdict
    share: float
    explained: str
    rules: tuple[str, ...] = ()
    safety: bool = False


class Exercise(Protocol):
    """One exercise on one case."""

    kind: ClassVar[str]

    @property
    def drawn(self) -> Drawn: ...

    @property
    def prompt(self) -> str: ...

    @property
    def choices(self) -> tuple[str, ...]: ...

    def mark(self, answer: str) -> Result: ...


@dataclass
class Room:
    """What every exercise needs."""

    coach: Coach
    deck: Deck
    marker: Marker

    @property
    def book(self) -> RuleBook:
        return self.coach.book


class Advise:
    """Say what you would say to this climber, in your own words, or pick."""

    kind: ClassVar[str] = "advise"

    def __init__(self, room: Room, drawn: Drawn) -> None:
        self._room, self.drawn = room, drawn
        self._advice, self._outcome = room.coach.advise(drawn.case, ask=False)
        self._shown = self._choices(Random(f"choices {drawn.number}"))
        rules = room.book.rules
        self.choices = tuple(s.now for r in self._shown if (s := rules[r].rule.suggest))
        self.prompt = f"{drawn.told}\n\nWhat do you say?"

    def _choices(self, random: Random) -> tuple[str, ...]:
        """The rule advised first among three that are not advised here, unsafe ones first."""
        book = self._room.book
        if not self._advice.suggestions:
            return ()
        right = self._advice.suggestions[0].rule
        advised = {s.rule for s in self._advice.suggestions}
        held = [h.rule for h in self._advice.held_back][:1]
        neighbours = [
            r
            for r in self._room.deck.rules
            if r not in advised
            and r not in self._outcome.firings
            and (book.rules[r].family == book.rules[right].family or warns(book.rules[right]))
            and not book.rules[r].rule.stop
        ]
        others = held + random.sample(neighbours, k=min(3 - len(held), len(neighbours)))
        shown = [right, *others]
        random.shuffle(shown)
        return tuple(shown)

    def mark(self, answer: str) -> Result:
        picked = picked_letter(answer, self.choices)
        marker, case = self._room.marker, self.drawn.case
        if picked is not None:
            given, advice = marker.mark_pick(case, self._shown[picked])
        else:
            given, advice, _ = marker.mark(case, self.drawn.told, answer)
        about = (*given.named, *given.missing)
        safety = advice.stop or any(
            warns(self._room.book.rules[s.rule]) for s in advice.suggestions
        )
        text = explaining.mark(self._room.book, advice, given)
        return Result(given.verdict, given.share, text, about, safety)


class AskFirst:
    """Choose the question that tells most; marked by the measure of the chat's own questions."""

    kind: ClassVar[str] = "question"

    def __init__(self, room: Room, drawn: Drawn) -> None:
        self._room, self.drawn = room, drawn
        worths = room.coach.question_worths(drawn.case)
        order = sorted(worths, key=lambda f: (worths[f], f), reverse=True)
        self._worths = {f: worths[f] for f in order[:6]}
        self._facts = list(self._worths)
        Random(f"choices {drawn.number}").shuffle(self._facts)
        self.choices = tuple(room.coach.ask(f).question for f in self._facts)
        self.prompt = f"{drawn.told}\n\nWhich question do you ask first?\n{listed(self.choices)}"

    @classmethod
    def of(cls, room: Room, drawn: Drawn) -> AskFirst | None:
        made = cls(room, drawn)
        return (
            made if len(made._facts) >= 3 and max(b for _, b in made._worths.values()) > 0 else None
        )

    def mark(self, answer: str) -> Result:
        place = picked_place(answer, self.choices)
        best = max(self._worths, key=lambda f: self._worths[f])
        first, most = self._worths[best]
        ask = self._room.coach.ask(best)
        mine = (
            f"I would ask: {ask.question} Its answer tells {most:.2f} bits about what to"
            f" suggest.\n{ask.reason}"
        )
        if place is None:
            return Result(Verdict.WRONG, 0.0, f"Give the letter of a question.\n{mine}")
        chosen_first, bits = self._worths[self._facts[place]]
        share = bits / most if most > 0 and chosen_first == first else 0.0
        verdict = _by_share(share, right=0.9, partly=0.5)
        yours = f"Yours tells {bits:.2f} bits"
        if chosen_first != first:
            yours = "Another kind of question comes before that one"
        return Result(verdict, share, f"{_head(verdict)} {yours}.\n{mine}")


class RuledOut:
    """Name the fact of the story that speaks against another suggestion."""

    kind: ClassVar[str] = "ruled out"

    def __init__(
        self, room: Room, drawn: Drawn, other: str, against: Known, condition: str
    ) -> None:
        self._room, self.drawn = room, drawn
        self._other, self._condition = other, condition
        known = list(drawn.case.known)
        self._place = known.index(against)
        self.choices = sentences(room.book, known)
        suggestion = room.book.rules[other].rule.suggest
        cue = suggestion.now if suggestion else other
        self.prompt = (
            f'{drawn.told}\n\nSomebody says: "{cue}"\n'
            "Which fact of the story speaks against that?\n"
            f"{listed(self.choices)}"
        )

    @classmethod
    def of(cls, room: Room, drawn: Drawn) -> RuledOut | None:
        """An exercise on the first neighbouring rule that one said fact alone rules out."""
        book = room.book
        outcome = room.coach.infer(drawn.case)
        family = book.rules[drawn.rule].family if drawn.rule else None
        near = [
            r
            for r in room.deck.rules
            if book.rules[r].family == family and r not in outcome.firings
        ]
        Random(f"ruled out {drawn.number}").shuffle(near)
        said = {k.fact: k for k in drawn.case.known if not k.denied}
        if len(drawn.case.known) < 2:
            return None
        for other in near[:_MOST_LOOKED_AT]:
            when = book.rules[other].when
            parts = when.parts if isinstance(when, All) else (when,)
            touched = {t.attribute for p in parts for t in tests_of(p)}
            if not touched & set(said):
                continue
            verdicts = why_not(book, outcome, other)
            failing = [i for i, v in enumerate(verdicts) if v.standing is not Standing.HOLDS]
            if len(failing) != 1 or verdicts[failing[0]].standing is not Standing.FAILS:
                continue
            facts = {t.attribute for t in tests_of(parts[failing[0]])}
            if len(facts) == 1 and (fact := next(iter(facts))) in said:
                return cls(room, drawn, other, said[fact], verdicts[failing[0]].condition)
        return None

    def mark(self, answer: str) -> Result:
        place = picked_place(answer, self.choices)
        right = place == self._place
        verdict = Verdict.RIGHT if right else Verdict.WRONG
        against = self.choices[self._place]
        text = (
            f"{_head(verdict)} Rule {self._other} needs: {self._condition}. Here: {against}.\n"
            f"{self._room.book.rules[self._other].rule.why}"
        )
        return Result(verdict, float(right), text, (self._other,))


class RedFlag:
    """Find what in a story has to do with safety, or say that there is nothing."""

    kind: ClassVar[str] = "red flag"
    nothing: ClassVar[str] = "nothing of that kind"

    def __init__(self, room: Room, drawn: Drawn) -> None:
        self._room, self.drawn = room, drawn
        outcome = room.coach.infer(drawn.case)
        ranking = room.coach.rank(outcome)
        self._rules = tuple(r.rule for r in ranking.suggestions if warns(room.book.rules[r.rule]))
        behind: set[SaidFact] = set()
        for rule in self._rules:
            behind |= outcome.rests_on(rule)[0]
        known = list(drawn.case.known)
        self._right = {i for i, k in enumerate(known) if (k.fact, k.value, k.denied) in behind}
        self.choices = (*sentences(room.book, known), self.nothing)
        self.prompt = (
            f"{drawn.told}\n\nWhat here has to do with safety? (letters, as many as needed)\n"
            f"{listed(self.choices)}"
        )

    def mark(self, answer: str) -> Result:
        places = picked_places(answer, self.choices)
        last = len(self.choices) - 1
        right = self._right or {last}
        hits = len(places & right)
        verdict = Verdict.WRONG
        if places == right:
            verdict = Verdict.RIGHT
        elif self._right and not hits:
            verdict = Verdict.UNSAFE
        elif hits:
            verdict = Verdict.PARTLY
        share = 1.0 if verdict is Verdict.RIGHT else 0.5 if verdict is Verdict.PARTLY else 0.0
        flags = "; ".join(self.choices[i] for i in sorted(right))
        parts = [f"{_head(verdict)} It is: {flags}."]
        parts += [f"{self._room.book.rules[r].rule.why} (Rule {r}.)" for r in self._rules[:2]]
        return Result(verdict, share, "\n".join(parts), self._rules, bool(self._right))


class Order:
    """Put suggestions in order; marked by Kendall's rank correlation with the engine's order."""

    kind: ClassVar[str] = "order"

    def __init__(self, room: Room, drawn: Drawn, ranked: Sequence[str]) -> None:
        self._room, self.drawn = room, drawn
        self._ranked = tuple(ranked)
        shown = list(ranked)
        Random(f"choices {drawn.number}").shuffle(shown)
        self._shown = tuple(shown)
        self.choices = tuple(s.now for r in shown if (s := room.book.rules[r].rule.suggest))
        letters = " ".join(LETTERS[: len(shown)])
        self.prompt = (
            f"{drawn.told}\n\nWhat first, what later? Give the letters in order,"
            f" such as: {letters}\n"
            f"{listed(self.choices)}"
        )

    @classmethod
    def of(cls, room: Room, drawn: Drawn) -> Order | None:
        """Three or four suggestions whose scores differ."""
        advice, _ = room.coach.advise(drawn.case, ask=False)
        taken: list[str] = []
        last = 2.0
        for s in advice.suggestions:
            tier_changes = bool(taken) and warns(room.book.rules[taken[-1]]) != warns(
                room.book.rules[s.rule]
            )
            if s.strength <= last - 0.03 or tier_changes:
                taken.append(s.rule)
                last = s.strength
        return cls(room, drawn, taken[:4]) if len(taken) >= 3 else None

    def mark(self, answer: str) -> Result:
        places = [LETTERS.index(c) for c in re.findall(rf"\b[{LETTERS}]\b", answer.lower())]
        places = [p for p in dict.fromkeys(places) if p < len(self._shown)]
        right = [self._shown.index(r) for r in self._ranked]
        shown = " ".join(LETTERS[p] for p in right)
        if len(places) != len(right):
            return Result(
                Verdict.WRONG,
                0.0,
                f"Give all {len(right)} letters once. It is: {shown}",
                self._ranked,
            )
        tau = kendall_tau([right.index(p) for p in places])
        share = (tau + 1) / 2
        verdict = Verdict.RIGHT if tau > 0.99 else Verdict.PARTLY if tau >= 0.3 else Verdict.WRONG
        first = self._ranked[0]
        if warns(self._room.book.rules[first]) and places[0] != right[0]:
            verdict, share = Verdict.WRONG, 0.0
        text = (
            f"{_head(verdict)} My order: {shown} (rank correlation {tau:.2f}).\n"
            f"First because: {self._room.book.rules[first].rule.why}"
        )
        return Result(verdict, share, text, self._ranked)


class Cue:
    """Say one suggestion as a cue of at most ten words."""

    kind: ClassVar[str] = "cue"

    def __init__(self, room: Room, drawn: Drawn, rule: str) -> None:
        self._room, self.drawn, self._rule = room, drawn, rule
        self.choices: tuple[str, ...] = ()
        read = room.book.rules[rule]
        self._cue = read.rule.suggest.now if read.rule.suggest else ""
        self.prompt = (
            f"{drawn.told}\n\nThe reason behind the advice: {read.rule.why}\n"
            f"Give the cue in {CUE_WORDS} words or fewer."
        )

    def mark(self, answer: str) -> Result:
        fits = self._room.marker.fits(answer, self.drawn.told, self._rule)
        words = len(re.findall(r"[\w'-]+", answer))
        says = _by_share(fits, right=0.5, partly=0.15)
        verdict = Verdict.PARTLY if says is Verdict.RIGHT and words > CUE_WORDS else says
        length = f"{words} words" + (f", {CUE_WORDS} are enough" if words > CUE_WORDS else "")
        text = f"{_head(verdict)} {length}. The cue as it stands: {self._cue} (Rule {self._rule}.)"
        share = 1.0 if verdict is Verdict.RIGHT else 0.5 if verdict is Verdict.PARTLY else 0.0
        return Result(verdict, share, text, (self._rule,))


def possible_exercises(room: Room, drawn: Drawn) -> dict[str, Callable[[], Exercise | None]]:
    """How to make each kind of exercise of a case; some may turn out not to be possible."""
    kinds: dict[str, Callable[[], Exercise | None]] = {
        Advise.kind: lambda: Advise(room, drawn),
        AskFirst.kind: lambda: AskFirst.of(room, drawn),
        RuledOut.kind: lambda: RuledOut.of(room, drawn),
        RedFlag.kind: lambda: RedFlag(room, drawn),
        Order.kind: lambda: Order.of(room, drawn),
    }
    rule = drawn.rule
    if rule and not warns(room.book.rules[rule]):
        kinds[Cue.kind] = lambda: Cue(room, drawn, rule)
    return kinds


def kendall_tau(places: Sequence[int]) -> float:
    """Kendall's rank correlation of an order without ties with 0, 1, 2 …"""
    pairs = [(i, j) for i in range(len(places)) for j in range(i + 1, len(places))]
    if not pairs:
        return 1.0
    agreeing = sum(1 if places[i] < places[j] else -1 for i, j in pairs)
    return agreeing / len(pairs)


def sentences(book: RuleBook, known: Sequence[Known]) -> tuple[str, ...]:
    """Facts in plain words."""
    return tuple(fact_sentence(book, k.fact, k.value, k.denied) for k in known)


def listed(choices: Sequence[str]) -> str:
    """Choices by letter, one a line."""
    return "\n".join(f"  {LETTERS[i]}) {c}" for i, c in enumerate(choices[: len(LETTERS)]))


def picked_places(answer: str, choices: Sequence[str]) -> set[int]:
    """The choices that an answer picks, by letter, or by words that are nearly the same."""
    letters = re.findall(r"[a-z]+", answer.lower())
    allowed = LETTERS[: len(choices)]
    if letters and all(len(w) == 1 or w == "and" for w in letters):
        return {allowed.index(w) for w in letters if w in allowed}
    likeness = [fuzz.token_set_ratio(answer.lower(), c.lower()) for c in choices]
    best = max(likeness, default=0.0)
    return {likeness.index(best)} if best >= _ALIKE else set()


def picked_place(answer: str, choices: Sequence[str]) -> int | None:
    """The one choice that an answer picks, or None."""
    places = picked_places(answer, choices)
    return next(iter(places)) if len(places) == 1 else None


def picked_letter(answer: str, choices: Sequence[str]) -> int | None:
    """The place of the choice whose letter is the whole answer, or None."""
    letter = answer.strip().lower().strip(".)(")
    place = LETTERS.find(letter) if len(letter) == 1 else -1
    return place if 0 <= place < len(choices) else None


def _head(verdict: Verdict) -> str:
    return {
        Verdict.RIGHT: "Right.",
        Verdict.PARTLY: "Partly right.",
        Verdict.WRONG: "Not it, this time.",
        Verdict.UNSAFE: "UNSAFE: that would be overlooked.",
    }[verdict]


def _by_share(share: float, right: float, partly: float) -> Verdict:
    if share >= right:
        return Verdict.RIGHT
    return Verdict.PARTLY if share >= partly else Verdict.WRONG
