"""Free words of a trainee as tokens: what is said, what is denied, what holds only perhaps.

All words that mean something here are data (``rules/hearing.yaml``).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import snowballstemmer
from rapidfuzz import fuzz, process

from coachbot.knowledge.model import Hearing

_WORD = re.compile(r"[a-z0-9]+(?:['-][a-z0-9]+)*")
_SENTENCE_END = re.compile(r"[.!?;:\n]+")
_GAP = 2
_SCOPE = 6
_REACH = 3
_CLOSE = 3
_LISTED = 6
_LONG_WORD = 5
_ALIKE = 84
_EXACT = "="


@dataclass(frozen=True, slots=True)
class Token:
    """One word: its stem, the word that stands for its meaning, and how it is said.

    ``denied_by`` is the index of the negation above it, if any. ``empty`` words carry no
    meaning of their own; ``perhaps`` ones stand under a condition.
    """

    word: str
    stem: str
    key: str
    sentence: int
    clause: int
    empty: bool = False
    denied_by: int | None = None
    perhaps: bool = False


@dataclass(frozen=True, slots=True)
class Match:
    """A phrase found in the tokens, ``at`` their indexes."""

    phrase: str
    at: tuple[int, ...]
    denied: bool
    perhaps: bool


@dataclass(frozen=True, slots=True)
class Heard:
    """An answer as tokens, in order."""

    text: str
    tokens: tuple[Token, ...] = field(default=())

    def pairs(self) -> frozenset[frozenset[str]]:
        """Meanings said close together in one clause, two by two."""
        tokens = list(self.meaning)
        return frozenset(
            frozenset((t.key, u.key))
            for i, t in enumerate(tokens)
            for u in tokens[i + 1 : i + 1 + _REACH]
            if u.clause == t.clause and u.key != t.key
        )

    @property
    def meaning(self) -> Iterator[Token]:
        """The tokens that carry meaning."""
        return (t for t in self.tokens if not t.empty)


class Ear:
    """Turns text into tokens and finds phrases in them."""

    def __init__(self, hearing: Hearing) -> None:
        self._stemmer = snowballstemmer.stemmer("english")
        self._stems: dict[str, str] = {}
        self._phrases: dict[str, tuple[str, ...]] = {}
        self._known: list[str] = []
        self._known_stems: frozenset[str] = frozenset()
        self._mendings: dict[str, str] = {}
        self._same = {self.stem(w): key for key, words in hearing.same.items() for w in words}
        self._empty = frozenset(map(self.stem, hearing.empty))
        self._negations = _Beginnings(hearing.negations)
        self._turns = _Beginnings(hearing.turns)
        self._later = [tuple(p.split()) for p in hearing.later]
        self._conditions = _Beginnings(hearing.conditions)
        self._despite = _Beginnings(hearing.despite)

    def stem(self, word: str) -> str:
        """The stem of a word, by the Snowball stemmer for English."""
        if word not in self._stems:
            self._stems[word] = self._stemmer.stemWord(word.replace("'", ""))
        return self._stems[word]

    def _stems_of(self, phrase: str) -> tuple[str, ...]:
        if phrase not in self._phrases:
            words = [w if w[0] == _EXACT else self.stem(w) for w in phrase.lower().split()]
            self._phrases[phrase] = tuple(words)
        return self._phrases[phrase]

    def key(self, word: str) -> str:
        """The word that stands for the meaning of another."""
        stem = self.stem(word)
        return self._same.get(stem, stem)

    def know(self, words: Iterable[str]) -> None:
        """Words that may be meant when a word is misspelt."""
        self._known = sorted({w for w in words if len(w) >= _LONG_WORD})
        self._known_stems = frozenset(map(self.stem, self._known))

    def _mended(self, word: str) -> str:
        """A word that nobody knows as the known word that it is nearly written like."""
        if len(word) < _LONG_WORD or not self._known:
            return word
        if self.stem(word) in self._same or self.stem(word) in self._known_stems:
            return word
        if word not in self._mendings:
            found = process.extractOne(word, self._known, scorer=fuzz.ratio, score_cutoff=_ALIKE)
            self._mendings[word] = found[0] if found else word
        return self._mendings[word]

    @staticmethod
    def words(text: str) -> list[str]:
        """The words of a text as they are written."""
        return _WORD.findall(text.lower().replace("\N{RIGHT SINGLE QUOTATION MARK}", "'"))

    def hear(self, text: str) -> Heard:
        """Any text as tokens; never raises."""
        tokens: list[Token] = []
        clause = 0
        plain = text.lower().replace("\N{RIGHT SINGLE QUOTATION MARK}", "'")
        for sentence, part in enumerate(_SENTENCE_END.split(plain)):
            pieces = [[self._mended(w) for w in _WORD.findall(p)] for p in part.split(",")]
            denied_by: int | None = None
            for i, words in enumerate(pieces):
                if not _goes_on_listing(pieces, i):
                    denied_by = None
                heard = list(self._clause(words, sentence, clause, len(tokens), denied_by))
                tokens += heard
                denied_by = heard[-1].denied_by if heard else None
                clause += 1
        return Heard(text, tuple(self._under_conditions(tokens)))

    def _clause(
        self, words: Sequence[str], sentence: int, clause: int, at: int, denied_by: int | None
    ) -> Iterator[Token]:
        """The tokens of one clause; a list may go on under the negation of the clause before."""
        for i, word in enumerate(words):
            if denied_by is not None and i - max(denied_by - at, 0) > _SCOPE:
                denied_by = None
            if self._turns.at(words, i) and not self._negations.at(words, i):
                denied_by = None
            if self._negations.at(words, i):
                denied_by = at + i
            stem = self.stem(word)
            empty = stem in self._empty or denied_by == at + i
            by = None if denied_by == at + i else denied_by
            yield Token(word, stem, self.key(word), sentence, clause, empty, by)

    def _under_conditions(self, tokens: Sequence[Token]) -> Iterator[Token]:
        """Words after "if" hold perhaps, and so do those just before it in its clause.

        A sentence that begins with a condition is one as a whole.
        """
        words = [t.word for t in tokens]
        begins = {
            i
            for i in range(len(words))
            if self._conditions.at(words, i) and not (i and self._despite.at(words, i - 1))
        }
        if not begins:
            yield from tokens
            return
        for i, token in enumerate(tokens):
            same_clause = any(tokens[c].clause == token.clause for c in begins)
            first = next((j for j, t in enumerate(tokens) if t.sentence == token.sentence), i)
            after = any(
                c <= i
                and tokens[c].sentence == token.sentence
                and (c == first or tokens[c].clause == token.clause)
                for c in begins
            )
            if same_clause or after:
                yield Token(
                    token.word, token.stem, token.key, token.sentence, token.clause,
                    token.empty, token.denied_by, True,
                )  # fmt: skip
            else:
                yield token

    def find_in_order(self, heard: Heard, phrases: Iterable[str]) -> Iterator[Match]:
        """Phrases word by word, by stems, with small gaps, in one sentence."""
        there = {form for t in heard.tokens for form in (t.stem, _EXACT + t.word)}
        for phrase in phrases:
            wanted = self._stems_of(phrase)
            if not there.issuperset(wanted):
                continue
            for start in range(len(heard.tokens)):
                at = self._run(heard.tokens, wanted, start)
                if at:
                    yield _match(phrase, at, heard.tokens)

    def denied_closely(self, heard: Heard, match: Match) -> bool:
        """Whether a negation outside the phrase stands just before it, or it is put off."""
        tokens, first = heard.tokens, match.at[0]
        over = {n for i in match.at if (n := tokens[i].denied_by) is not None} - set(match.at)
        near = any(tokens[n].clause == tokens[first].clause and first - n <= _CLOSE for n in over)
        return near or self.put_off(heard, match)

    def put_off(self, heard: Heard, match: Match) -> bool:
        """Whether words such as "before you" stand right before a phrase."""
        words = [t.word for t in heard.tokens]
        first = match.at[0]
        return any(
            words[first - len(p) - gap : first - gap] == list(p)
            for p in self._later
            for gap in (0, 1)
            if first - len(p) - gap >= 0
        )

    @staticmethod
    def _run(tokens: Sequence[Token], wanted: Sequence[str], start: int) -> tuple[int, ...]:
        at: list[int] = []
        i = start
        for stem in wanted:
            last = i + (_GAP if at else 0)
            while i <= last and i < len(tokens) and not _is(stem, tokens[i]):
                i += 1
            if i > last or i >= len(tokens) or tokens[i].sentence != tokens[start].sentence:
                return ()
            at.append(i)
            i += 1
        return tuple(at)


def _is(wanted: str, token: Token) -> bool:
    return wanted == (_EXACT + token.word if wanted[0] == _EXACT else token.stem)


def _goes_on_listing(pieces: Sequence[Sequence[str]], i: int) -> bool:
    """Whether a piece between commas is one more of a list: "no hangs, pull-ups or campusing"."""
    if i == 0 or not pieces[i]:
        return False
    joined = len(pieces[i]) <= _LISTED and bool({"and", "or", "nor"} & set(pieces[i]))
    short = len(pieces[i]) <= _LISTED - 2
    inside = i + 1 < len(pieces) or (i > 1 and len(pieces[i - 1]) <= _LISTED - 2)
    return joined or (short and inside)


class _Beginnings:
    """Phrases of words, found where they begin; by their first word, for speed."""

    def __init__(self, phrases: Iterable[str]) -> None:
        self._by_word: dict[str, list[tuple[str, ...]]] = {}
        for phrase in phrases:
            words = tuple(phrase.split())
            self._by_word.setdefault(words[0], []).append(words[1:])

    def at(self, words: Sequence[str], i: int) -> bool:
        """Whether one of the phrases stands at a place."""
        return any(
            len(words) > i + len(rest) and all(map(_fits, rest, words[i + 1 :]))
            for rest in self._by_word.get(words[i], ())
        )


def _fits(pattern: str, word: str) -> bool:
    return word.endswith(pattern[1:]) and len(word) > 4 if pattern[0] == "*" else word == pattern


def _match(phrase: str, at: tuple[int, ...], tokens: Sequence[Token]) -> Match:
    """A phrase is denied when a negation outside it stands above one of its words."""
    outside = [t for i in at if (t := tokens[i]).denied_by is not None and t.denied_by not in at]
    return Match(phrase, at, bool(outside), any(tokens[i].perhaps for i in at))
