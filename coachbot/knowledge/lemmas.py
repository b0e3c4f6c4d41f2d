"""Words to their plain form: irregular forms from a list, the rest by the Snowball stemmer."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import snowballstemmer

_STEMMER = snowballstemmer.stemmer("english")


def _irregular() -> dict[str, str]:
    text = (Path(__file__).parent / "irregular.txt").read_text("utf-8")
    pairs = [line.split() for line in text.splitlines() if line and not line.startswith("#")]
    return {form: plain for form, plain, *_ in pairs}


_IRREGULAR = _irregular()


@lru_cache(maxsize=20_000)
def lemma(word: str) -> str:
    """The plain form of one lower-case word; words of one form share it."""
    plain = _IRREGULAR.get(word)
    if plain is not None:
        word = plain
    if len(word) > 40:
        return word
    return str(_STEMMER.stemWord(word))
