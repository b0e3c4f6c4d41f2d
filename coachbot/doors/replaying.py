"""Kept conversations run again through the same talk and the same 80 columns as the chat."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator
from pathlib import Path

from coachbot.review import transcripts

from . import screen
from .opening import House

COLUMNS = 80


def pages_in(paths: Iterable[Path]) -> Iterator[Path]:
    """The Markdown pages named, or in the folders named."""
    for path in paths:
        yield from sorted(path.glob("*.md")) if path.is_dir() else [path]


def fresh_answer(house: House) -> transcripts.Answer:
    """A new talk that answers in 80 columns."""
    talk = house.talk()
    return lambda text: screen.fitted(screen.printable(talk.turn(text).say), COLUMNS)


def replay_page(house: House, page: Path, renew: bool) -> Iterator[str]:
    """The differences of one page, told one by one; with ``renew`` the page is written anew."""
    conversations = transcripts.read(page)
    for conversation in conversations:
        for c in transcripts.changes(conversation, fresh_answer(house)):
            before, now = c.before.splitlines(), c.now.splitlines()
            lines = difflib.unified_diff(before, now, "before", "now", lineterm="", n=1)
            yield f"{page.name}:{c.line}: {c.conversation}\n> {c.said}\n" + "\n".join(lines)
    if renew:
        page.write_text(
            transcripts.renewed(conversations, lambda: fresh_answer(house)), encoding="utf-8"
        )
