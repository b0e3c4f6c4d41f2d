"""Circuits for power endurance and long laps for local endurance."""

from __future__ import annotations

from coachbot.knowledge.grades import GradeLadder
from coachbot.knowledge.model import CircuitDose, EnduranceDose, Range

from .grading import shifted
from .model import Circuit, Endurance, Span


def flash_grade(dose: CircuitDose, ladder: GradeLadder, usual: int) -> int:
    """The flash level, supposed to lie a set number of grades under the usual grade."""
    return shifted(ladder, usual, -dose.usual_above_flash)


def circuit(dose: CircuitDose, ladder: GradeLadder, flash: int | None) -> Circuit:
    """A circuit for a flash level (an order on the ladder), or in words when it is unknown.

    Work is moves times seconds a move, rest is a fixed multiple of it; the last set has none.
    """
    up, down = dose.unknown_up, dose.unknown_down
    if flash is not None:
        up = ladder.name(shifted(ladder, flash, -dose.up_below_flash))
        down = ladder.name(shifted(ladder, flash, -dose.down_below_flash))
    work = _times(dose.moves, dose.seconds_a_move)
    rest = Span(low=work.low * dose.rest_for_work, high=work.high * dose.rest_for_work)
    return Circuit(
        how=dose.how.format(up=up, down=down),
        up=up,
        down=down,
        legs=tuple(up if leg == "up" else down for leg in dose.legs),
        moves=_span(dose.moves),
        sets=_span(dose.sets),
        work_seconds=work,
        rest_seconds=rest,
        total_minutes=_total(dose.sets, work, rest, 60),
    )


def sets_in(dose: CircuitDose, minutes: float) -> int:
    """How many sets of the fewest moves fit into ``minutes``, at most the highest number."""
    second = (dose.seconds_a_move.low + dose.seconds_a_move.high) / 2
    work = dose.moves.low * second
    rest = work * dose.rest_for_work
    return min(int((minutes * 60 + rest) // (work + rest)), int(dose.sets.high))


def endurance(dose: EnduranceDose, ladder: GradeLadder, usual: int | None) -> Endurance:
    """Long easy laps under a usual grade (an order), or in words when it is unknown."""
    grade = dose.unknown_grade
    if usual is not None:
        grade = ladder.name(shifted(ladder, usual, -dose.below_usual))
    lap = _span(dose.lap_minutes)
    rest = Span(low=lap.low * dose.rest_for_work, high=lap.high * dose.rest_for_work)
    fast, slow = dose.seconds_a_move.low, dose.seconds_a_move.high
    return Endurance(
        how=dose.how.format(grade=grade),
        grade=grade,
        laps=_span(dose.laps),
        lap_minutes=lap,
        rest_minutes=rest,
        moves=Span(low=lap.low * 60 // slow, high=lap.high * 60 // fast),
        total_minutes=_total(dose.laps, lap, rest, 1),
    )


def _span(dose: Range) -> Span:
    return Span(low=dose.low, high=dose.high)


def _times(a: Range, b: Range) -> Span:
    return Span(low=a.low * b.low, high=a.high * b.high)


def _total(rounds: Range, work: Span, rest: Span, unit: float) -> Span:
    def whole(n: float, w: float, r: float) -> float:
        return (n * w + (n - 1) * r) / unit

    return Span(
        low=whole(rounds.low, work.low, rest.low),
        high=whole(rounds.high, work.high, rest.high),
    )
