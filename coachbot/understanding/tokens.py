"""Text to tokens whose spans lie in the text as it was written."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

LONGEST = 6_000

_TOKEN = re.compile(
    r"(?<![0-9a-z])[a-z]{1,2}\d{1,2}(?![0-9a-z])|[a-z]+(?:'[a-z]+)*|\d+(?:[.,]\d+)?|[^\s\w]|\w"
)
_REPEATED = re.compile(r"(.)\1{2,}")


class _Fold(dict[int, str]):
    """One character to one plain lower-case character, so that places stay the same."""

    def __missing__(self, code: int) -> str:
        char = chr(code)
        low = char.lower()
        if char in "’‘ʼ`´":
            plain = "'"
        elif char in "–—−‐‑‒":
            plain = "-" if char in "‐‑" else "–"
        elif char in "“”„":
            plain = '"'
        elif char in "½":
            plain = "½"
        elif char in "→":
            plain = ","
        elif 0xD800 <= code <= 0xDFFF or unicodedata.category(char) in {"Cc", "Cf", "Co", "Cn"}:
            plain = "\n" if char in "\n\r\v\f\x85" else " "
        else:
            base = unicodedata.normalize("NFKD", low)[:1]
            plain = base if len(low) == 1 or base.isascii() else low[:1]
        if len(self) < 5_000:
            self[code] = plain
        return plain


_FOLD = _Fold()


@dataclass(frozen=True, slots=True)
class Token:
    """A written word, number or sign: folded ``text``, and its span in the original."""

    text: str
    start: int
    end: int

    @property
    def is_word(self) -> bool:
        return "a" <= self.text[0] <= "z"


def fold(text: str) -> str:
    """Lower case, plain quotes, no accents, controls as spaces; as long as the text."""
    return text.translate(_FOLD)


def cut(text: str) -> str:
    """The part of a very long text that is read: up to a word's end near ``LONGEST``."""
    if len(text) <= LONGEST:
        return text
    space = max(text.rfind(" ", 0, LONGEST), text.rfind("\n", 0, LONGEST))
    return text[: space if space > LONGEST // 2 else LONGEST]


def tokens(folded: str) -> list[Token]:
    """The tokens of a folded text; runs of one letter in words are shortened."""
    found: list[Token] = []
    for match in _TOKEN.finditer(folded):
        word = match.group()
        if len(word) > 3 and _REPEATED.search(word):
            word = _REPEATED.sub(r"\1\1", word)
        found.append(Token(word, match.start(), match.end()))
    return found
