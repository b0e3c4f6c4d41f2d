"""A coach whose answers are written down, and everything that the guided conversation says."""

from __future__ import annotations

from collections.abc import Sequence


class Scripted:
    """Gives the lines in order, then nothing more; ``asked`` keeps the choices of each."""

    def __init__(self, *lines: str) -> None:
        self._lines = iter(lines)
        self.asked: list[Sequence[str]] = []

    def line(self, choices: Sequence[str] = (), default: str = "") -> str | None:
        self.asked.append(choices)
        return next(self._lines, None)


CASE = ("my hand keeps slipping off the big round sloper", "the wall is a slab", "")
REST = (
    "Lean your chest over your feet before you pull.",
    "A slab carries you on your feet; weight over the feet unloads the hand.",
    "Three slow steps on the slab with flat hands.",
    "Your hands feel light.",
    "3 rounds",
    "skip",
    "weight-shift, friction",
    "climbing",
    "H06",
    "common",
    "on a slab the feet carry, the hands only steady",
    "decides",
    "always",
    "holds",
    "chest-first-on-slabs",
    "Ines",
)
