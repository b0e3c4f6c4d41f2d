"""A week: which days, which kind, how far apart the hard ones stand."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from coachbot.knowledge.model import WeekDose

from .limits import Limits
from .load import week_load
from .model import Day, LeftOut, Week

DAY_NAMES = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def week(dose: WeekDose, sessions: int, minutes: int, limits: Limits) -> Week:
    """A week that repeats, so the gap from its last hard day to the next week's first counts.

    More sessions than ``most_days`` are cut to it, since one day stays free.
    """
    if sessions < 1:
        raise ValueError("a week needs at least one session")
    sessions = min(sessions, dose.most_days)
    days = [i * 7 // sessions for i in range(sessions)]
    planned = dose.hard_days[sessions]
    held = limits.blocks("hard_climbing", "finger_load")
    allowed = planned
    if held:
        allowed = 0
    elif limits.stage == "child":
        allowed = min(planned, dose.child_hard_days)
    elif limits.stage == "growing":
        allowed = min(planned, dose.growing_hard_days)
    hard = hard_days(days, allowed, dose.apart_hours)
    stand_in = "easy" if held else "varied"
    fillers = [*dose.others[sessions], *[stand_in] * (planned - len(hard))]
    if held:
        fillers = [stand_in] * len(fillers)
    elif limits.stage == "child":
        fillers = [stand_in if kind in {"mixed", "volume"} else kind for kind in fillers]
    others = iter(fillers)
    plan = []
    for day in range(7):
        if day not in days:
            plan.append(Day(day=day))
            continue
        name = "hard" if day in hard else next(others)
        kind = dose.kinds[name]
        plan.append(
            Day(
                day=day, kind=name, title=kind.title, how=kind.how,
                effort=kind.effort, minutes=minutes,
            )
        )  # fmt: skip
    left_out = (LeftOut(title="Hard days", load=held),) if held else ()
    return Week(
        days=tuple(plan),
        hard_apart_hours=apart(hard),
        load=week_load([d.load for d in plan]),
        left_out=left_out,
    )


def hard_days(days: Sequence[int], count: int, apart_hours: int) -> tuple[int, ...]:
    """At most ``count`` of the days, as far apart as they can stand and never closer than asked.

    Among equally good choices the earliest. Fewer days when so many do not fit.
    """
    for n in range(min(count, len(days)), 0, -1):
        best = max(combinations(days, n), key=lambda c: (apart(c) or 0, [-d for d in c]))
        gap = apart(best)
        if gap is None or gap >= apart_hours:
            return best
    return ()


def apart(days: Sequence[int]) -> int | None:
    """The shortest time between two of the days, around the week, in hours; None below two."""
    if len(days) < 2:
        return None
    ordered = sorted(days)
    following = [*ordered[1:], ordered[0] + 7]
    return min(b - a for a, b in zip(ordered, following, strict=True)) * 24


def too_close(days: Sequence[int], apart_hours: int) -> bool:
    """Whether two hard finger days of a repeating week stand closer than they should."""
    gap = apart(days)
    return gap is not None and gap < apart_hours
