"""Values that a message nearly says: how much of any of their phrases stands in one clause.

Where nothing was heard for a fact and it has to be asked, the likeliest answers come first.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence

from coachbot.knowledge.phrases import Element, Phrase, parse

from .matching import Line

CLEARLY = 1.5


class Nearly:
    """The phrases of one fact, by the words that they need."""

    def __init__(self, words: Mapping[str, Sequence[str]]) -> None:
        phrases = [(value, parse(text)) for value, texts in words.items() for text in texts]
        self._phrases = [(value, _needed(p)) for value, p in phrases if not p.blocks]
        counts = Counter(t for _, needed in self._phrases for e in needed for t in _terminals(e))
        every = len(self._phrases)
        self._weights = [
            [min(math.log((every + 1) / counts[t]) for t in _terminals(e)) for e in needed]
            for _, needed in self._phrases
        ]
        self._by: dict[str, list[tuple[int, int]]] = defaultdict(list)
        for i, (_, needed) in enumerate(self._phrases):
            for j, element in enumerate(needed):
                for terminal in _terminals(element):
                    self._by[terminal].append((i, j))

    def rank(self, line: Line) -> tuple[str, ...]:
        """The values of which something is said, the nearest first."""
        worths = self._worths(line)
        return tuple(sorted(worths, key=lambda value: -worths[value]))

    def answer(self, line: Line) -> str | None:
        """The one value that is clearly nearer than any other, or None."""
        worths = self._worths(line)
        first, second, *_ = (*sorted(worths.values(), reverse=True), 0.0, 0.0)
        clear = first > CLEARLY * second
        return max(worths, key=lambda value: worths[value]) if clear else None

    def _worths(self, line: Line) -> dict[str, float]:
        best: dict[str, float] = {}
        for terminals in _by_clause(line).values():
            there: dict[int, set[int]] = defaultdict(set)
            for terminal in terminals:
                for i, j in self._by.get(terminal, ()):
                    there[i].add(j)
            for i, places in there.items():
                value, weights = self._phrases[i][0], self._weights[i]
                said = sum(weights[j] for j in places)
                worth = said * said / sum(weights)
                if worth > best.get(value, 0.0):
                    best[value] = worth
        return best


def _needed(phrase: Phrase) -> tuple[Element, ...]:
    """The distinct elements that must be said."""
    said = (e for p in phrase.parts if not p.absent for e in p.elements)
    return tuple(dict.fromkeys(e for e in said if not e.optional and not e.gap))


def _terminals(element: Element) -> Iterable[str]:
    return dict.fromkeys(option[0] for option in element.options)


def _by_clause(line: Line) -> Mapping[int, set[str]]:
    found: dict[int, set[str]] = defaultdict(set)
    for terminal, places in line.found.items():
        for start, _ in places:
            found[line.clause[start]].add(terminal)
    return found
