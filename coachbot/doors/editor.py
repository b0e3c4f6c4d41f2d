"""The line editor of the chat: history, search, completion, a help line."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from time import monotonic

from prompt_toolkit import PromptSession
from prompt_toolkit.completion import CompleteEvent, Completer, Completion
from prompt_toolkit.document import Document
from prompt_toolkit.history import FileHistory, History, InMemoryHistory
from prompt_toolkit.styles import Style

from . import screen

STEERING = (
    "why", "why not", "what if", "more", "that worked", "that did not help", "can't do that",
    "what did you understand", "undo", "another move", "another problem", "card", "help", "bye",
)  # fmt: skip
HELP_LINE = "why · what if · that worked · more · undo · help · bye"
TWICE_WITHIN = 2.0


class EditorLines:
    """Lines typed on a terminal. Ctrl-C leaves the line, twice leaves the chat; Ctrl-D too."""

    def __init__(self, folder: Path) -> None:
        self._completer = _Completer()
        self._session: PromptSession[str] = PromptSession(
            history=_history(folder),
            completer=self._completer,
            complete_while_typing=False,
            bottom_toolbar=HELP_LINE,
            style=Style.from_dict({"bottom-toolbar": "noreverse" if not screen.colour() else ""}),
            enable_history_search=True,
        )
        self._left_at = -TWICE_WITHIN

    def ask(self, choices: tuple[str, ...]) -> str | None:
        self._completer.choices = choices
        while True:
            try:
                return self._session.prompt("> ")
            except EOFError:
                return None
            except KeyboardInterrupt:
                now = monotonic()
                if now - self._left_at < TWICE_WITHIN:
                    return None
                self._left_at = now
                screen.write("(Ctrl-C once more leaves.)")


def _history(folder: Path) -> History:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        path = folder / "history"
        path.touch()
    except OSError:
        return InMemoryHistory()
    return FileHistory(str(path))


class _Completer(Completer):
    """The choices of the open question first, then what steers the talk."""

    choices: tuple[str, ...] = ()

    def get_completions(self, document: Document, event: CompleteEvent) -> Iterable[Completion]:
        typed = document.text_before_cursor.lstrip().lower()
        for text in (*self.choices, *STEERING):
            if text.lower().startswith(typed):
                yield Completion(text, start_position=-len(document.text_before_cursor.lstrip()))
