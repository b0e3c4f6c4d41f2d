"""Training load as Foster counts it. The numbers look back; they forecast nothing."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import fmean, stdev

from .model import WeekLoad


def session_load(effort: float, minutes: float) -> float:
    """Effort (0 to 10) times minutes (Foster et al. 2001)."""
    if not 0 <= effort <= 10:
        raise ValueError(f"effort runs from 0 to 10, not {effort:g}")
    if minutes < 0:
        raise ValueError(f"minutes cannot be {minutes:g}")
    return effort * minutes


def week_load(days: Sequence[float]) -> WeekLoad:
    """Sum, monotony (mean over sample SD) and strain (sum times monotony) of seven daily loads."""
    if len(days) != 7:
        raise ValueError(f"a week has seven days, not {len(days)}; a rest day is 0")
    total, spread = sum(days), stdev(days)
    monotony = fmean(days) / spread if spread else None
    strain = total * monotony if monotony is not None else None
    return WeekLoad(total=total, monotony=monotony, strain=strain)


def load_ratio(weeks: Sequence[float], coupled: bool) -> float | None:
    """The last week's load over a mean week, None when the mean is 0. Not an injury forecast.

    Coupled, the mean counts the last week too; uncoupled, only the weeks before it. The
    ratio describes a jump; it has no useful prediction (Impellizzeri et al. 2020).
    """
    if len(weeks) < 2:
        raise ValueError("a ratio needs at least two weeks")
    usual = fmean(weeks if coupled else weeks[:-1])
    return weeks[-1] / usual if usual else None
