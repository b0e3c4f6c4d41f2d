"""What a plan is made of. Grades are shown as text; times are minutes or seconds as named."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class _Model(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Span(_Model):
    """From ``low`` to ``high``, both included."""

    low: float
    high: float


class Circuit(_Model):
    """Legs climbed without stepping off. ``up`` and ``down`` are grades, or words for them."""

    how: str
    up: str
    down: str
    legs: tuple[str, ...]
    moves: Span
    sets: Span
    work_seconds: Span
    rest_seconds: Span
    total_minutes: Span


class Endurance(_Model):
    """Long easy laps; ``moves`` is what fits into one lap."""

    how: str
    grade: str
    laps: Span
    lap_minutes: Span
    rest_minutes: Span
    moves: Span
    total_minutes: Span


class Block(_Model):
    """A stretch of a session, in minutes from its start."""

    title: str
    start: int
    end: int
    how: str
    pieces: str | None = None

    @property
    def minutes(self) -> int:
        return self.end - self.start


class LeftOut(_Model):
    """A part that a safety rule holds back, and the load that it would have had."""

    title: str
    load: str


class Session(_Model):
    """Blocks without gaps from 0 to ``minutes``."""

    minutes: int
    blocks: tuple[Block, ...]
    left_out: tuple[LeftOut, ...] = ()


class WarmUp(_Model):
    """A warm-up as blocks."""

    minutes: int
    blocks: tuple[Block, ...]


class Day(_Model):
    """One day of a week: 0 is Monday. A rest day has no ``kind`` and no load."""

    day: int
    kind: str | None = None
    title: str = "Rest"
    how: str = ""
    effort: float = 0
    minutes: int = 0

    @property
    def load(self) -> float:
        return self.effort * self.minutes


class WeekLoad(_Model):
    """Foster's numbers for one week; ``monotony`` uses the sample standard deviation.

    ``monotony`` and ``strain`` are None when all days are alike.
    """

    total: float
    monotony: float | None
    strain: float | None


class Week(_Model):
    """Seven days, the shortest time between hard days in hours, and the load."""

    days: tuple[Day, ...]
    hard_apart_hours: int | None
    load: WeekLoad
    left_out: tuple[LeftOut, ...] = ()


class Hangs(_Model):
    """A dose of finger hangs; ``kg_by_week`` is empty when no weight is added."""

    how: str
    dose: str
    hangs: Span | None = None
    seconds: float | None = None
    rest_seconds: Span | None = None
    percent: Span | None = None
    times_a_week: int = 0
    weeks: int = 0
    total_minutes: Span | None = None
    apart_hours: int = 0
    kg_by_week: tuple[float, ...] = ()
    weight_how: str | None = None
    pockets: str | None = None


class RestRow(_Model):
    """Minutes in plain words for an effort, and the seconds that the table gives for it."""

    effort: str
    minutes: Span
    table_seconds: Span


class Rests(_Model):
    """Rest by effort."""

    rows: tuple[RestRow, ...]


class GradeRow(_Model):
    """One V grade and the Font grades beside it."""

    v: str
    font: str
    asked: bool


class Grades(_Model):
    """A piece of the table around the grade in question."""

    rows: tuple[GradeRow, ...]


Detail = Circuit | Endurance | Session | WarmUp | Week | Hangs | Rests | Grades


class Plan(_Model):
    """A plan. ``detail`` is None when nothing may be trained; ``held_back`` says what and why.

    ``ground`` lists the practice and publications behind the numbers.
    """

    title: str
    detail: Detail | None
    held_back: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    ground: tuple[str, ...] = ()
