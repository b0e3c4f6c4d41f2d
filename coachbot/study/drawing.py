"""Cases drawn from the rules by number: the same number is the same case.

The facts are sampled exactly, from all that is possible together by the rules; the engine's
own run then confirms the case: the rule fires, and no rules disagree.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from functools import cached_property
from random import Random

from coachbot.advice import Coach
from coachbot.advice.inference import Outcome
from coachbot.case import Case, Known
from coachbot.engine import Network
from coachbot.engine.model import EngineRule, Value
from coachbot.knowledge.book import NOT_ALLOWED, ReadRule, RuleBook, Study

from .sampling import Sampler
from .telling import TROUBLE, phrases, tell

LEVELS = {
    1: "one heuristic",
    2: "two that compete",
    3: "a messy story with something to watch out for",
}
LARGEST = 999_999
_TRIED_SETS = 3
_TRIED_PARTNERS = 4
_TRIED_RIVALS, _TRIED_BEHIND = 6, 4
_TRIED_WARNINGS = 3
_LOOKED_AT = 20


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
        self.sampler = Sampler(self.book, self.study, self.sayable)
        self._quiet = self.sampler.none_of(map(self.book.rules.__getitem__, self.warnings))
        self._stuck = self.sampler.any_said([TROUBLE])
        self._about = self.sampler.any_said(self.study.about)
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

    @cached_property
    def _calm(self) -> tuple[str, ...]:
        """The rules that give advice and do not warn."""
        return tuple(r for r in self.rules if not warns(self.book.rules[r]))

    def rule_of(self, number: int) -> str:
        """The rule that belongs to a number, one that suits its level.

        A rule that warns makes every story one with something to watch out for: it has
        numbers of level 3 only, and half of those.
        """
        digest = hashlib.sha256(f"coachbot case {number}".encode()).digest()
        about_safety = self.level_of(number) == 3 and digest[8] % 2 == 0
        rules = (about_safety and self.warnings) or self._calm or self.rules
        return rules[int.from_bytes(digest[:8], "big") % len(rules)]

    def levels_for(self, rule: str) -> tuple[int, ...]:
        """The levels whose numbers can belong to a rule."""
        return (1, 2, 3) if rule in self._calm or not self._calm else (3,)

    def numbers_for(self, rule: str, level: int, start: int) -> Iterator[int]:
        """The numbers of cases about a rule at a level, from ``start`` on and round once.

        There are none when the level does not suit the rule.
        """
        first = start % LARGEST
        for step in range(LARGEST if level in self.levels_for(rule) else 0):
            number = (first + step) % LARGEST + 1
            if self.level_of(number) == level and self.rule_of(number) == rule:
                yield number

    def draw(self, number: int) -> Drawn:
        """The case of a number: possible by the rules, and confirmed by the engine's own run.

        A rule for which nothing can be told leaves its number to the next rule that has a case.
        """
        random = Random(f"drawn {number}")
        for rule in self._from(self.rule_of(number)):
            for level, case, beside in self._cases(rule, self.level_of(number), random):
                wanted = {r for r in (rule, beside) if r}
                full = self._with_before(case, wanted, random)
                full = self._with_beside(full, wanted, random, 0.5 if level == 1 else 0.8)
                words = tell(self.book, self.study, full.known, number, messy=level == 3)
                return Drawn(number, level, rule, beside, full, words)
        raise LookupError("No rule of this rule folder has a case that can be told.")

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

    def _from(self, rule: str) -> Iterator[str]:
        """The rules in order, from one on and round."""
        first = self.rules.index(rule)
        yield from (*self.rules[first:], *self.rules[:first])

    def _cases(
        self, rule: str, level: int, random: Random
    ) -> Iterator[tuple[int, Case, str | None]]:
        """Confirmed cases about a rule with their level, best first; any level may lack one."""
        quiet = self.sampler.possible([self.sampler.advised(rule), self._quiet])
        if quiet and level == 2:
            for case, rival in self._competing(rule, random):
                yield 2, case, rival
        if not quiet or level == 3:
            for case, partner in self._with_caution(rule, random):
                yield 3, case, partner
        goals = [[self.sampler.advised(rule)], [self.sampler.fired(rule)]]
        if quiet:
            for case in self._single(rule, random):
                yield 1, case, None
        for goal in goals:
            sampled = self.sampler.sample(goal, random)
            if sampled is not None and (outcome := self._confirmed(sampled, {rule})):
                level, beside = self._level_as_it_is(rule, outcome)
                yield level, sampled, beside

    def _level_as_it_is(self, rule: str, outcome: Outcome) -> tuple[int, str | None]:
        """The level of a case that was not drawn for one, and what stands beside its rule."""
        warned = [r for r in self.warnings if r in outcome.firings]
        others = [r for r in warned if r != rule]
        return (3, others[0]) if others else (1, None)

    def _single(self, rule: str, random: Random) -> Iterator[Case]:
        """Cases for one rule without any warning; the rule among the first three comes first.

        A story should say what goes wrong or what is wanted; where a least case does not,
        facts of another rule for the same situation are told with it.
        """
        goal = [self.sampler.advised(rule), self._quiet]
        later: list[Case] = []
        for _ in range(_TRIED_SETS):
            case = self.sampler.sample(goal, random)
            if case is None:
                return
            whole = case if self._says_why(case) else self._with_reason(rule, goal, random) or case
            for told in dict.fromkeys((whole, case)):
                outcome = self._confirmed(told, {rule})
                if outcome and rule in self._coach.rank(outcome).first_three:
                    yield told
                elif outcome:
                    later.append(told)
        yield from later

    def _says_why(self, case: Case) -> bool:
        return any(k.fact in self.study.about for k in case.known)

    def _with_reason(self, rule: str, goal: Sequence[int], random: Random) -> Case | None:
        """A case that also says what goes wrong, as another rule for the situation reads it."""
        serves = set(self.book.rules[rule].rule.serves)
        partners = [
            r for r in self.rules if r != rule and serves & set(self.book.rules[r].rule.serves)
        ]
        for partner in random.sample(partners, k=min(len(partners), _TRIED_PARTNERS)):
            case = self.sampler.sample([*goal, self.sampler.fired(partner), self._stuck], random)
            if case is not None:
                return case
        return None

    def _competing(self, rule: str, random: Random) -> Iterator[tuple[Case, str]]:
        """Cases in which a second rule about another skill is among the first three too."""
        both = [self.sampler.advised(rule), self._quiet]
        tried = behind = 0
        for rival in self._neighbours(rule, random)[:_LOOKED_AT]:
            case = self._told_best([*both, self.sampler.advised(rival)], random)
            if case is None:
                continue
            outcome = self._confirmed(case, {rule, rival})
            first = self._coach.rank(outcome).first_three if outcome else ()
            if {rule, rival} <= set(first):
                yield case, rival
            tried += 1
            behind += rule not in first
            if tried == _TRIED_RIVALS or behind == _TRIED_BEHIND:
                return

    def _told_best(self, goal: Sequence[int], random: Random) -> Case | None:
        """A case that says what goes wrong if it can, else what is wanted, else anything."""
        if not self.sampler.possible(goal):
            return None
        for more in ([self._stuck], [self._about], []):
            case = self.sampler.sample([*goal, *more], random)
            if case is not None:
                return case
        return None

    def _with_caution(self, rule: str, random: Random) -> Iterator[tuple[Case, str]]:
        """Cases whose story hides something that a safety rule speaks to."""
        own_warning = warns(self.book.rules[rule])
        others = [r for r in self.rules if not warns(self.book.rules[r])]
        partners = random.sample(others if own_warning else self.warnings, k=_TRIED_WARNINGS)
        for partner in partners:
            goal = [self.sampler.fired(rule), self.sampler.fired(partner)]
            case = self._told_best(goal, random)
            if case is not None and self._confirmed(case, {rule, partner}):
                yield case, partner
        if not own_warning:
            sampled = self.sampler.sample([self.sampler.advised(rule)], random)
            outcome = self._confirmed(sampled, {rule}) if sampled else None
            if sampled and outcome:
                level, beside = self._level_as_it_is(rule, outcome)
                if level == 3 and beside:
                    yield sampled, beside

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

    def _sound(self, case: Case, outcome: Outcome) -> bool:
        return not outcome.conflicts and not self._apart.run(case.for_engine()).firings

    def _confirmed(self, case: Case, wanted: Set[str]) -> Outcome | None:
        """The engine's own run of a case, when these rules fire and no facts or rules clash."""
        outcome = self._coach.infer(case)
        return outcome if wanted <= set(outcome.firings) and self._sound(case, outcome) else None

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
        free = [
            f
            for f in self.study.beside
            if not case.settled(f)
            and f in self.sayable
            and (self.book.facts[f].about == "climber" or case.settled(TROUBLE))
        ]
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
            return self.sampler.usual_number(fact, random)
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
