"""The chat: a line editor on a terminal, a plain reader anywhere else."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol

from coachbot.talk import Talk
from coachbot.talk.store import Keeper, Unfinished, talks_folder, unfinished

from . import screen
from .opening import House, open_house

GREETING = (
    "Hello, I am your bouldering coach. Tell me what goes wrong on one move, in your own"
    ' words. Say "help" for what else you can say, "bye" to leave.'
)
GO_ON = {"go on", "goon", "resume", "continue", "carry on", "yes"}
LEAVING = {"bye", "quit", "exit", "goodbye", "leave"}


class Lines(Protocol):
    """Where the person's lines come from."""

    def ask(self, talk: Talk) -> str | None:
        """The next line, or None when the person leaves."""


def chat(own: tuple[Path, ...]) -> int:
    """Hold one talk; returns the exit status."""
    house = open_house(own)
    try:
        return hold(house, _lines())
    finally:
        house.close()


def _lines() -> Lines:
    if sys.stdin.isatty() and sys.stdout.isatty() and os.environ.get("TERM") != "dumb":
        from .editor import EditorLines

        return EditorLines(talks_folder().parent)
    return PlainLines()


def hold(house: House, lines: Lines) -> int:
    """The talk itself."""
    screen.write(GREETING)
    folder = talks_folder()
    before = unfinished(folder)
    if before:
        screen.write(f"\n{_offer(before)}")
    talk, keeper = house.talk(), Keeper(folder)
    told_trouble = False
    while (line := lines.ask(talk)) is not None:
        if before and line.strip().lower() in GO_ON:
            talk, keeper = _taken_up(house, before), Keeper(folder, before.path)
            before = None
            continue
        before = None
        keeper.said(line, datetime.now(UTC))
        if keeper.trouble and not told_trouble:
            screen.write(f"\n{keeper.trouble}")
        told_trouble = keeper.trouble is not None
        screen.write(f"\n{talk.turn(line).say}\n")
        if line.strip().lower().strip(".!") in LEAVING:
            break
    keeper.close(datetime.now(UTC))
    return 0


def _offer(before: Unfinished) -> str:
    first = " ".join(before.said[0].split())[:50]
    when = before.last.astimezone().strftime("%d %B, %H:%M")
    return f'A talk from {when} is not finished ("{first}"). Say "go on" to take it up again.'


def _taken_up(house: House, before: Unfinished) -> Talk:
    talk = house.talk()
    say = ""
    for text in before.said:
        say = talk.turn(text).say
    screen.write(f"\nWhere we were:\n\n{say}\n")
    return talk


class PlainLines:
    """Lines from standard input as it is: pipes, files, terminals that cannot edit."""

    def __init__(self) -> None:
        self._lines: Iterator[bytes] = iter(sys.stdin.buffer.readline, b"")

    def ask(self, talk: Talk) -> str | None:
        if sys.stdin.isatty():
            sys.stdout.write("> ")
            sys.stdout.flush()
        try:
            raw = next(self._lines, None)
        except KeyboardInterrupt:
            return None
        return None if raw is None else raw.decode("utf-8", "replace").rstrip("\r\n")
