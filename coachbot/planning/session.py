"""One session and its warm-up as blocks on the clock."""

from __future__ import annotations

from collections.abc import Sequence
from math import floor

from coachbot.knowledge.grades import GradeLadder
from coachbot.knowledge.model import BlockDose, CircuitDose, Doses, WarmUpDose

from .circuits import circuit, flash_grade, sets_in
from .grading import shifted
from .limits import Limits
from .model import Block, LeftOut, Session, WarmUp


def session(
    doses: Doses, ladder: GradeLadder, minutes: int, usual: int | None, limits: Limits
) -> Session:
    """A session of exactly ``minutes``. Raises ValueError outside what a session can be."""
    dose = doses.session
    if not dose.shortest <= minutes <= dose.longest:
        raise ValueError(
            f"a session lasts {dose.shortest} to {dose.longest} minutes, not {minutes}"
        )
    held = {b.name: load for b in dose.blocks if (load := limits.blocks(*b.loads))}
    stand_in = {b.instead for b in dose.blocks if b.name in held}
    active = [
        b
        for b in dose.blocks
        if b.name not in held and (minutes >= b.from_minutes or b.name in stand_in)
    ]
    shares = {b.name: b.share for b in active}
    for block in dose.blocks:
        if block.name not in shares and (heir := _heir(block, dose.blocks, shares)):
            shares[heir] += block.share
    parts = share_out(
        minutes,
        [shares[b.name] for b in active],
        [b.least for b in active],
        [b.most for b in active],
    )
    blocks, at = [], 0
    for block, length in zip(active, parts, strict=True):
        blocks.append(_block(block, at, length, doses.circuit, ladder, usual))
        at += length
    left_out = tuple(
        LeftOut(title=b.title, load=held[b.name])
        for b in dose.blocks
        if b.name in held and minutes >= b.from_minutes
    )
    return Session(minutes=minutes, blocks=tuple(blocks), left_out=left_out)


def warm_up(dose: WarmUpDose, ladder: GradeLadder, minutes: int, usual: int | None) -> WarmUp:
    """A warm-up of ``minutes``, held within its limits."""
    minutes = min(max(minutes, dose.least), dose.most)
    n = len(dose.steps)
    parts = share_out(minutes, [s.share for s in dose.steps], [1] * n, [minutes] * n)
    blocks, at = [], 0
    for step, length in zip(dose.steps, parts, strict=True):
        how = step.how.format(grade=_grade(ladder, usual, step.below_usual))
        blocks.append(Block(title=step.title, start=at, end=at + length, how=how))
        at += length
    return WarmUp(minutes=minutes, blocks=tuple(blocks))


def share_out(
    minutes: int, shares: Sequence[float], least: Sequence[int], most: Sequence[int]
) -> list[int]:
    """Whole minutes by share, each within its limits, adding up to ``minutes``.

    A part that hits a limit keeps it and the others share what is left; the largest
    remainders are rounded up. When the limits leave no way, the largest part gives or takes.
    """
    fixed: dict[int, int] = {}
    while True:
        free = [i for i in range(len(shares)) if i not in fixed]
        left = minutes - sum(fixed.values())
        total = sum(shares[i] for i in free)
        raw = {i: left * shares[i] / total for i in free} if total else {}
        low = {i: least[i] for i in free if raw[i] < least[i]}
        high = {i: most[i] for i in free if raw[i] > most[i]}
        if not low and not high:
            break
        fixed |= low or high
    parts = {**fixed, **{i: floor(raw[i]) for i in raw}}
    by_remainder = sorted(raw, key=lambda i: (floor(raw[i]) - raw[i], i))
    for i in by_remainder[: max(minutes - sum(parts.values()), 0)]:
        parts[i] += 1
    rest = minutes - sum(parts.values())
    parts[max(parts, key=lambda i: parts[i])] += rest
    return [parts[i] for i in range(len(shares))]


def _heir(block: BlockDose, blocks: Sequence[BlockDose], shares: dict[str, float]) -> str | None:
    by_name = {b.name: b for b in blocks}
    seen = {block.name}
    name = block.instead
    while name and name not in seen:
        if name in shares:
            return name
        seen.add(name)
        name = by_name[name].instead
    return None


def _block(
    block: BlockDose,
    at: int,
    length: int,
    loop: CircuitDose,
    ladder: GradeLadder,
    usual: int | None,
) -> Block:
    pieces = None
    if block.pieces and block.minutes_a_piece:
        count = max(int(length // block.minutes_a_piece), 1)
        pieces = f"{count} {block.pieces}"
    elif block.pieces:
        pieces = f"{sets_in(loop, length)} {block.pieces.format(moves=f'{loop.moves.low:g}')}"
    flash = None if usual is None else flash_grade(loop, ladder, usual)
    legs = circuit(loop, ladder, flash)
    how = block.how.format(
        grade=_grade(ladder, usual, block.below_usual),
        usual=_grade(ladder, usual, 0),
        up=legs.up,
        down=legs.down,
    )
    return Block(title=block.title, start=at, end=at + length, how=how, pieces=pieces)


def _grade(ladder: GradeLadder, usual: int | None, below: int | None) -> str:
    if usual is not None:
        return ladder.name(shifted(ladder, usual, -(below or 0)))
    if not below:
        return "your usual grade"
    return f"{below} grade{'s' if below > 1 else ''} under your usual"
