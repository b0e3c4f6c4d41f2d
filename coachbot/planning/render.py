"""A plan as plain text, 80 columns wide, without colour."""

from __future__ import annotations

from textwrap import fill

from .model import (
    Block,
    Circuit,
    Endurance,
    Grades,
    Hangs,
    Plan,
    Rests,
    Session,
    Span,
    WarmUp,
    Week,
)
from .week import DAY_NAMES

WIDTH = 80


def render(plan: Plan, sources: bool = False, begins: int = 0) -> str:
    """The plan as lines of at most 80 columns.

    ``sources`` adds what the numbers rest on. ``begins`` is the start of a session in
    minutes after midnight; without it the clock starts at 0:00.
    """
    lines = [plan.title, "=" * len(plan.title)]
    if plan.detail is not None:
        lines += ["", *_detail(plan.detail, begins)]
    for heading, texts in (("Left out", plan.held_back), ("Keep in mind", plan.notes)):
        if texts:
            lines += ["", f"{heading}:"]
            lines += [_wrap(text, "  - ", "    ") for text in texts]
    if sources and plan.ground:
        lines += ["", "The numbers rest on:"]
        lines += [_wrap(text, "  - ", "    ") for text in plan.ground]
    return "\n".join(lines)


def _detail(
    detail: Circuit | Endurance | Session | WarmUp | Week | Hangs | Rests | Grades,
    begins: int,
) -> list[str]:
    if isinstance(detail, Circuit):
        return [
            _wrap(detail.how),
            "",
            f"  Moves in all   {_span(detail.moves)}",
            f"  Climbing       {_time(detail.work_seconds)}",
            f"  Rest           {_time(detail.rest_seconds)}",
            f"  Sets           {_span(detail.sets)}",
            f"  Altogether     {_span(detail.total_minutes)} minutes",
        ]
    if isinstance(detail, Endurance):
        return [
            _wrap(detail.how),
            "",
            f"  Laps           {_span(detail.laps)}",
            f"  Each lap       {_span(detail.lap_minutes)} minutes, {_span(detail.moves)} moves",
            f"  Rest           {_span(detail.rest_minutes)} minutes",
            f"  Altogether     {_span(detail.total_minutes)} minutes",
        ]
    if isinstance(detail, Session | WarmUp):
        return [line for block in detail.blocks for line in _block(block, begins)]
    if isinstance(detail, Week):
        return _week(detail)
    if isinstance(detail, Hangs):
        return _hangs(detail)
    if isinstance(detail, Rests):
        return [
            _wrap(f"{row.effort}: {_span(row.minutes)} minutes", "  ", "    ")
            for row in detail.rows
        ]
    return [f"  {row.v:<5}{row.font}{'   <- this one' if row.asked else ''}" for row in detail.rows]


def _block(block: Block, begins: int) -> list[str]:
    start, end = _clock(begins + block.start), _clock(begins + block.end)
    head = f"{start} to {end}  {block.title} ({block.minutes} min)"
    lines = [head]
    if block.pieces:
        lines.append(_wrap(block.pieces, "  ", "  "))
    return [*lines, _wrap(block.how, "  ", "  ")]


def _week(week: Week) -> list[str]:
    lines = []
    for day in week.days:
        name = f"{DAY_NAMES[day.day]:<11}"
        if day.kind is None:
            lines.append(f"{name}Rest")
            continue
        lines.append(f"{name}{day.title}, {day.minutes} min, effort about {day.effort:g} of 10")
        lines.append(_wrap(day.how, " " * 11, " " * 11))
    lines.append("")
    if week.hard_apart_hours is not None:
        lines.append(f"Hard days stand at least {week.hard_apart_hours} hours apart.")
    lines.append(f"Load (effort times minutes): {week.load.total:g} in the week.")
    if week.load.monotony is not None:
        text = (
            f"Monotony {week.load.monotony:.2f} (mean over sample standard deviation of the"
            " seven days): the higher, the more alike the days are."
        )
        lines.append(_wrap(text))
    return lines


def _hangs(hangs: Hangs) -> list[str]:
    lines = [_wrap(hangs.how)]
    if hangs.hangs and hangs.rest_seconds and hangs.total_minutes:
        lines += [
            "",
            f"  Hangs          {_span(hangs.hangs)} of {hangs.seconds:g} s",
            f"  Rest           {_time(hangs.rest_seconds)}",
        ]
        if hangs.percent:
            lines.append(f"  Load           {_span(hangs.percent)} % of what you can just hold")
        lines += [
            f"  Altogether     {_span(hangs.total_minutes)} minutes",
            f"  How often      {hangs.times_a_week} times a week, {hangs.apart_hours} h or more"
            f" apart, for {hangs.weeks} weeks",
        ]
    if hangs.kg_by_week:
        steps = ", ".join(f"{kg:g}" for kg in hangs.kg_by_week)
        lines.append(f"  Added kg       {steps} (week by week, at most)")
    lines += [_wrap(text) for text in (hangs.weight_how, hangs.pockets) if text]
    return lines


def _clock(minutes: int) -> str:
    return f"{minutes // 60 % 24}:{minutes % 60:02d}"


def _span(span: Span) -> str:
    low, high = round(span.low), round(span.high)
    return f"{low}" if low == high else f"{low} to {high}"


def _time(seconds: Span) -> str:
    if seconds.high < 100:
        return f"{_span(seconds)} s"
    return f"{_minutes(seconds.low)} to {_minutes(seconds.high)} min"


def _minutes(seconds: float) -> str:
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


def _wrap(text: str, first: str = "", rest: str = "") -> str:
    return fill(text, WIDTH, initial_indent=first, subsequent_indent=rest)
