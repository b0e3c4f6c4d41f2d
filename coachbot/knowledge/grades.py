"""The two bouldering grade scales as one ladder, read from ``rules/grades.yaml``.

A grade fact's value is the step's ``order`` on the V scale's ladder; the Font grades
that belong to it are a range, since published charts differ.
"""

from __future__ import annotations

from dataclasses import dataclass

from pydantic import BaseModel, ConfigDict


class GradeStep(BaseModel):
    """One step: the V grade and the lowest and highest Font grade that charts put beside it."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    v: str
    font_low: str
    font_high: str
    seen: bool
    note: str | None = None


@dataclass(frozen=True, slots=True)
class GradeLadder:
    """Steps in rising order; ``font`` is the Font ladder in rising order."""

    steps: tuple[GradeStep, ...]
    font: tuple[str, ...]

    def order(self, text: str) -> int | None:
        """The step of a grade in either scale (any case), or None when it is no grade."""
        wanted = text.strip().upper()
        for i, step in enumerate(self.steps):
            if step.v.upper() == wanted:
                return i
        at = self.font_index(wanted)
        if at is None:
            return None
        for i, step in enumerate(self.steps):
            if self._at(step.font_low) <= at <= self._at(step.font_high):
                return i
        return None

    def font_index(self, text: str) -> int | None:
        """Position on the Font ladder, or None."""
        wanted = text.strip().upper()
        return next((i for i, f in enumerate(self.font) if f.upper() == wanted), None)

    def font_range(self, order: int) -> str:
        """The Font grades of a step in words: ``6A to 6A+`` or ``7A``."""
        step = self.steps[order]
        same = step.font_low == step.font_high
        return step.font_low if same else f"{step.font_low} to {step.font_high}"

    def name(self, order: int) -> str:
        """The step as people write it: ``V3 (6A to 6A+)``."""
        return f"{self.steps[order].v} ({self.font_range(order)})"

    def _at(self, font: str) -> int:
        return self.font.index(font)
