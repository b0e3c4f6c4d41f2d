"""Misspelt words: put right only when they are in no word list and one known word is near.

Distances are those of Damerau and Levenshtein in the restricted form (a swap of two
neighbours counts one).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from functools import lru_cache
from importlib import resources

from rapidfuzz import process
from rapidfuzz.distance import OSA

SHORTEST = 5
LONG = 8
MOST_KEPT = 4_000


@lru_cache(maxsize=1)
def english() -> frozenset[str]:
    """Common English words of four letters and more; see data/NOTICE.txt."""
    data = resources.files("coachbot.understanding") / "data" / "english.txt"
    return frozenset(data.read_text("ascii").split())


class Speller:
    """Knows the words of the phrases with their usual endings."""

    def __init__(
        self,
        words: Mapping[str, int],
        pairs: Iterable[tuple[str, str]],
        small: Collection[str] = (),
    ) -> None:
        """``words`` with how often the phrases have them; ``pairs`` are neighbours in phrases.

        No word is corrected to a ``small`` one.
        """
        self._pairs = {one + two: f"{one} {two}" for one, two in pairs}
        self._known: dict[str, int] = {}
        for word, count in words.items():
            if len(word) >= SHORTEST - 1 and word.isalpha():
                for form in {word} if word in small else {word, *_forms(word)}:
                    self._known[form] = self._known.get(form, 0) + count
        self._lengths: dict[int, list[str]] = {}
        for word in sorted(self._known.keys() - set(small)):
            self._lengths.setdefault(len(word), []).append(word)
        self._kept: dict[str, str | None] = {}

    def knows(self, word: str) -> bool:
        """Whether the word stands in a phrase, a usual form of one, or common English."""
        return word in self._known or word in english()

    def right(self, word: str) -> str | None:
        """The word that was meant, or None when it is right or nothing is near enough."""
        if len(word) < SHORTEST or len(word) > 24 or word in english():
            return None
        if word in self._known:
            return self._apart(word)
        if word not in self._kept:
            if len(self._kept) >= MOST_KEPT:
                self._kept.clear()
            self._kept[word] = self._apart(word) or self._nearest(word)
        return self._kept[word]

    def _apart(self, word: str) -> str | None:
        """Two known neighbours written as one word: "heelhooks" is "heel hooks"."""
        found = self._pairs.get(word)
        if found is None:
            for ending in ("s", "ing", "ed"):
                if word.endswith(ending) and (base := self._pairs.get(word[: -len(ending)])):
                    return base + ending
        return found

    def _nearest(self, word: str) -> str | None:
        far = 2 if len(word) >= LONG else 1
        pool = [w for n in range(len(word) - far, len(word) + far + 1)
                for w in self._lengths.get(n, ())]  # fmt: skip
        near = process.extract(word, pool, scorer=OSA.distance, score_cutoff=far, limit=8)
        if not near:
            return None
        best = min(distance for _, distance, _ in near)
        names = [name for name, distance, _ in near if distance == best]
        same_start = [n for n in names if n[0] == word[0]]
        if not same_start and best > 1:
            return None
        return max(same_start or names, key=lambda n: (self._known[n], n))


def _forms(word: str) -> set[str]:
    if word.endswith("e"):
        return {word + "s", word + "d", word[:-1] + "ing"}
    if word.endswith("y") and word[-2] not in "aeiou":
        return {word[:-1] + "ies", word[:-1] + "ied", word + "ing"}
    doubled = word + word[-1] if word[-1] in "bdgmnpt" and word[-2] in "aeiou" else word
    return {word + "s", doubled + "ed", doubled + "ing"}
