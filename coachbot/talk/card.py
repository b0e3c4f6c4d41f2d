"""The take-away card: the cue, the drill, the dose, when to come back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from coachbot.advice import Suggested, Understood

COME_BACK = "after three visits, or at once when anything hurts"


@dataclass(frozen=True, slots=True)
class Card:
    """What a card says, as labelled lines in order."""

    lines: tuple[tuple[str, str], ...]

    def text(self) -> str:
        """The card as plain text."""
        wide = max(len(label) for label, _ in self.lines) + 1
        shown = (f"{label + ':':<{wide}} {line}" for label, line in self.lines)
        return "TO TAKE AWAY\n" + "\n".join(shown)

    def html(self) -> str:
        """The card as a page of its own that prints on a small sheet."""
        rows = "\n".join(
            f"<dt>{escape(label)}</dt><dd>{escape(line)}</dd>" for label, line in self.lines
        )
        return (
            '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
            '<meta name="viewport" content="width=device-width">\n<title>To take away</title>\n'
            "<style>body{font:1.1rem/1.5 serif;max-width:32rem;margin:2rem auto;padding:0 1rem}"
            "dt{font-weight:bold;margin-top:.8rem}dd{margin:0}</style>\n</head>\n<body>\n"
            f"<h1>To take away</h1>\n<dl>\n{rows}\n</dl>\n</body>\n</html>\n"
        )


def card(suggested: Suggested, understood: Sequence[Understood]) -> Card:
    """The card of one suggestion."""
    about = "; ".join(u.sentence for u in understood if not u.denied)
    lines = [
        ("About", about),
        ("The cue", suggested.now),
        ("The drill", suggested.drill),
        ("It works when", suggested.works_when),
    ]
    if suggested.dose:
        lines.append(("How much", suggested.dose))
    lines += [("Take care", c) for c in suggested.cautions]
    lines.append(("Come back", COME_BACK))
    return Card(tuple(lines))
