"""Which part a named hold plays: under the hand, gone to, or under a foot."""

from __future__ import annotations

from typing import NamedTuple

from .clauses import Words

BACK = {"<role_to>": 3, "<role_towards>": 2, "<role_catch>": 4, "<role_at>": 4}
FAR_BACK = 6
AHEAD = {"<role_as_foot>": 1, "<role_under_hand>": 2}
FAR_AHEAD = 5
BESIDE = 2


class Part(NamedTuple):
    """``target``, ``hold``, ``foot`` or ``none``; not ``sure`` when the rest may overrule it."""

    name: str
    sure: bool = True


OPEN = Part("hold", False)
LEFT_CUES = {
    "<role_to>": Part("target"),
    "<role_towards>": Part("target", False),
    "<role_catch>": Part("target"),
    "<role_next>": Part("target"),
    "<role_from>": Part("hold"),
    "<role_hold>": Part("hold"),
    "<role_at>": OPEN,
    "<role_foot>": Part("foot"),
    "<role_heel>": Part("none"),
    "<role_aside>": Part("none"),
}
RIGHT_CUES = {
    "<role_far>": Part("target"),
    "<role_under_hand>": Part("hold"),
    "<role_as_foot>": Part("foot"),
    "<role_caught>": Part("target"),
    "<role_beside>": Part("none"),
}


def part_of(row: Words, taken: tuple[int, ...], named: frozenset[int]) -> Part:
    """The part by the nearest cue in the clause; the longest of those that end together.

    A cue on the left counts from where it ends. One on the right counts when it follows
    at once, or when nothing on the left is sure. Words that name a hold (``named``) are no
    cues: "pull" in "the sidepull edge".
    """
    line = row.line
    first, last, clause = taken[0], taken[-1], line.clause[taken[0]]
    best: tuple[int, int, Part] | None = None
    for cue, part in LEFT_CUES.items():
        for start, end in line.found.get(cue, ()):
            if line.clause[start] != clause or end > first:
                continue
            if named.issuperset(range(start, end)):
                continue
            far = sum(line.weight[end:first])
            if far <= BACK.get(cue, FAR_BACK) and (best is None or (end, -start) > best[:2]):
                best = (end, -start, part)
    nearest: tuple[int, Part] | None = None
    for cue, part in RIGHT_CUES.items():
        for start, _ in line.found.get(cue, ()):
            if start > last and line.clause[start] == clause:
                far = sum(line.weight[last + 1 : start])
                if far <= AHEAD.get(cue, FAR_AHEAD) and (nearest is None or far < nearest[0]):
                    nearest = (far, part)
    if nearest is not None and (nearest[0] < BESIDE or best is None or not best[2].sure):
        return nearest[1]
    return best[2] if best else OPEN
