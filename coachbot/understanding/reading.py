"""What understanding gives back: facts with the words that they were read from."""

from __future__ import annotations

from dataclasses import dataclass, field

from coachbot.engine.model import Value


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of the original text, ``start`` to ``end`` (exclusive), and its words."""

    start: int
    end: int
    words: str


@dataclass(frozen=True, slots=True)
class Heard:
    """One fact that was said.

    ``value`` is as the engine takes it: bool for yes-no, a name for choice and several, a
    number in the declared unit, the ladder's step for a grade. ``denied``: it was said not
    to be so. ``hedged``: said as a guess.
    """

    fact: str
    value: Value
    denied: bool
    start: int
    end: int
    hedged: bool = False
    words: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Ambiguity:
    """A single-valued fact for which the message gives more than one value."""

    fact: str
    values: tuple[Value, ...]
    span: Span


@dataclass(frozen=True, slots=True)
class Reading:
    """Everything understood from one message.

    ``unread``: content words that no fact took. ``declined``: the open question was met
    with "don't know" or "skip". ``correction``: the message takes back something said
    before. ``language``: ``en``, or a guess of another language (ISO 639-1), or ``None``
    when there is nothing to go by. ``cut``: the text was too long and only its beginning,
    up to this offset, was read.
    """

    heard: tuple[Heard, ...] = ()
    unread: tuple[Span, ...] = ()
    declined: bool = False
    maybes: tuple[Ambiguity, ...] = ()
    correction: bool = False
    language: str | None = None
    cut: int | None = None
