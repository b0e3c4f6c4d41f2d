"""Conversations kept as pages: re-run word for word, and renewed when the advice changes.

A page is Markdown. A heading begins a conversation, prose may follow it, and then each
message of the person is a quoted paragraph (``> …``) with the coach's answer below it in
a code block. A ``>`` alone is an empty message.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

Answer = Callable[[str], str]

_FENCE = "```"
_HEADING = re.compile(r"^#{1,3} (?P<title>.+)$")


@dataclass(frozen=True, slots=True)
class Exchange:
    """One message and the answer that stands on the page."""

    said: str
    answered: str
    line: int


@dataclass(frozen=True, slots=True)
class Conversation:
    """One conversation: its heading, the prose below it, and its exchanges."""

    title: str
    heading: str
    prose: tuple[str, ...]
    exchanges: tuple[Exchange, ...]


def read(page: Path) -> tuple[Conversation, ...]:
    """The conversations of a page; a heading without messages is kept as prose."""
    found: list[Conversation] = []
    heading, prose, exchanges = "", [], []  # type: ignore[var-annotated]

    def close() -> None:
        if heading or prose or exchanges:
            title = heading.lstrip("# ")
            found.append(Conversation(title, heading, tuple(prose), tuple(exchanges)))

    lines = page.read_text(encoding="utf-8").splitlines()
    i = 0
    while i < len(lines):
        line = lines[i]
        if _HEADING.match(line):
            close()
            heading, prose, exchanges = line, [], []
        elif line.startswith(">"):
            said, at = [], i + 1
            while i < len(lines) and lines[i].startswith(">"):
                said.append(lines[i][1:].strip())
                i += 1
            answer, i = _block(lines, i)
            exchanges.append(Exchange(" ".join(said), answer, at))
            continue
        elif line.strip():
            prose.append(line)
        i += 1
    close()
    return tuple(found)


def _block(lines: list[str], i: int) -> tuple[str, int]:
    """The code block that follows, if any, and the line after it."""
    j = i
    while j < len(lines) and not lines[j].strip():
        j += 1
    if j >= len(lines) or lines[j].strip() != _FENCE:
        return "", i
    end = j + 1
    while end < len(lines) and lines[end].strip() != _FENCE:
        end += 1
    return "\n".join(lines[j + 1 : end]), end + 1


@dataclass(frozen=True, slots=True)
class Changed:
    """An exchange whose answer is another one now."""

    conversation: str
    line: int
    said: str
    before: str
    now: str


def changes(conversation: Conversation, answer: Answer) -> tuple[Changed, ...]:
    """Re-run one conversation with a fresh talk's ``answer``; what differs from the page."""
    found = []
    for exchange in conversation.exchanges:
        now = answer(exchange.said)
        if now != exchange.answered:
            before = exchange.answered
            found.append(Changed(conversation.title, exchange.line, exchange.said, before, now))
    return tuple(found)


def renewed(conversations: tuple[Conversation, ...], fresh: Callable[[], Answer]) -> str:
    """The page with every answer as it is now."""
    parts: list[str] = []
    for conversation in conversations:
        answer = fresh()
        if conversation.heading:
            parts.append(conversation.heading)
        if conversation.prose:
            parts.append("\n".join(conversation.prose))
        for exchange in conversation.exchanges:
            said = f"> {exchange.said}".rstrip()
            parts.append(f"{said}\n\n{_FENCE}\n{answer(exchange.said)}\n{_FENCE}")
    return "\n\n".join(parts) + "\n"
