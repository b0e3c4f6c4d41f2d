"""Mistakes in a rule folder, each with its place, told all at once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rapidfuzz import fuzz, process


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One mistake: the file as the coach knows it, line and column from 1, and a sentence."""

    path: str
    line: int
    column: int
    message: str

    def __str__(self) -> str:
        return f"{self.path}:{self.line}:{self.column}: {self.message}"


class BrokenRules(Exception):
    """A rule folder that cannot be used; ``problems`` holds every mistake found in it."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(set(problems)))
        super().__init__("\n".join(map(str, self.problems)))


class Refused(Exception):
    """A change that is not made; the message says why and what to do."""


def nearest(name: str, allowed: Iterable[str]) -> str:
    """``' Did you mean "x"?'`` for the closest allowed name, or an empty string."""
    found = process.extractOne(name, list(allowed), scorer=fuzz.ratio, score_cutoff=60)
    return f' Did you mean "{found[0]}"?' if found else ""
