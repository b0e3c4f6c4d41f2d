"""The chat: a line editor on a terminal, a plain reader anywhere else.

On a terminal the prompt comes first: when the rules are known to be sound from an earlier
start, they are made ready while the person types.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from coachbot.kept_talks import Keeper, Unfinished, talks_folder, unfinished
from coachbot.knowledge import cache
from coachbot.knowledge.places import shipped_rules
from coachbot.knowledge.problems import BrokenRules

from . import screen
from .options import broken

if TYPE_CHECKING:
    from coachbot.talk import Talk

    from .opening import House

GREETING = (
    "Hello, I am your bouldering coach. Tell me what goes wrong on one move, in your own"
    ' words. Say "help" for what else you can say, "bye" to leave.'
)
GO_ON = {"go on", "goon", "resume", "continue", "carry on", "yes"}
SAVING = re.compile(r"\bsave\b.*\b(card|it|that)\b", re.IGNORECASE)
LEAVING = {"bye", "quit", "exit", "goodbye", "leave"}


class Lines(Protocol):
    """Where the person's lines come from."""

    def ask(self, choices: tuple[str, ...]) -> str | None:
        """The next line, or None when the person leaves; ``choices`` answer the open question."""


class Rules:
    """The house whose rules are in force; it follows the rule folders as they change.

    A change with mistakes is told once, and the last good rules stay in force.
    """

    def __init__(self, own: tuple[Path, ...]) -> None:
        self._own = own
        self._folders = (shipped_rules(), *own)
        self._seen = cache.fingerprint(self._folders)
        self._worker = ThreadPoolExecutor(1)
        self._coming: Future[House] = self._worker.submit(_open, own)
        self.trouble: str | None = None

    def wait_unless_sound(self) -> None:
        """Raise BrokenRules now, unless an earlier start found these very rules sound."""
        if not cache.is_kept("words", self._folders):
            self._coming.result()

    def house(self) -> House:
        """The house in force."""
        return self._coming.result()

    def changed(self) -> House | None:
        """A new house when a rule file was changed and all is sound, else None."""
        self.trouble = None
        now = cache.fingerprint(self._folders)
        if now == self._seen:
            return None
        self._seen = now
        fresh = self._worker.submit(_open, self._own)
        try:
            house = fresh.result()
        except BrokenRules as error:
            self.trouble = (
                f"{broken(error, started=True)}\nI go on with the rules as they were before."
            )
            return None
        self.house().close()
        self._coming = fresh
        return house

    def close(self) -> None:
        """Free the engine."""
        self._worker.shutdown()
        if self._coming.exception() is None:
            self.house().close()


def _open(own: tuple[Path, ...]) -> House:
    from .opening import open_house

    return open_house(own)


def chat(own: tuple[Path, ...]) -> int:
    """Hold one talk; returns the exit status. Raises BrokenRules when nothing can start."""
    if sys.stdin.isatty() and sys.stdout.isatty() and os.environ.get("TERM") != "dumb":
        from .editor import EditorLines

        lines: Lines = EditorLines(talks_folder().parent)
    else:
        lines = PlainLines()
    rules = Rules(own)
    try:
        rules.wait_unless_sound()
        return hold(rules, lines)
    finally:
        rules.close()


def hold(rules: Rules, lines: Lines) -> int:
    """The talk itself."""
    screen.write(GREETING)
    folder = talks_folder()
    before = unfinished(folder)
    if before:
        screen.write(f"\n{_offer(before)}")
    talk: Talk | None = None
    keeper = Keeper(folder)
    told_trouble = False
    while (line := lines.ask(talk.choices() if talk else ())) is not None:
        talk = talk or rules.house().talk()
        if before and line.strip().lower() in GO_ON:
            talk, keeper = _taken_up(rules.house(), before), Keeper(folder, before.path)
            before = None
            continue
        before = None
        keeper.said(line, datetime.now(UTC))
        if keeper.trouble and not told_trouble:
            screen.write(f"\n{keeper.trouble}")
        told_trouble = keeper.trouble is not None
        _follow(rules, talk)
        screen.write(f"\n{talk.turn(line).say}\n")
        if SAVING.search(line):
            _save_card(talk, line, folder.parent / "cards")
        if line.strip().lower().strip(".!") in LEAVING:
            break
    keeper.close(datetime.now(UTC))
    return 0


def _save_card(talk: Talk, line: str, folder: Path) -> None:
    """Write the card as a text and a page, and say where."""
    card = talk.card(line)
    if card is None:
        return
    name = datetime.now().strftime("card-%Y%m%d-%H%M%S")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / f"{name}.txt").write_text(card.text() + "\n", encoding="utf-8")
        (folder / f"{name}.html").write_text(card.html(), encoding="utf-8")
    except OSError as error:
        screen.write(f"The card cannot be saved ({error.strerror}); copy it from the screen.\n")
        return
    screen.write(f"Saved as {name}.txt and {name}.html in {folder}\n")


def _follow(rules: Rules, talk: Talk) -> None:
    """Go on with changed rules, or say why they cannot be used."""
    house = rules.changed()
    if house:
        talk.move_to(house.talk())
        screen.write("\n(The rules were changed; I go on with the new ones.)")
    elif rules.trouble:
        screen.write(f"\n{rules.trouble}")


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

    def ask(self, choices: tuple[str, ...]) -> str | None:
        if sys.stdin.isatty():
            sys.stdout.write("> ")
            sys.stdout.flush()
        try:
            raw = next(self._lines, None)
        except KeyboardInterrupt:
            return None
        return None if raw is None else raw.decode("utf-8", "replace").rstrip("\r\n")
