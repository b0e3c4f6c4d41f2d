"""Short answers to the open question, read for its fact first."""

from __future__ import annotations

import re
from collections.abc import Mapping

from coachbot.engine.model import Value
from coachbot.knowledge.grades import GradeLadder
from coachbot.knowledge.lemmas import lemma
from coachbot.knowledge.model import Fact

from .clauses import Words

SHORT = 8
_ASIDES = re.compile(r"\([^)]*\)")


class Answers:
    """Knows the words in which each value of a fact is offered as a choice."""

    def __init__(self, facts: Mapping[str, Fact], ladder: GradeLadder) -> None:
        self._facts = facts
        self._ladder = ladder
        self._offers: dict[str, dict[str, frozenset[str]]] = {}

    def declines(self, row: Words) -> bool:
        """Whether a short message says "don't know" or "skip"."""
        said = row.line.found.get("<decline>", ())
        weight = sum(row.line.weight)
        taken = sum(sum(row.line.weight[s:e]) for s, e in said)
        return bool(said) and weight - taken <= 3

    def yes_or_no(self, row: Words) -> bool | None:
        """What a message that begins with yes or no (in any words) says."""
        yes = [s for s, _ in row.line.found.get("<yes>", ())]
        no = [s for s, _ in row.line.found.get("<no>", ())]
        first_yes, first_no = min(yes, default=99), min(no, default=99)
        if min(first_yes, first_no) > 2:
            return None
        return first_yes < first_no

    def number(self, name: str, row: Words) -> tuple[Value, int, int] | None:
        """A number or grade for the fact, with the words that it took."""
        fact = self._facts[name]
        for q in row.quantities:
            if fact.kind == "grade":
                amount = q.to("grade") if q.kind in {"grade", "count"} else None
            elif q.kind in {"nth", "grade"}:
                continue
            else:
                amount = q.to(fact.unit)
                if amount is not None and q.kind == "count" and fact.unit == "month":
                    amount = amount if "month" in row.line.words else None
                if amount is not None and q.kind == "count" and name == "height" and amount < 3:
                    amount *= 100
            value = None if amount is None else self.fitted(fact, amount)
            if value is not None:
                words = [i for i, t in enumerate(row.token_of) if q.first <= t < q.last]
                if words:
                    return value, words[0], words[-1]
        return None

    def fitted(self, fact: Fact, amount: float) -> int | float | None:
        """The amount as the engine takes it, or None when it is out of the declared range."""
        amount = round(amount, 2)
        if fact.kind == "grade":
            return int(amount) if 0 <= amount < len(self._ladder.steps) else None
        if not (fact.low or 0) <= amount <= (fact.high or 0):
            return None
        return fact.counted(amount)

    def offered(self, name: str, row: Words) -> list[tuple[str, int, int]]:
        """Values whose own words as a choice are met, the best only, with the words taken."""
        offers = self._offers.setdefault(name, _offers(self._facts[name]))
        small = {w for w, c in zip(row.line.words, row.line.weight, strict=True) if c == 0}
        said = {w: i for i, w in enumerate(row.line.words) if w not in small or len(w) > 3}
        best: list[tuple[str, int, int]] = []
        most = 0
        for value, words in offers.items():
            shared = [said[w] for w in words if w in said]
            if shared and len(shared) >= max(most, 1):
                if len(shared) > most:
                    best, most = [], len(shared)
                best.append((value, min(shared), max(shared)))
        return best


def _offers(fact: Fact) -> dict[str, frozenset[str]]:
    """Telling words of each value: those of its name and its line that no other value has."""
    bags = {}
    for value, entry in fact.values.items():
        words = re.findall(
            r"[a-z]+", f"{value.replace('_', ' ')} {_ASIDES.sub('', entry.say)}".lower()
        )
        bags[value] = {lemma(w) for w in words if len(w) > 2}
    return {
        value: frozenset(w for w in bag if sum(w in other for other in bags.values()) == 1)
        for value, bag in bags.items()
    }
