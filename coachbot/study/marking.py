"""An answer in free words marked against the engine's own advice for the case.

What counts is what the answer recommends. It is measured how much of what is particular
to the advised suggestions it says, and how much of what is particular to others; words that
the story itself used say little. Whether that is right, partly right or neither is weighed
with weights that were fitted to answers marked by hand (`weighing.py`). An answer is unsafe
when it recommends a load that is held back in this case, or goes on where the climbing
must stop; nothing is weighed there.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

from coachbot.advice import Advice, Coach
from coachbot.advice.inference import Outcome
from coachbot.case import Case
from coachbot.knowledge.book import NOT_ALLOWED, RuleBook, Study
from coachbot.knowledge.wording import fact_sentence

from .drawing import warns
from .hearing import Ear, Heard, Match
from .profiles import Profiles, profiles_of
from .weighing import Measures, Verdict, weigh

TOLD_BEFORE = 0.35
AGAINST = -0.3
PAIR = 0.35
ENOUGH_SAID = 1.1
SPARE = 0.1
NAMED = 0.5
NEAR = 0.15
WORD_FOR_WORD = 0.9
CORE = 0.6
FEW = 5
FIRST = 3
TRIED = "tried"


@dataclass(frozen=True, slots=True)
class _Strengths:
    """How much is said of each suggestion, and against it; the worth of each meaning."""

    of: Mapping[str, float]
    against: Mapping[str, float]
    worth: Mapping[str, float]

    def fits(self) -> dict[str, float]:
        """How well each suggestion is fitted, 0 to 1.

        It is as far as enough is said of it, and as no other is fitted much better.
        """
        most = max(self.of.values(), default=0.0)
        if most <= 0:
            return dict.fromkeys(self.of, 0.0)
        whole = sum(self.worth.values()) or 1.0
        return {
            rule: min(1.0, s / ENOUGH_SAID) * min(1.0, s / most + SPARE * min(1.0, s / whole))
            for rule, s in self.of.items()
        }


@dataclass(frozen=True, slots=True)
class Danger:
    """Something unsafe: the words, the load or "goes on", and the rules that hold it back."""

    words: str
    load: str | None
    because: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Mark:
    """The mark of an answer.

    ``share`` is 0 to 1. ``named`` are the rules whose advice was said, best first;
    ``near`` those hinted at; ``missing`` those that should have been said.
    """

    verdict: Verdict
    share: float
    named: tuple[str, ...] = ()
    near: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    dangers: tuple[Danger, ...] = ()
    refers: bool = False


class Marker:
    """Marks answers to cases of one rule book. ``profiles`` are made when not given."""

    def __init__(self, coach: Coach, profiles: Profiles | None = None) -> None:
        self.book: RuleBook = coach.book
        if self.book.study is None:
            raise LookupError("The rule folder has no hearing.yaml, so no answer can be marked.")
        self._study: Study = self.book.study
        self._coach = coach
        self.ear = Ear(self._study.hearing)
        self._opposites: dict[str, list[str]] = {}
        for a, b in self._study.hearing.opposites:
            self._opposites.setdefault(a, []).append(b)
            self._opposites.setdefault(b, []).append(a)
        made = profiles or profiles_of(self.book, self.ear)
        self._profiles, self._worth = made.of, made.worth
        self.ear.know(made.words)

    def mark(self, case: Case, told: str, answer: str) -> tuple[Mark, Advice, Outcome]:
        """Mark an answer to a case told in these words. Never raises on any text."""
        advice, outcome = self._coach.advise(case, ask=False)
        heard = self.ear.hear(answer[:4000])
        told_keys = {t.key for t in self.ear.hear(told).meaning}
        if advice.stop:
            return self._stopping(heard, advice, outcome), advice, outcome
        dangers = self._dangers(heard, advice, outcome)
        return self._advising(heard, told_keys, advice, outcome, dangers), advice, outcome

    def mark_pick(self, case: Case, rule: str) -> tuple[Mark, Advice]:
        """Mark the pick of one rule's suggestion; nothing has to be heard there."""
        advice, _ = self._coach.advise(case, ask=False)
        advised = [s.rule for s in advice.suggestions]
        safety = [r for r in advised if warns(self.book.rules[r])]
        if rule in advised:
            missing = self._missing(advised[:FIRST], safety, (rule,))
            share = 1.0 if rule == advised[0] else 0.85 if rule in advised[:FIRST] else 0.7
            if safety and rule not in safety and not advice.held_back:
                return Mark(Verdict.PARTLY, 0.4, (rule,), (), missing), advice
            return Mark(Verdict.RIGHT, share, (rule,), (), missing), advice
        missing = self._missing(advised[:FIRST], safety, ())
        cue = self.book.rules[rule].rule.suggest
        words = cue.now if cue else rule
        held = [h for h in advice.held_back if h.rule == rule]
        if advice.stop:
            stops = tuple(r for r in advised if self.book.rules[r].rule.stop)
            danger = Danger(words, None, stops)
        elif held:
            danger = Danger(words, held[0].loads[0], held[0].because)
        else:
            return Mark(Verdict.WRONG, 0.0, (), (), missing), advice
        return Mark(Verdict.UNSAFE, 0.0, (), (), missing, (danger,)), advice

    def fits(self, answer: str, told: str, rule: str) -> float:
        """How well words fit the suggestion of one rule, 0 to 1."""
        told_keys = {t.key for t in self.ear.hear(told).meaning}
        return self._strengths(self.ear.hear(answer[:4000]), told_keys).fits()[rule]

    def measures(self, case: Case, told: str, answer: str) -> Measures:
        """What of an answer is weighed."""
        advice, _ = self._coach.advise(case, ask=False)
        heard = self.ear.hear(answer[:4000])
        told_keys = {t.key for t in self.ear.hear(told).meaning}
        strengths = self._strengths(heard, told_keys)
        advised = [s.rule for s in advice.suggestions]
        return self._measures(heard, told_keys, strengths, advised)

    def _stopping(self, heard: Heard, advice: Advice, outcome: Outcome) -> Mark:
        """The climbing must stop: only that, and who looks at it, counts."""
        words = self._study.hearing
        stops, denies_stop = self._said(heard, words.stop)
        refers, denies_refer = self._said(heard, words.refer)
        goes_on, denies_going = self._said(heard, words.go_on)
        ends = bool(stops) or bool(denies_going)
        rules = tuple(s.rule for s in advice.suggestions if self.book.rules[s.rule].rule.stop)
        against = [*goes_on, *denies_stop, *denies_refer]
        if against or not (ends or refers):
            said = self._words(heard, against[0].at) if against else ""
            return Mark(Verdict.UNSAFE, 0.0, missing=rules, dangers=(Danger(said, None, rules),))
        if ends and refers:
            return Mark(Verdict.RIGHT, 1.0, named=rules, refers=True)
        if refers:
            urgent = advice.urgency == "emergency"
            verdict = Verdict.RIGHT if urgent else Verdict.PARTLY
            return Mark(verdict, 1.0 if urgent else 0.6, named=rules, refers=True)
        return Mark(Verdict.PARTLY, 0.5, near=rules, missing=rules)

    def _said(self, heard: Heard, phrases: Sequence[str]) -> tuple[list[Match], list[Match]]:
        """Matches that are recommended, and those that are advised against."""
        found = list(self.ear.find_in_order(heard, phrases))
        sure = [m for m in found if not m.perhaps]
        denied = [m for m in sure if self.ear.denied_closely(heard, m)]
        return [m for m in sure if m not in denied], denied

    def _dangers(self, heard: Heard, advice: Advice, outcome: Outcome) -> tuple[Danger, ...]:
        held = [str(v) for v in outcome.facts.get(NOT_ALLOWED, ())]
        found: list[Danger] = []
        for match in self.ear.find_in_order(heard, self._study.hearing.never):
            if not match.denied:
                found.append(Danger(self._words(heard, match.at), None, ()))
        for load in held:
            phrases = self._study.hearing.loads.get(load, ())
            for match in self.ear.find_in_order(heard, phrases):
                if not match.denied and not self.ear.put_off(heard, match):
                    found.append(
                        Danger(self._words(heard, match.at), load, self._because(outcome, load))
                    )
                    break
        return tuple(found)

    @staticmethod
    def _because(outcome: Outcome, load: str) -> tuple[str, ...]:
        return tuple(
            rule
            for rule, firings in outcome.firings.items()
            if any((NOT_ALLOWED, load) in f.concluded for f in firings)
        )

    def _advising(
        self,
        heard: Heard,
        told: Collection[str],
        advice: Advice,
        outcome: Outcome,
        dangers: tuple[Danger, ...],
    ) -> Mark:
        strengths = self._strengths(heard, told)
        fits = strengths.fits()
        scores = {s.rule: fits[s.rule] for s in advice.suggestions}
        held = {h.rule: fits[h.rule] for h in advice.held_back}
        best_held = max(held.values(), default=0.0)
        named = tuple(r for r in sorted(scores, key=lambda r: -scores[r]) if scores[r] >= NAMED)
        near = tuple(r for r in scores if NEAR <= scores[r] < NAMED)
        cues = " ".join(self._cue_words(r) for r in named if scores[r] >= WORD_FOR_WORD)
        dangers = tuple(d for d in dangers if d.words not in cues)
        if best_held >= NAMED and best_held > max(scores.values(), default=0.0):
            rule = max(held, key=lambda r: held[r])
            (found,) = (h for h in advice.held_back if h.rule == rule)
            dangers = (*dangers, Danger(heard.text.strip(), found.loads[0], found.because))
        first = [s.rule for s in advice.suggestions[:FIRST]]
        safety = [r for r in scores if warns(self.book.rules[r])]
        missing = self._missing(first, safety, named)
        if dangers:
            return Mark(Verdict.UNSAFE, 0.0, named, near, missing, dangers)
        verdict = weigh(self._measures(heard, told, strengths, list(scores)))
        if max(scores.values(), default=0.0) >= WORD_FOR_WORD and len(heard.tokens) > FEW:
            verdict = Verdict.RIGHT
        if verdict is Verdict.PARTLY and self._was_tried(heard, outcome):
            verdict = Verdict.WRONG
        if verdict is Verdict.WRONG:
            return Mark(Verdict.WRONG, 0.0, (), (), missing)
        if verdict is Verdict.PARTLY:
            return Mark(Verdict.PARTLY, 0.4 if named or near else 0.25, (), named + near, missing)
        if not named:
            named = (max(scores, key=lambda r: strengths.of[r]),)
            near = tuple(r for r in near if r not in named)
            missing = self._missing(first, safety, named)
        minds = self._minds(safety, named) or self._holds_back(heard, outcome)
        if safety and not minds and not advice.held_back:
            return Mark(Verdict.PARTLY, 0.4, named, near, missing)
        share = 1.0 if first[0] in named else 0.85 if set(first) & set(named) else 0.7
        return Mark(Verdict.RIGHT, share, named, near, missing)

    def _cue_words(self, rule: str) -> str:
        suggestion = self.book.rules[rule].rule.suggest
        return " ".join(t.word for t in self.ear.hear(suggestion.now).tokens) if suggestion else ""

    def _was_tried(self, heard: Heard, outcome: Outcome) -> bool:
        """Whether an answer says nothing but what the climber has tried already."""
        said = {t.key for t in heard.meaning}
        sentences = [fact_sentence(self.book, TRIED, v) for v in outcome.facts.get(TRIED, ())]
        tried = {t.key for s in sentences for t in self.ear.hear(s).meaning}
        return bool(said) and said <= tried

    def _measures(
        self,
        heard: Heard,
        told: Collection[str],
        strengths: _Strengths,
        advised: Sequence[str],
    ) -> Measures:
        fits = strengths.fits()
        best = max((strengths.of[r] for r in advised), default=0.0)
        most = max(strengths.of.values(), default=0.0)
        union: dict[str, float] = {}
        for rule in advised:
            for key, (weight, _) in self._profiles[rule].single.items():
                union[key] = max(union.get(key, 0.0), weight)
        topics = self._topics(heard)
        wanted = {skill for r in advised for skill in self._skills(r)}
        covered = self._covered(heard)
        said = strengths.worth
        whole = sum(said.values())
        return Measures(
            fit=max((fits[r] for r in advised), default=0.0),
            said=best,
            said_of_most=best / most if most else 0.0,
            most=most,
            shared_worth=sum(w * union.get(k, 0.0) for k, w in said.items()) / (whole or 1.0),
            shared_words=sum(union.get(k, 0.0) >= CORE for k in said) / max(1, len(said)),
            meanings=len(said),
            better=math.log1p(sum(s > best for s in strengths.of.values())),
            against=max((strengths.against[r] for r in advised), default=0.0),
            words=len(heard.tokens),
            topic=float(bool(topics & wanted)),
            other_topic=float(bool(topics - wanted)),
            other_cue=max(covered.values()) - max((covered[r] for r in advised), default=0.0),
            new=sum(k not in told for k in said),
            force=len(self._said(heard, self._study.hearing.force)[0]),
            vague=len(self._said(heard, self._study.hearing.vague)[0]),
        )

    def _covered(self, heard: Heard) -> dict[str, float]:
        """The share of each suggestion's cue that an answer says, by worth, 0 to 1."""
        said = {t.key: t.denied_by is not None for t in heard.meaning}
        found: dict[str, float] = {}
        for rule, profile in self._profiles.items():
            got = whole = 0.0
            for key, denies in profile.cue.items():
                worth = self._worth[key]
                whole += worth
                got += worth if said.get(key) is denies else 0.0
            found[rule] = got / (whole or 1.0)
        return found

    def _skills(self, rule: str) -> Sequence[str]:
        suggestion = self.book.rules[rule].rule.suggest
        return suggestion.skills if suggestion else ()

    def _topics(self, heard: Heard) -> set[str]:
        """The skills that an answer speaks of, and does not speak against."""
        skills = self._study.hearing.skills
        return {skill for skill, phrases in skills.items() if self._said(heard, phrases)[0]}

    def _minds(self, safety: Sequence[str], named: Collection[str]) -> bool:
        """Whether what was named answers the same situations as the safety advice."""
        situations = {s for r in safety for s in self.book.rules[r].rule.serves}
        return any(situations & set(self.book.rules[r].rule.serves) for r in named)

    def _holds_back(self, heard: Heard, outcome: Outcome) -> bool:
        """Whether the answer advises against a load that is held back, or says not yet."""
        words = self._study.hearing
        held = [str(v) for v in outcome.facts.get(NOT_ALLOWED, ())]
        loads = [p for load in held for p in words.loads.get(load, ())]
        return bool(self._said(heard, loads)[1] or self._said(heard, words.not_yet)[0])

    def _missing(
        self, first: Sequence[str], safety: Sequence[str], named: Collection[str]
    ) -> tuple[str, ...]:
        wanted = [*safety[:1], *first[:1]]
        return tuple(dict.fromkeys(r for r in wanted if r not in named))

    def _strengths(self, heard: Heard, told: Collection[str]) -> _Strengths:
        """How much an answer says of each suggestion of the whole rule book.

        That is the worth of the meanings they share, and of pairs of them; a meaning that
        few suggestions share is worth more. What is said the other way round counts against.
        """
        said = {t.key: t for t in heard.meaning}
        worth = {k: self._worth.get(k, 0.0) * (TOLD_BEFORE if k in told else 1.0) for k in said}
        pairs = heard.pairs()
        turned = [t for pair in pairs for t in self._turned(pair)]
        strength: dict[str, float] = {}
        against: dict[str, float] = {}
        for rule, profile in self._profiles.items():
            got = other_way = 0.0
            for key, token in said.items():
                entry = profile.single.get(key)
                if entry is not None:
                    weight, denies = entry
                    if denies == (token.denied_by is not None):
                        got += worth[key] * weight
                    else:
                        other_way += worth[key] * weight
            other_way += PAIR * sum(profile.pairs.get(pair, 0.0) for pair in turned)
            got += AGAINST * other_way
            got += PAIR * sum(profile.pairs.get(pair, 0.0) for pair in pairs)
            strength[rule], against[rule] = max(0.0, got), other_way
        return _Strengths(strength, against, worth)

    def _turned(self, pair: frozenset[str]) -> Iterator[frozenset[str]]:
        """A pair of meanings with one of them turned into its opposite: heel high, heel low."""
        for key in pair:
            for opposite in self._opposites.get(key, ()):
                if opposite not in pair:
                    yield pair - {key} | {opposite}

    @staticmethod
    def _words(heard: Heard, at: Sequence[int]) -> str:
        first, last = min(at), max(at)
        return " ".join(t.word for t in heard.tokens[first : last + 1])
