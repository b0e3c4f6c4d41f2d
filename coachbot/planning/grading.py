"""Grades up and down the ladder, and between the two scales."""

from __future__ import annotations

from coachbot.knowledge.grades import GradeLadder

from .model import GradeRow, Grades


def whole_grades(ladder: GradeLadder) -> tuple[int, ...]:
    """The orders of the whole V grades: half steps such as V0+ are left out."""
    return tuple(i for i, step in enumerate(ladder.steps) if step.v[-1] not in "+-")


def shifted(ladder: GradeLadder, order: int, grades: int) -> int:
    """The order that lies ``grades`` whole V grades above (below when negative), held at the ends.

    A half step counts as the whole grade below it.
    """
    whole = whole_grades(ladder)
    at = max((n for n, o in enumerate(whole) if o <= order), default=0)
    return whole[min(max(at + grades, 0), len(whole) - 1)]


def to_font(ladder: GradeLadder, v_grade: str) -> tuple[str, str]:
    """The lowest and highest Font grade of a V grade. Raises ValueError for no V grade."""
    for step in ladder.steps:
        if step.v.upper() == v_grade.strip().upper():
            return step.font_low, step.font_high
    raise ValueError(f'"{v_grade}" is no V grade')


def to_v(ladder: GradeLadder, font_grade: str) -> tuple[str, str]:
    """The lowest and highest V grade whose range holds a Font grade. Raises ValueError."""
    at = ladder.font_index(font_grade)
    if at is None:
        raise ValueError(f'"{font_grade}" is no Font grade')
    fitting = [
        step.v
        for step in ladder.steps
        if ladder.font.index(step.font_low) <= at <= ladder.font.index(step.font_high)
    ]
    return fitting[0], fitting[-1]


def table(ladder: GradeLadder, order: int | None) -> Grades:
    """The rows around a grade, or the whole grades of the table when none is asked for."""
    if order is None:
        chosen: tuple[int, ...] = whole_grades(ladder)
    else:
        chosen = tuple(range(max(order - 2, 0), min(order + 3, len(ladder.steps))))
    return Grades(
        rows=tuple(
            GradeRow(v=ladder.steps[i].v, font=ladder.font_range(i), asked=i == order)
            for i in chosen
        )
    )
