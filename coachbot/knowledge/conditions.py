"""Conditions and conclusions as a coach writes them: ``wall_angle is at least 30``.

The sentences are ``<fact> is <value>``, ``is not <value>``, ``is at least <number>``,
``is at most <number>``, ``is one of <a>, <b>``, ``is known`` and ``is unknown``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any as Anything

from coachbot.engine.model import All, Any, Condition, Op, Test, Value

from .grades import GradeLadder
from .model import Fact
from .problems import nearest

_SENTENCE = re.compile(r"^(?P<fact>\S+) is (?:(?P<op>not|at least|at most|one of) )?(?P<value>.+)$")
MOST_SHOWN = 15
_FORMS = '"fact is value", "is not", "is at least", "is at most", "is one of a, b", "is known"'


def told(value: Value) -> str:
    """A value as a coach writes it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def sentence(when: Condition) -> str:
    """A condition as a coach writes it, groups in brackets."""
    if isinstance(when, All | Any):
        word = " and " if isinstance(when, All) else " or "
        return f"({word.join(sentence(p) for p in when.parts)})"
    if when.value is None:
        return f"{when.attribute} {when.op.value}"
    values = when.value if isinstance(when.value, tuple) else (when.value,)
    return f"{when.attribute} {when.op.value} {', '.join(told(v) for v in values)}"


class Unreadable(ValueError):
    """A sentence that cannot be read; the message says why and what is allowed."""


class Grammar:
    """Reads sentences against a vocabulary and a grade ladder."""

    def __init__(self, facts: Mapping[str, Fact], ladder: GradeLadder) -> None:
        self.facts = facts
        self._ladder = ladder

    def condition(self, part: Anything) -> Condition:
        """A sentence, or a mapping with the one key ``any`` or ``all`` over sentences."""
        if isinstance(part, str):
            return self.test(part)
        ((key, parts),) = part.items()
        if key not in {"any", "all"}:
            raise Unreadable(f'a group is "any" or "all", not "{key}"')
        inner = tuple(self.condition(p) for p in parts)
        return Any(inner) if key == "any" else All(inner)

    def test(self, sentence: str) -> Test:
        """One test; raises Unreadable."""
        name, op, text = self._split(sentence)
        fact = self._fact(name)
        if op is None and text in {"known", "unknown"}:
            return Test(name, Op.KNOWN if text == "known" else Op.UNKNOWN)
        if op in {"at least", "at most"}:
            if fact.kind not in {"number", "grade"}:
                raise Unreadable(f'"{name}" is no number, so it has no "{op}"')
            bound = Op.AT_LEAST if op == "at least" else Op.AT_MOST
            return Test(name, bound, self.value(name, text))
        if op == "one of":
            values = tuple(self.value(name, v) for v in re.split(r",\s*|\s+or\s+", text) if v)
            return Test(name, Op.ONE_OF, values)
        value = self.value(name, text)
        return Test(name, Op.NOT_EQUAL if op == "not" else Op.EQUAL, value)

    def conclusion(self, sentence: str) -> tuple[str, Value]:
        """The fact and the value that a ``then`` sentence concludes; raises Unreadable."""
        name, op, text = self._split(sentence)
        if op is not None:
            raise Unreadable(f'a conclusion is "fact is value", not "is {op}"')
        if not self._fact(name).concluded:
            raise Unreadable(f'"{name}" is not declared "concluded: yes", so no rule may make it')
        return name, self.value(name, text)

    def copied(self, sentence: str) -> tuple[str, str, tuple[Value, ...]] | None:
        """Read ``<fact> is the same as <fact>``: both facts and the values that they share.

        None when the sentence has another form; raises Unreadable.
        """
        name, _, origin = sentence.partition(" is the same as ")
        if not origin:
            return None
        fact, source = self._fact(name), self._fact(origin.strip())
        if not fact.concluded:
            raise Unreadable(f'"{name}" is not declared "concluded: yes", so no rule may make it')
        shared = tuple(v for v in source.values if v in fact.values)
        if not shared:
            raise Unreadable(f'"{name}" and "{origin}" share no value')
        return name, origin.strip(), shared

    def value(self, name: str, text: str) -> Value:
        """A value of the fact from text, by the fact's kind; raises Unreadable."""
        fact = self._fact(name)
        text = text.strip()
        if fact.kind in {"choice", "several"}:
            if text not in fact.values:
                names = list(fact.values)
                more = f", … ({len(names)} in all)" if len(names) > MOST_SHOWN else ""
                allowed = ", ".join(names[:MOST_SHOWN]) + more
                raise Unreadable(
                    f'"{text}" is no value of "{name}".{nearest(text, fact.values)}'
                    f" Allowed: {allowed}"
                )
            return text
        if fact.kind == "yes-no":
            if text not in {"yes", "no"}:
                raise Unreadable(f'"{name}" takes yes or no, not "{text}"')
            return text == "yes"
        if fact.kind == "grade":
            order = self._ladder.order(text)
            if order is None:
                raise Unreadable(f'"{text}" is no grade of either scale, such as V4 or 6B')
            return order
        number, _, unit = text.partition(" ")
        try:
            amount = float(number)
        except ValueError:
            raise Unreadable(f'"{name}" takes a number in {fact.unit}, not "{text}"') from None
        if unit and unit.rstrip("s") != (fact.unit or "").rstrip("s"):
            raise Unreadable(f'"{name}" is counted in {fact.unit}, not "{unit}"')
        if not (fact.low or 0) <= amount <= (fact.high or 0):
            raise Unreadable(f'"{name}" runs from {fact.low:g} to {fact.high:g}, not {amount:g}')
        return int(amount) if amount.is_integer() else amount

    def _split(self, sentence: str) -> tuple[str, str | None, str]:
        found = _SENTENCE.match(" ".join(sentence.split()))
        if not found:
            raise Unreadable(f'"{sentence}" is not a condition. Write {_FORMS}')
        return found["fact"], found["op"], found["value"]

    def _fact(self, name: str) -> Fact:
        fact = self.facts.get(name)
        if fact is None:
            raise Unreadable(
                f'unknown fact "{name}".{nearest(name, self.facts)}'
                " Facts are declared in vocabulary/"
            )
        return fact
