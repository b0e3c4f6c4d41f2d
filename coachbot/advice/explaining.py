"""Why, why not, and what if, read from the engine's own runs.

The kinds follow the published how / why / why-not / what-if distinctions for rule-based
systems (Scott, Clancey, Davis, Shortliffe 1977; Lim, Dey, Avrahami 2009, from memory).
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from coachbot.case import Case, Known
from coachbot.engine import Network
from coachbot.engine.model import All, Any, Condition, EngineRule, Op, Test, Value
from coachbot.engine.model import Case as EngineCase
from coachbot.knowledge.book import ReadRule, RuleBook
from coachbot.knowledge.wording import condition_sentence, fact_sentence

from .coach import Coach
from .inference import Outcome


@dataclass(frozen=True, slots=True)
class Step:
    """One link of a chain: a said fact (``rule`` None), or what a rule made of the ones before."""

    sentence: str
    words: str = ""
    rule: str | None = None
    because: str = ""
    grounds: tuple[str, ...] = ()


def why(book: RuleBook, outcome: Outcome, rule: str) -> tuple[Step, ...]:
    """The chain from the person's words to a rule that fired, each step with rule and source."""
    said, chain = outcome.rests_on(rule)
    steps = [
        Step(fact_sentence(book, k.fact, k.value, k.denied), k.words)
        for k in outcome.case.known
        if (k.fact, k.value, k.denied) in said
    ]
    for link in chain:
        read = book.rules[link]
        concluded = dict.fromkeys(c for f in outcome.firings[link] for c in f.concluded)
        text = "; ".join(fact_sentence(book, name, value) for name, value in concluded)
        if read.rule.suggest and link == rule:
            text = read.rule.suggest.now
        steps.append(Step(text, "", link, read.rule.why, grounds(book, read)))
    return tuple(steps)


def grounds(book: RuleBook, read: ReadRule) -> tuple[str, ...]:
    """What a rule rests on, in words, each with its citation."""
    shown = []
    for ground in read.rule.ground:
        source = book.sources.get(ground.key)
        if source is None:
            shown.append(f"common practice: {ground.says}")
            continue
        memory = "" if source.seen else " (from memory)"
        shown.append(f"{ground.says} ({source.cite}{memory})")
    return tuple(shown)


class Standing(StrEnum):
    """How a condition stands in a case."""

    HOLDS = "yes"
    FAILS = "no"
    OPEN = "not known yet"


@dataclass(frozen=True, slots=True)
class Verdict:
    """One condition of a rule in a case: how it stands, and what the case says instead."""

    condition: str
    standing: Standing
    here: str = ""


def why_not(book: RuleBook, outcome: Outcome, rule: str) -> tuple[Verdict, ...]:
    """Each condition of a rule as the engine finds it in this case."""
    when = book.rules[rule].when
    parts: Sequence[Condition] = when.parts if isinstance(when, All) else (when,)
    denied: dict[str, tuple[Value, ...]] = {}
    for k in outcome.case.known:
        if k.denied:
            denied[k.fact] = (*denied.get(k.fact, ()), k.value)
    facts = EngineCase(dict(outcome.facts), denied)
    rules = [EngineRule(str(i), part) for i, part in enumerate(parts)]
    with Network(rules, book.single_valued) as network:
        holding = {f.rule for f in network.run(facts).firings}
    return tuple(
        Verdict(
            condition_sentence(book, part),
            _standing(str(i) in holding, part, outcome),
            _here(book, part, outcome),
        )
        for i, part in enumerate(parts)
    )


def _standing(holds: bool, part: Condition, outcome: Outcome) -> Standing:
    if holds:
        return Standing.HOLDS
    tests = list(_tests(part))
    unknown = any(not outcome.facts.get(t.attribute) and t.op is not Op.UNKNOWN for t in tests)
    return Standing.OPEN if unknown else Standing.FAILS


def _tests(part: Condition) -> Iterator[Test]:
    if isinstance(part, All | Any):
        for inner in part.parts:
            yield from _tests(inner)
    else:
        yield part


def _here(book: RuleBook, part: Condition, outcome: Outcome) -> str:
    names = dict.fromkeys(t.attribute for t in _tests(part))
    said = [
        fact_sentence(book, name, value) for name in names for value in outcome.facts.get(name, ())
    ]
    return "; ".join(said)


@dataclass(frozen=True, slots=True)
class Difference:
    """What a supposed case changes: rules that come, go, or change place among the first three."""

    before: tuple[str, ...]
    after: tuple[str, ...]
    stop: bool

    @property
    def same(self) -> bool:
        return self.before == self.after


def what_if(
    coach: Coach, case: Case, changes: Sequence[Known], put_aside: Collection[str] = ()
) -> Difference:
    """The same run on a changed copy of the case; the case itself stays as it is."""
    now = coach.rank(coach.infer(case), put_aside)
    supposed = case.with_known(changes, coach.book.single_valued)
    then = coach.rank(coach.infer(supposed), put_aside)
    return Difference(now.first_three, then.first_three, then.stop is not None)
