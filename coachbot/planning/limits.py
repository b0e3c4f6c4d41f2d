"""What must stay out of a plan for this climber, and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from coachbot.engine.model import Value
from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.model import Doses

Facts = Mapping[str, tuple[Value, ...]]

ALL = "climbing"


def first(facts: Facts, name: str) -> Value | None:
    """The only value of a fact, or None."""
    values = facts.get(name, ())
    return values[0] if values else None


def number(facts: Facts, name: str) -> float | None:
    """The value of a number or grade fact, or None."""
    value = first(facts, name)
    return value if isinstance(value, int | float) and not isinstance(value, bool) else None


def texts(facts: Facts, name: str) -> frozenset[str]:
    """The values of a choice or several-valued fact."""
    return frozenset(v for v in facts.get(name, ()) if isinstance(v, str))


@dataclass(frozen=True, slots=True)
class Limits:
    """The loads held back with the reason for each; ``stop`` when nothing may be trained."""

    held: Mapping[str, str]
    stop: str | None
    stage: str | None

    def blocks(self, *loads: str) -> str | None:
        """The first of the loads that is held back, or None."""
        return next((load for load in loads if load in self.held), None)


def limits(book: RuleBook, doses: Doses, facts: Facts) -> Limits:
    """Read them from the facts of a run.

    The rules conclude what is not allowed. Age, an alarm, a warning sign and pain count here
    too, so that a plan stays safe when a coach's folder has switched a rule off.
    """
    age = number(facts, "age")
    stage = next(iter(texts(facts, "stage")), None)
    held: dict[str, str] = {}
    if age is not None and age < doses.hangs.not_under_age:
        for load in ("hang_training", "added_weight"):
            held[load] = f"none under {doses.hangs.not_under_age} (age {age:g})"
    if age is not None and age < doses.campus.not_under_age:
        held["campus"] = f"none under {doses.campus.not_under_age} (age {age:g})"
    pains = texts(facts, "pain_place") - {"skin"}
    stop = _stop(book, facts)
    hurts = True in facts.get("hurts", ()) and not texts(facts, "pain_place")
    if pains or hurts:
        shown = ", ".join(_say(book, "pain_place", p) for p in sorted(pains)) or "place not said"
        for load in ("hard_climbing", "finger_load", "hang_training", "added_weight", "campus"):
            held.setdefault(load, f"something hurts ({shown})")
    for load in sorted(texts(facts, "not_allowed")):
        held.setdefault(load, "a safety rule holds it back for now")
    return Limits(held, stop, stage)


def _stop(book: RuleBook, facts: Facts) -> str | None:
    for name in ("alarm", "pain_sign"):
        signs = texts(facts, name)
        if signs:
            shown = ", ".join(_say(book, name, s) for s in sorted(signs))
            return f"No training plan now, because of this: {shown}."
    if ALL in texts(facts, "not_allowed"):
        return "No training plan now: a safety rule says stop."
    return None


def _say(book: RuleBook, fact: str, value: str) -> str:
    declared = book.facts.get(fact)
    if declared is None or value not in declared.values:
        return value.replace("_", " ")
    return declared.values[value].say
