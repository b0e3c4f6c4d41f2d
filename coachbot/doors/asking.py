"""Questions to the coach: a line editor with completion on a terminal, plain lines elsewhere."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import Protocol


class Asks(Protocol):
    """Where the coach's answers come from."""

    def line(self, choices: Sequence[str] = (), default: str = "") -> str | None:
        """The next line, None at the end of input or on Ctrl-C."""


def asks() -> Asks:
    """The line editor on a terminal, a plain reader anywhere else."""
    if sys.stdin.isatty() and sys.stdout.isatty() and os.environ.get("TERM") != "dumb":
        return EditorAsks()
    return PlainAsks()


class PlainAsks:
    """Lines from standard input as it is."""

    def line(self, choices: Sequence[str] = (), default: str = "") -> str | None:
        sys.stdout.write("> ")
        sys.stdout.flush()
        try:
            raw = sys.stdin.buffer.readline()
        except KeyboardInterrupt:
            return None
        if not sys.stdin.isatty():
            sys.stdout.write("\n")
        return raw.decode("utf-8", "replace").rstrip("\r\n") if raw else None


class EditorAsks:
    """Lines typed on a terminal; Tab completes what is known, also after a comma."""

    def __init__(self) -> None:
        from prompt_toolkit import PromptSession

        self._session: PromptSession[str] = PromptSession()

    def line(self, choices: Sequence[str] = (), default: str = "") -> str | None:
        from prompt_toolkit.completion import WordCompleter

        completer = WordCompleter(list(choices), WORD=True) if choices else None
        try:
            return self._session.prompt("> ", completer=completer, complete_while_typing=False)
        except (EOFError, KeyboardInterrupt):
            return None
