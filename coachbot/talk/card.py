"""The take-away card: the cue, the drill, the dose, when to come back."""

from __future__ import annotations

from collections.abc import Sequence

from coachbot.advice import Suggested, Understood


def card(suggested: Suggested, understood: Sequence[Understood]) -> str:
    """The card as plain text."""
    about = "; ".join(u.sentence for u in understood if not u.denied)
    lines = [
        "TO TAKE AWAY",
        f"About:     {about}",
        f"The cue:   {suggested.now}",
        f"The drill: {suggested.drill}",
        f"It works:  {suggested.works_when}",
    ]
    if suggested.dose:
        lines.append(f"How much:  {suggested.dose}")
    lines += [f"Take care: {c}" for c in suggested.cautions]
    lines.append("Come back: after three visits, or at once when anything hurts.")
    return "\n".join(lines)
