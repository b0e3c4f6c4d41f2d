"""One run of the engine over the rule book, and what each firing rests on.

Explanations read this record and nothing else: no condition is evaluated twice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from coachbot.case import Case
from coachbot.engine import Network
from coachbot.engine.model import Conflict, EngineRule, Firing, Op, Value
from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.conditions import told

ASK = "ask:"
SaidFact = tuple[str, Value, bool]


@dataclass(frozen=True)
class Outcome:
    """The firings of one case by rule id, the facts that hold, and what can be asked."""

    case: Case
    firings: Mapping[str, tuple[Firing, ...]]
    facts: Mapping[str, tuple[Value, ...]]
    conflicts: tuple[Conflict, ...]
    askable: tuple[str, ...]

    @cached_property
    def _made_by(self) -> Mapping[tuple[str, Value], str]:
        made: dict[tuple[str, Value], str] = {}
        for rule, firings in self.firings.items():
            for firing in firings:
                for fact, value in firing.concluded:
                    made.setdefault((fact, value), rule)
        return made

    @cached_property
    def _said(self) -> Mapping[str, tuple[tuple[Value, bool], ...]]:
        said: dict[str, tuple[tuple[Value, bool], ...]] = {}
        for k in self.case.known:
            said[k.fact] = (*said.get(k.fact, ()), (k.value, k.denied))
        return said

    def maker(self, fact: str, value: Value) -> str | None:
        """The rule that first concluded a value, or None when it was said."""
        if (value, False) in self._said.get(fact, ()):
            return None
        return self._made_by.get((fact, value))

    def rests_on(self, rule: str) -> tuple[frozenset[SaidFact], tuple[str, ...]]:
        """The said facts behind a firing, and the chain of rules that leads to it, first first."""
        cache: dict[str, tuple[frozenset[SaidFact], tuple[str, ...]]] = self.__dict__.setdefault(
            "_rests", {}
        )
        if rule in cache:
            return cache[rule]
        said: set[SaidFact] = set()
        chain: dict[str, None] = {}
        for firing in self.firings.get(rule, ()):
            for matched in firing.matched:
                fact = matched.test.attribute
                if matched.test.op is Op.NOT_EQUAL and not matched.values:
                    said.add((fact, matched.test.value, True))  # type: ignore[arg-type]
                for value in matched.values:
                    maker = self.maker(fact, value)
                    if maker is None:
                        said.add((fact, value, False))
                        continue
                    below, links = self.rests_on(maker)
                    said |= below
                    chain |= dict.fromkeys(links)
        chain[rule] = None
        cache[rule] = (frozenset(said), tuple(chain))
        return cache[rule]


class Inference:
    """A rule book ready to run. Closing frees the engine's memory."""

    def __init__(self, book: RuleBook) -> None:
        self._book = book
        rules = [e for rule in book.rules.values() for e in rule.for_engine()]
        rules += [
            EngineRule(ASK + name, book.ask_when[name])
            for name, fact in book.facts.items()
            if fact.asked
        ]
        self._network = Network(rules, book.single_valued)

    def run(self, case: Case) -> Outcome:
        """Fire every rule that holds in the case."""
        run = self._network.run(case.for_engine())
        firings: dict[str, tuple[Firing, ...]] = {}
        askable: list[str] = []
        for firing in run.firings:
            if firing.rule.startswith(ASK):
                askable.append(firing.rule.removeprefix(ASK))
                continue
            rule = firing.rule.partition("@")[0]
            firings[rule] = (*firings.get(rule, ()), firing)
        return Outcome(case, firings, run.facts, run.conflicts, tuple(askable))

    def close(self) -> None:
        self._network.close()


def said_in_words(fact: SaidFact) -> str:
    """A said fact in the coach's own form: ``wall is slab``."""
    name, value, denied = fact
    return f"{name} is {'not ' if denied else ''}{told(value)}"
