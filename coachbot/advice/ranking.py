"""How suggestions are ranked, and what safety holds back.

score = strength x sure x (1 - 0.3^n) x what the talk showed

``strength`` and ``sure`` stand in the rule; n is the number of different facts, said by the
person, on which the rule's firing rests; what the talk showed is 1, or less after "tried
that" (see TRIED). Of two suggestions about the same first skill the later one counts
SAME_SKILL of its score, so that the second way is another way. Stops come before all, and
an emergency is told alone;
safety advice before ordinary advice. A suggestion with less than FAINT of the best score
of its tier is left out.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass

from coachbot.engine.model import Value
from coachbot.knowledge.book import NOT_ALLOWED, ReadRule, RuleBook

from .inference import Outcome, SaidFact

SAME_SKILL = 0.85
TRIED = 0.5
UNSAID = 0.3
FAINT = 0.35
MOST = 6
TIERS = ("stop", "safety", "ordinary")

FORMULA = (
    "score = strength x sure x (1 - 0.3^n), where n counts the facts you told me that the"
    " advice rests on. A skill that you have tried already counts half; a second suggestion"
    " about the same skill counts 0.85. Stops come first, then safety, then the rest."
)


@dataclass(frozen=True, slots=True)
class Ranked:
    """One suggestion in its place: tier 0 is a stop, 1 safety, 2 ordinary."""

    rule: str
    tier: int
    score: float
    facts: frozenset[SaidFact]
    chain: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Ranking:
    """The suggestions in order, and those held back with the loads that are not allowed."""

    suggestions: tuple[Ranked, ...]
    held_back: tuple[tuple[str, tuple[str, ...]], ...]
    stop: str | None

    @property
    def first_three(self) -> tuple[str, ...]:
        return tuple(r.rule for r in self.suggestions[:3])


def rank(
    book: RuleBook,
    outcome: Outcome,
    put_aside: Collection[str] = (),
    used_skills: Collection[str] = (),
) -> Ranking:
    """Rank what fired. ``put_aside`` rules were tried without help or cannot be done."""
    fired = [book.rules[r] for r in outcome.firings if book.rules[r].rule.suggest]
    stops = [r.rule.stop for r in fired if r.rule.stop]
    stop = "emergency" if "emergency" in stops else (stops[0] if stops else None)
    alone = any(book.rules[r].rule.alone for r in outcome.firings)
    not_allowed = frozenset(outcome.facts.get(NOT_ALLOWED, ()))
    tried = frozenset(used_skills) | skills_tried(book, outcome.facts)
    scored: list[Ranked] = []
    held: list[tuple[str, tuple[str, ...]]] = []
    for read in fired:
        tier = _tier(read)
        if (stop and tier) or (alone and tier == 2) or read.id in put_aside:
            continue
        # Somebody who must not be moved is not sent off to be examined in the same breath.
        if stop == "emergency" and read.rule.stop != stop:
            continue
        suggestion = read.rule.suggest
        assert suggestion is not None
        blocked = tuple(load for load in suggestion.loads if load in not_allowed)
        if blocked:
            held.append((read.id, blocked))
            continue
        facts, chain = outcome.rests_on(read.id)
        score = suggestion.strength * suggestion.sure * (1 - UNSAID ** len(facts))
        if tier == 2 and suggestion.skills[0] in tried:
            score *= TRIED
        scored.append(Ranked(read.id, tier, score, facts, chain))
    return Ranking(tuple(_in_order(scored, lambda r: _first_skill(book, r))), tuple(held), stop)


def skills_tried(book: RuleBook, facts: Mapping[str, tuple[Value, ...]]) -> frozenset[str]:
    """The skills that the climber says were tried, by the vocabulary's ``skill`` of a value."""
    declared = book.facts["tried"].values if "tried" in book.facts else {}
    skills = (declared[str(v)].skill for v in facts.get("tried", ()) if str(v) in declared)
    return frozenset(s for s in skills if s)


def _tier(read: ReadRule) -> int:
    return 0 if read.rule.stop else 1 if read.rule.safety else 2


def _first_skill(book: RuleBook, ranked: Ranked) -> str:
    suggestion = book.rules[ranked.rule].rule.suggest
    return suggestion.skills[0] if suggestion else ""


def _in_order(scored: list[Ranked], skill_of: Callable[[Ranked], str]) -> list[Ranked]:
    """Greedy: the best next one, a skill that stands already counting less."""
    best_of_tier: dict[int, float] = {}
    for r in scored:
        best_of_tier[r.tier] = max(r.score, best_of_tier.get(r.tier, 0.0))
    left = [r for r in scored if r.score >= FAINT * best_of_tier[r.tier]]
    taken: list[Ranked] = []
    skills: set[str] = set()
    while left and len(taken) < MOST:

        def worth(r: Ranked) -> tuple[int, float, str]:
            damped = SAME_SKILL if r.tier == 2 and skill_of(r) in skills else 1.0
            return (-r.tier, r.score * damped, r.rule)

        best = max(left, key=worth)
        damped = worth(best)[1]
        taken.append(Ranked(best.rule, best.tier, damped, best.facts, best.chain))
        skills.add(skill_of(best))
        left.remove(best)
    return taken
