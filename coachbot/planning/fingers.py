"""Hang training by the dose that the rules allow."""

from __future__ import annotations

from coachbot.knowledge.model import HangDoses, Range

from .limits import Limits
from .model import Hangs, Span


def hangs(
    doses: HangDoses, dose: str, age: float | None, history: str | None, held: Limits
) -> Hangs:
    """The hangs of a dose (``none``, ``light`` or ``full``).

    Under the lowest age, or with hang training held back, the dose is none whatever else
    was said. Weight is added only to a full dose, with the history that it needs, and
    when added weight is not held back.
    """
    young = age is not None and age < doses.not_under_age
    if held.blocks("finger_load"):
        return Hangs(how=doses.hurt.how, dose="none")
    if young or held.blocks("hang_training") or dose == "none":
        return Hangs(how=doses.none.how, dose="none")
    chosen = doses.full if dose == "full" else doses.light
    if chosen.hangs is None or chosen.seconds is None or chosen.rest_seconds is None:
        raise ValueError(f'the hang dose "{dose}" has no hangs, seconds or rest')
    kg: tuple[float, ...] = ()
    weighted = dose == "full" and history == doses.weight.needs_history
    if weighted and not held.blocks("added_weight"):
        kg = added_weight(doses.weight.kg_a_week, chosen.weeks)
    return Hangs(
        how=chosen.how,
        dose="full" if dose == "full" else "light",
        hangs=_span(chosen.hangs),
        seconds=chosen.seconds,
        rest_seconds=_span(chosen.rest_seconds),
        percent=_span(chosen.percent) if chosen.percent else None,
        times_a_week=chosen.times_a_week,
        weeks=chosen.weeks,
        total_minutes=Span(
            low=_minutes(chosen.hangs.low, chosen.seconds, chosen.rest_seconds.low),
            high=_minutes(chosen.hangs.high, chosen.seconds, chosen.rest_seconds.high),
        ),
        apart_hours=doses.apart_hours,
        kg_by_week=kg,
        weight_how=doses.weight.how.format(kg=f"{doses.weight.kg_a_week:g}") if kg else None,
    )


def added_weight(kg_a_week: float, weeks: int) -> tuple[float, ...]:
    """The weight of each week in kg; the first week adds none."""
    return tuple(kg_a_week * n for n in range(weeks))


def _span(dose: Range) -> Span:
    return Span(low=dose.low, high=dose.high)


def _minutes(hangs: float, seconds: float, rest: float) -> float:
    return (hangs * seconds + (hangs - 1) * rest) / 60
