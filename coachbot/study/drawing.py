"""Cases drawn from the rules by number: the same number is the same case.

The facts come from what clingo finds possible for the chosen rule; the engine's own run
then confirms the case: the rule is among the advice, and no rules disagree.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from functools import cached_property
from random import Random

from coachbot.advice import Coach
from coachbot.advice.inference import Outcome
from coachbot.advice.ranking import Ranking
from coachbot.case import Case, Known
from coachbot.engine import Network
from coachbot.engine.model import EngineRule, Value
from coachbot.knowledge.book import NOT_ALLOWED, ReadRule, RuleBook, Study

from .possible import Between, Possible
from .telling import phrases, tell

LEVELS = {
    1: "one heuristic",
    2: "two that compete",
    3: "a messy story with something to watch out for",
}
LARGEST = 999_999
_TRIED_SETS = 24
_TRIED_PARTNERS = 5
_TRIED_SINGLES = 2
_COMPETES = 0.75


@dataclass(frozen=True, slots=True)
class Drawn:
    """A case ready to be told: its number and level, the rule it is about, facts and words.

    ``beside`` is the second rule of a level 2 case, or the rule that hides the caution of
    a level 3 case. ``key`` names a pinned case.
    """

    number: int
    level: int
    rule: str | None
    beside: str | None
    case: Case
    told: str
    key: str | None = None


class Deck:
    """Draws cases from one rule book. Closing frees the engine's memory."""

    def __init__(self, coach: Coach) -> None:
        self.book: RuleBook = coach.book
        if self.book.study is None:
            raise LookupError(
                "The rule folder has no telling.yaml and hearing.yaml, so no cases can be told."
            )
        self.study: Study = self.book.study
        self._coach = coach
        self.sayable = _sayable(self.book, self.study)
        self.possible = Possible(self.book, self.sayable)
        self._apart = Network(
            [EngineRule(f"apart-{i}", when) for i, when in enumerate(self.study.apart)],
            self.book.single_valued,
        )

    def close(self) -> None:
        self._apart.close()

    @cached_property
    def rules(self) -> tuple[str, ...]:
        """The rules that give advice, in the order of their names."""
        return tuple(sorted(r.id for r in self.book.rules.values() if r.rule.suggest))

    @cached_property
    def warnings(self) -> tuple[str, ...]:
        """The rules that a hidden caution can come from."""
        return tuple(r for r in self.rules if warns(self.book.rules[r]))

    def level_of(self, number: int) -> int:
        """The level that belongs to a number: 1, 2 or 3."""
        return number % 3 + 1

    def rule_of(self, number: int) -> str:
        """The rule that belongs to a number."""
        digest = hashlib.sha256(f"coachbot case {number}".encode()).digest()
        return self.rules[int.from_bytes(digest[:8], "big") % len(self.rules)]

    def numbers_for(self, rule: str, level: int, start: int) -> Iterator[int]:
        """The numbers of cases about a rule at a level, from ``start`` on and round once."""
        first = start % LARGEST
        for step in range(LARGEST):
            number = (first + step) % LARGEST + 1
            if self.level_of(number) == level and self.rule_of(number) == rule:
                yield number

    def draw(self, number: int) -> Drawn | None:
        """The case of a number, or None when its rule has no case that can be told."""
        random = Random(f"drawn {number}")
        level, rule = self.level_of(number), self.rule_of(number)
        if level > 1 and warns(self.book.rules[rule]):
            level = 3
        for case, beside in self._cases(rule, level, random):
            wanted = {r for r in (rule, beside) if r}
            full = self._with_before(case, wanted, random)
            full = self._with_beside(full, wanted, random, 0.5 if level == 1 else 0.8)
            words = tell(self.book, self.study, full.known, number, messy=level == 3)
            return Drawn(number, level, rule, beside, full, words)
        return None

    def pinned(self, key: str, number: int) -> Drawn:
        """A case that a coach gave; the number chooses the words when none are given."""
        pinned = self.study.pinned[key]
        known: list[Known] = []
        for fact, given in pinned.facts.items():
            for text in [given] if isinstance(given, str) else given:
                value = self.book.grammar.value(fact, text.removeprefix("not "))
                known.append(Known(fact, value, denied=text.startswith("not ")))
        case = Case().with_known(known, self.book.single_valued)
        told = pinned.told or tell(self.book, self.study, case.known, number, messy=False)
        wanted = pinned.wants[0] if pinned.wants else None
        return Drawn(number, 0, wanted, None, case, told, key)

    def retold(self, drawn: Drawn, number: int) -> str:
        """The same facts in other words."""
        return tell(self.book, self.study, drawn.case.known, number, messy=drawn.level == 3)

    def _cases(self, rule: str, level: int, random: Random) -> Iterator[tuple[Case, str | None]]:
        if level == 3:
            yield from self._with_caution(rule, random)
        if level == 2:
            yield from self._competing(rule, random)
        yield from self._single(rule, random)

    def _single(self, rule: str, random: Random) -> Iterator[tuple[Case, str | None]]:
        """Cases for one rule; those in which it ranks among the first three come first."""
        later: list[Case] = []
        quiet = not warns(self.book.rules[rule])
        for case in self._realised(rule, random):
            ranking = self._confirmed(case)
            if ranking is None or (quiet and self._alarming(ranking)):
                continue
            if rule in ranking.first_three:
                yield case, None
            elif any(r.rule == rule for r in ranking.suggestions):
                later.append(case)
        for case in later:
            yield case, None

    def _competing(self, rule: str, random: Random) -> Iterator[tuple[Case, str | None]]:
        """Cases in which a second rule about another skill stands close to the first."""
        singles = [case for case, _ in self._single(rule, random)]
        for case in singles:
            ranking = self._confirmed(case)
            rival = self._rival(rule, ranking) if ranking else None
            if rival:
                yield case, rival
        partners = self._neighbours(rule, random)
        for case in singles[:_TRIED_SINGLES]:
            for partner in partners[:_TRIED_PARTNERS]:
                for more in self._realised(partner, random, 3):
                    both = self._together(case, more)
                    ranking = self._confirmed(both) if both else None
                    if not both or ranking is None or self._alarming(ranking):
                        continue
                    if {rule, partner} <= set(ranking.first_three):
                        yield both, partner

    def _with_caution(self, rule: str, random: Random) -> Iterator[tuple[Case, str | None]]:
        """Cases whose story hides something that a safety rule speaks to."""
        own_warning = warns(self.book.rules[rule])
        others = [r for r in self.rules if not warns(self.book.rules[r])]
        partners = random.sample(others if own_warning else self.warnings, k=_TRIED_PARTNERS)
        for case in self._realised(rule, random, 4):
            for partner in partners:
                for more in self._realised(partner, random, 2):
                    both = self._together(case, more)
                    outcome = self._coach.infer(both) if both else None
                    if both is None or outcome is None or not self._sound(both, outcome):
                        continue
                    if {rule, partner} <= set(outcome.firings):
                        yield both, partner

    def _neighbours(self, rule: str, random: Random) -> list[str]:
        mine = self.book.rules[rule]
        situations = set(mine.rule.serves)
        near = [
            r
            for r in self.rules
            if r != rule
            and not warns(self.book.rules[r])
            and first_skill(self.book, r) != first_skill(self.book, rule)
            and (
                self.book.rules[r].family == mine.family
                or situations & set(self.book.rules[r].rule.serves)
            )
        ]
        random.shuffle(near)
        return near

    def _rival(self, rule: str, ranking: Ranking) -> str | None:
        scores = {r.rule: r.score for r in ranking.suggestions}
        for other in ranking.first_three:
            skills = first_skill(self.book, other), first_skill(self.book, rule)
            close = min(scores[other], scores[rule]) >= _COMPETES * max(scores[other], scores[rule])
            if other != rule and skills[0] != skills[1] and close:
                return other
        return None

    def _realised(self, rule: str, random: Random, most: int = _TRIED_SETS) -> Iterator[Case]:
        """Cases from what is possible for a rule, numbers filled in, in a random order."""
        sets = self.possible.least(rule)
        for said in random.sample(sets, k=min(len(sets), most)):
            known = [
                Known(fact, self._number(fact, v, random) if isinstance(v, Between) else v)
                for fact, values in said.items()
                for v in values
            ]
            yield Case(tuple(known))

    def _number(self, fact: str, between: Between, random: Random) -> int:
        low, high = int(between.low), int(between.high)
        usual_low, usual_high = self.study.telling.usual.get(fact, (low, high))
        if max(low, usual_low) <= min(high, usual_high):
            return random.randint(int(max(low, usual_low)), int(min(high, usual_high)))
        if high < usual_low:
            return random.randint(max(low, high - (high - low) // 3), high)
        return random.randint(low, min(high, low + (high - low) // 3))

    def _together(self, a: Case, b: Case) -> Case | None:
        """Two stories as one; None when they tell different values of one fact."""
        single = self.book.single_valued
        known = list(a.known)
        for k in b.known:
            same_fact = [old for old in known if old.fact == k.fact]
            if any(old.value == k.value for old in same_fact):
                continue
            if same_fact and k.fact in single:
                return None
            known.append(k)
        return Case(tuple(known))

    def _sound(self, case: Case, outcome: Outcome) -> bool:
        return not outcome.conflicts and not self._apart.run(case.for_engine()).firings

    def _confirmed(self, case: Case) -> Ranking | None:
        """The ranking of a case, or None when its facts or its rules do not go together."""
        outcome = self._coach.infer(case)
        return self._coach.rank(outcome) if self._sound(case, outcome) else None

    def _alarming(self, ranking: Ranking) -> bool:
        return ranking.stop is not None or any(
            warns(self.book.rules[r.rule]) for r in ranking.suggestions
        )

    def _with_before(self, case: Case, wanted: Set[str], random: Random) -> Case:
        """The case with what a fact of it follows upon: where it hurts, before how."""
        for fact, before in self.study.after.items():
            if not case.values(fact) or case.settled(before) or before not in self.sayable:
                continue
            stop = self._coach.rank(self._coach.infer(case)).stop
            for value in random.sample(list(self.sayable[before]), k=len(self.sayable[before])):
                told = Case((Known(before, value), *case.known))
                outcome = self._coach.infer(told)
                same = self._coach.rank(outcome).stop == stop
                if same and wanted <= set(outcome.firings) and self._sound(told, outcome):
                    case = told
                    break
        return case

    def _with_beside(self, case: Case, wanted: Set[str], random: Random, chance: float) -> Case:
        """The case with something told besides that changes nothing in its advice."""
        free = [f for f in self.study.beside if not case.settled(f) and f in self.sayable]
        random.shuffle(free)
        before = self._coach.infer(case)
        ranking = self._coach.rank(before)
        for fact in free[:2]:
            if random.random() > chance:
                continue
            value = self._any_value(fact, random)
            told = Case((*case.known, Known(fact, value)))
            outcome = self._coach.infer(told)
            after = self._coach.rank(outcome)
            unchanged = (
                wanted <= set(outcome.firings)
                and after.first_three == ranking.first_three
                and after.stop == ranking.stop
                and outcome.facts.get(NOT_ALLOWED) == before.facts.get(NOT_ALLOWED)
            )
            if self._sound(told, outcome) and unchanged:
                case, before, ranking = told, outcome, after
        return case

    def _any_value(self, fact: str, random: Random) -> Value:
        if self.book.facts[fact].kind in {"number", "grade"}:
            low, high = self.study.telling.usual[fact]
            return random.randint(int(low), int(high))
        return random.choice(list(self.sayable[fact]))


def warns(read: ReadRule) -> bool:
    """Whether a rule is about safety: it stops the climbing, or comes before other advice."""
    return read.rule.safety or read.rule.stop is not None


def first_skill(book: RuleBook, rule: str) -> str:
    """The skill that a rule's suggestion is mostly about."""
    suggestion = book.rules[rule].rule.suggest
    return suggestion.skills[0] if suggestion else ""


def _sayable(book: RuleBook, study: Study) -> Mapping[str, Sequence[Value]]:
    """The values of each fact that have phrases."""
    found: dict[str, Sequence[Value]] = {}
    for fact, by_value in study.telling.facts.items():
        if "number" in by_value and book.facts[fact].kind in {"number", "grade"}:
            found[fact] = (0,)
        else:
            values = (book.grammar.value(fact, text) for text in by_value)
            found[fact] = [v for v in values if phrases(study, fact, v)]
    return found
