"""Rest after hard work."""

from __future__ import annotations

from coachbot.knowledge.model import RestDose

from .model import RestRow, Rests, Span


def rest_for(doses: RestDose, seconds: float) -> Span:
    """Seconds of rest after ``seconds`` of hard work.

    The band is the last one that begins at or below the work, so a work time that falls
    between two bands of the table gets the longer rest of the two.
    """
    if seconds <= 0:
        raise ValueError(f"the work lasts longer than {seconds:g} s")
    band = doses.bands[0]
    for other in doses.bands:
        if other.seconds.low <= seconds:
            band = other
    times = band.rest_for_work
    return Span(low=seconds * times.low, high=seconds * times.high)


def rests(doses: RestDose) -> Rests:
    """The rest for each kind of try."""
    return Rests(
        rows=tuple(
            RestRow(
                effort=e.effort,
                minutes=Span(low=e.minutes.low, high=e.minutes.high),
                table_seconds=rest_for(doses, e.seconds),
            )
            for e in doses.efforts
        )
    )
