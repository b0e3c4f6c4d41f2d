"""Which part a named hold plays: under the hand, gone to, or under a foot."""

from __future__ import annotations

from .clauses import Words

BACK = {"<role_to>": 2, "<role_catch>": 4}
FAR_BACK = 7
AHEAD = 5
LEFT_CUES = {
    "<role_to>": "target",
    "<role_catch>": "target",
    "<role_next>": "target",
    "<role_from>": "hold",
    "<role_hold>": "hold",
    "<role_foot>": "foot",
    "<role_heel>": "none",
    "<role_aside>": "none",
}
RIGHT_CUES = {"<role_far>": "target", "<role_under_hand>": "hold", "<role_as_foot>": "foot",
    "<role_caught>": "target"}  # fmt: skip


def role_of(row: Words, taken: tuple[int, ...]) -> str | None:
    """``target``, ``hold``, ``foot`` or ``none`` by the nearest cue in the clause, else None.

    A cue on the left counts from where it ends; one on the right only when it follows
    close behind.
    """
    line = row.line
    first, last, clause = taken[0], taken[-1], line.clause[taken[0]]
    best: tuple[int, str] | None = None
    for cue, role in LEFT_CUES.items():
        for start, end in line.found.get(cue, ()):
            if line.clause[start] != clause or end > first + 1 or start >= last:
                continue
            far = sum(line.weight[i] for i in range(min(end, first), first))
            if far <= BACK.get(cue, FAR_BACK) and (best is None or (end, start) > (best[0], -1)):
                best = (end, role)
    nearest = None
    for cue, role in RIGHT_CUES.items():
        for start, _ in line.found.get(cue, ()):
            if start > last and line.clause[start] == clause:
                far = sum(line.weight[last + 1 : start])
                if far <= AHEAD and (nearest is None or far < nearest[0]):
                    nearest = (far, role)
    if nearest is not None and (nearest[0] <= 1 or best is None):
        return nearest[1]
    return best[1] if best else None
