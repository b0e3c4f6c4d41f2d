"""Effects of a change on the screen: before and after side by side, or under each other."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from coachbot.workshop.effects import Different, Effects

from . import screen

SHOWN = 3
NARROW = 60
BETWEEN = " | "


def told_effects(found: Effects, columns: int, shown: int = SHOWN) -> Iterator[str]:
    """What would be answered otherwise, the first few of each kind in full."""
    kinds = (
        ("answers in kept conversations", found.conversations),
        ("answers to stored messages", found.messages),
        ("sampled cases (first three suggestions)", found.cases),
    )
    if not any(found.looked_at):
        yield "There is no kept conversation, stored message or case to look at."
    for (what, differences), looked_at in zip(kinds, found.looked_at, strict=True):
        if not looked_at:
            continue
        yield f"{len(differences)} of {looked_at} {what} would be others."
        for difference in _each_place_first(differences)[:shown]:
            yield ""
            yield from told_difference(difference, columns)
        if len(differences) > shown:
            yield f"\n(and {len(differences) - shown} more)"
        if differences:
            yield ""


def _each_place_first(differences: Sequence[Different]) -> list[Different]:
    """Different places before the same place again."""
    seen: dict[str, int] = {}
    ranked = []
    for difference in differences:
        times = seen.get(difference.place, 0) if difference.place != "case" else 0
        seen[difference.place] = times + 1
        ranked.append((times, difference))
    return [d for _, d in sorted(ranked, key=lambda each: each[0])]


def told_difference(difference: Different, columns: int) -> Iterator[str]:
    """One answer before and after."""
    yield from textwrap.wrap(f"{difference.place}: {difference.said}", columns)
    before, after = _heads(difference.before), _heads(difference.after)
    if before == after:
        before, after = difference.before, difference.after
    before, after = _changed_lines(before, after)
    if columns < NARROW:
        yield "before:"
        yield from (f"  {line}" for line in _wrapped(before, columns - 2))
        yield "after:"
        yield from (f"  {line}" for line in _wrapped(after, columns - 2))
        return
    yield from side_by_side(before, after, columns)


def _heads(text: str) -> str:
    """What is said without the indented lines below it: cues, stops, questions, replies."""
    return "\n".join(
        line for line in text.splitlines() if line.strip() and not line.startswith("   ")
    )


def _changed_lines(before: str, after: str) -> tuple[str, str]:
    """Both texts without the lines that they share at the beginning and the end."""
    old, new = before.splitlines(), after.splitlines()
    while len(old) > 1 and len(new) > 1 and old[0] == new[0]:
        old, new = old[1:], new[1:]
    while len(old) > 1 and len(new) > 1 and old[-1] == new[-1]:
        old, new = old[:-1], new[:-1]
    return "\n".join(old), "\n".join(new)


def side_by_side(before: str, after: str, columns: int) -> Iterator[str]:
    """Two texts in two columns."""
    each = (columns - len(BETWEEN)) // 2
    left, right = _wrapped(before, each), _wrapped(after, each)
    yield f"{'before'.ljust(each)}{BETWEEN}after"
    yield f"{'-' * each}-+-{'-' * each}"
    for i in range(max(len(left), len(right))):
        one = left[i] if i < len(left) else ""
        other = right[i] if i < len(right) else ""
        yield f"{one.ljust(each)}{BETWEEN}{other}".rstrip()


def _wrapped(text: str, columns: int) -> list[str]:
    return screen.fitted(screen.printable(text), columns).splitlines()
