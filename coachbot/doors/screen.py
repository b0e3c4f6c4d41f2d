"""Text fitted to the width of the screen; plain, so that it reads the same without colour."""

from __future__ import annotations

import os
import shutil
import sys
import textwrap

NARROWEST = 40
WIDEST = 100


def width() -> int:
    """Columns to write in: the terminal's, within limits; 80 when there is no terminal."""
    columns = shutil.get_terminal_size((80, 24)).columns if sys.stdout.isatty() else 80
    return max(NARROWEST, min(columns, WIDEST))


def colour() -> bool:
    """Whether colour is wanted: on a real terminal, unless NO_COLOR is set."""
    return sys.stdout.isatty() and "NO_COLOR" not in os.environ and os.environ.get("TERM") != "dumb"


def fitted(text: str, columns: int) -> str:
    """Wrap each line to the width, keeping its indent and hanging under a number or label."""
    lines: list[str] = []
    for line in text.splitlines():
        indent = len(line) - len(line.lstrip())
        body = line.lstrip()
        head = body.split(" ", 1)[0]
        numbered = head[:-1].isdigit() and head.endswith(".")
        lettered = len(head) == 2 and head[0].isalpha() and head[1] == ")"
        hang = indent + (len(head) + 1 if numbered or lettered else 0)
        wrapped = textwrap.wrap(
            body,
            columns,
            initial_indent=" " * indent,
            subsequent_indent=" " * min(hang, columns // 2),
            break_long_words=True,
            break_on_hyphens=False,
        )
        lines += wrapped or [""]
    return "\n".join(lines)


def printable(text: str) -> str:
    """Text that any terminal can show: control characters and lone surrogates replaced."""
    safe = text.encode("utf-8", "replace").decode("utf-8")
    return "".join(
        c if c in "\n\t" or c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in safe
    )


def write(text: str) -> None:
    """Print fitted text; what the output's encoding lacks is replaced, never an error."""
    write_as_it_is(fitted(printable(text), width()) + "\n")


def write_as_it_is(text: str) -> None:
    """Print lines that must not be wrapped, such as a drawing."""
    shown = printable(text)
    encoding = sys.stdout.encoding or "utf-8"
    sys.stdout.write(shown.encode(encoding, "replace").decode(encoding))
    sys.stdout.flush()
