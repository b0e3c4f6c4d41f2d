"""Which part a named hold plays: under the hand, gone to, or under a foot."""

from __future__ import annotations

from typing import NamedTuple

from coachbot.knowledge.phrases import ARTICLES

from .clauses import Words

BACK = {"<role_to>": 3, "<role_towards>": 2, "<role_catch>": 4, "<role_at>": 4}
FAR_BACK = 6
AHEAD = {"<role_as_foot>": 1, "<role_under_hand>": 2}
FAR_AHEAD = 5
BESIDE = 2
LIMB_BACK = 6
LIMB_BESIDE = 2
TREADING = frozenset({"on", "onto", "off", "from", "against", "over", "to", "into", "at"})


class Part(NamedTuple):
    """``target``, ``hold``, ``foot`` or ``none``; not ``sure`` when the rest may overrule it."""

    name: str
    sure: bool = True


OPEN = Part("hold", False)
HELD = Part("hold")
TARGET = Part("target")
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
POINTING = ARTICLES | {"this", "that", "these", "those", "every", "each", "another"}
HANDS = {"hold", "target"}
LIMBS = {
    "<limb_hand>": None,
    "<limb_foot>": Part("foot"),
    "<limb_other>": Part("none"),
}


def part_of(row: Words, taken: tuple[int, ...], named: frozenset[int]) -> Part:
    """The part by the nearest cue in the clause; the longest of those that end together.

    A cue on the left counts from where it ends. One on the right counts when it follows
    at once, or when nothing on the left is sure. Words that name a hold (``named``) are no
    cues: "pull" in "the sidepull edge". What a foot, a heel or a knee does, no hand does.
    """
    line = row.line
    first = next((i for i in taken if line.words[i] not in POINTING), taken[-1])
    last, clause = taken[-1], line.clause[first]
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
    if best is None or best[2].name in HANDS:
        limb = _by_limb(row, first, best)
        if limb is not None:
            best = (first, 0, limb)
    nearest: tuple[int, Part] | None = None
    for cue, part in RIGHT_CUES.items():
        for start, _ in line.found.get(cue, ()):
            if start > last and line.clause[start] == clause:
                far = sum(line.weight[last + 1 : start])
                if far <= AHEAD.get(cue, FAR_AHEAD) and (nearest is None or far < nearest[0]):
                    nearest = (far, part)
    reached = best is not None and best[2] == TARGET and nearest is not None and nearest[1] == HELD
    if (
        nearest is not None
        and not reached
        and (nearest[0] < BESIDE or best is None or not best[2].sure)
    ):
        return nearest[1]
    return best[2] if best else OPEN


def _by_limb(row: Words, first: int, cue: tuple[int, int, Part] | None) -> Part | None:
    """The part by the limb named last before a hold, unless that is a hand or does not act.

    A sure cue stands, unless the limb is right before it or after it: "my foot hits the jug".
    """
    line = row.line
    bars = [start for start, _ in line.found.get("<limb_bar>", ()) if start < first]
    low = max([i for i in bars if line.clause[i] == line.clause[first]], default=-1)
    last: tuple[int, int, Part | None] | None = None
    for name, part in LIMBS.items():
        for start, end in line.found.get(name, ()):
            near = low < start and end <= first and line.clause[start] == line.clause[first]
            if near and (last is None or (end, -start) > last[:2]):
                last = (end, -start, part)
    if last is None or last[2] is None:
        return None
    end, _, part = last
    if TREADING.isdisjoint(line.words[end:first]):
        part = Part("none")
    if cue is not None and cue[2].sure:
        far = sum(line.weight[end : -cue[1]])
        return part if far <= LIMB_BESIDE else None
    return part if sum(line.weight[end:first]) <= LIMB_BACK else None
