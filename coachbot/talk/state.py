"""What stands between two messages of a talk. States are never changed, only followed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from coachbot.case import Case


@dataclass(frozen=True, slots=True)
class State:
    """The case, the open question, what was asked and shown, and what did not serve.

    ``asked`` counts how often each fact was asked for. ``put_aside`` are rules that did
    not help or cannot be done, with what the person said of them. ``worked`` is the rule
    that helped. ``told`` is the last message that told something.
    """

    case: Case = field(default_factory=Case)
    open_ask: str | None = None
    asked: Mapping[str, int] = field(default_factory=dict)
    shown: tuple[str, ...] = ()
    put_aside: Mapping[str, str] = field(default_factory=dict)
    worked: str | None = None
    stopped: bool = False
    told: str = ""

    def asking(self, fact: str | None) -> State:
        """The state with a question put."""
        asked = dict(self.asked)
        if fact is not None:
            asked[fact] = asked.get(fact, 0) + 1
        return replace(self, open_ask=fact, asked=asked)
