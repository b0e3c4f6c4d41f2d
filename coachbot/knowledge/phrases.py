"""The small language in which coaches write what climbers say.

A phrase is matched word by word, in order, whatever the ending (``slip`` is also "slipping");
only small words may stand between. Articles and ``my``, ``your``, ``the`` may be left out,
unless they stand in a choice beside other words.

====================  ====================================================================
``foot slip``         both words in order, only small words between them
``jug|bucket``        one of the words (``heel-hook`` with a hyphen is two words)
``(big|good) hold``   one of the words or word groups in the brackets
``(big)``, ``(a|b)?`` may be there or not
``<foot>``            anything listed under that name in concepts.yaml or cues.yaml
``...``               any gap inside the clause
``A & B``             both in one clause, in any order
``A > B``             B after A, in the same clause or one of the next three
``A @ B``             A is done by B: of all that can act (``<figure>``), the one last named before
``A ~ B``             A, with no B in its clause or the two before
``not X``             X said with a no: "can't X", "never X", "without X"
``=left``             exactly this form of the word
``=no X``             a phrase that begins so denies its value: "no pop"
``#``                 a bare number; ``#time``, ``#length``, ``#angle``, ``#grade`` with
                      their units; ``#age``: "14yo"; ``#alone``: a number that counts
                      nothing ("on a 40"); ``#nth``: "third"; ``#aside``: a number alone in
                      brackets; ``#stature``: a length that is a person's height;
                      ``#often``: "twice", or days of the week in a row; ``#years``: a number
                      that can be an age; ``#apart``, ``#level``: such a number, or a grade,
                      that stands in a list on its own; ``#high``: a length from which it is far to
                      fall; ``#low``: one from which it is not
``! X``               X is a false friend: where it stands, no other phrase of this value counts
====================  ====================================================================

Words and numbers are the terminals; a parsed phrase is plain data that knows no text.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice, product

from .lemmas import lemma

NUMBERS = (
    "#", "#age", "#time", "#length", "#angle", "#grade", "#alone", "#nth", "#aside", "#stature",
    "#often", "#years", "#apart", "#level", "#high", "#low",
)  # fmt: skip
ARTICLES = frozenset({"a", "an", "the", "my", "your", "our"})
CONTRACTIONS = {"cannot": "can not", "cant": "can not", "wont": "will not", "dont": "do not",
    "doesnt": "do not", "didnt": "do not", "isnt": "be not", "wasnt": "be not", "arent": "be not",
    "werent": "be not", "aint": "be not", "havent": "have not", "hasnt": "have not",
    "hadnt": "have not", "couldnt": "can not", "wouldnt": "would not", "shouldnt": "should not",
    "neednt": "need not", "mustnt": "must not", "im": "i be", "ive": "i have", "id": "i would",
    "youre": "you be", "theyre": "they be", "hes": "he be", "shes": "she be", "whats": "what be",
    "thats": "that be", "theres": "there be", "gonna": "go to", "wanna": "want to",
    "gotta": "get to", "lemme": "let me", "outta": "out of", "coulda": "can have",
    "dunno": "do not know", "kinda": "kind of", "sorta": "sort of", "cmon": "come on",
    "shouldve": "should have", "wouldve": "would have", "couldve": "can have", "gimme": "give me",
    "couldn": "can not", "doesn": "do not", "didn": "do not", "alot": "a lot", "abit": "a bit",
    "its": "it be", "it's": "it be", "let's": "let us", "dunnow": "do not know",
    "innit": "be it not", "sth": "something", "smth": "something", "w": "with", "n": "and",
    "u": "you", "ur": "your", "bc": "because", "tho": "though", "thru": "through",
    "lil": "little", "wich": "which", "enuf": "enough", "bout": "about"}  # fmt: skip
_ENDINGS = {"n't": " not", "'s": " s", "'m": " be", "'re": " be", "'ve": " have", "'ll": " will",
    "'d": " would"}  # fmt: skip
_BEARERS = frozenset(
    {
        "he",
        "she",
        "it",
        "that",
        "there",
        "what",
        "who",
        "where",
        "here",
        "how",
        "this",
        "everyone",
        "everything",
        "something",
        "somebody",
        "someone",
        "nothing",
    }
)
_IRREGULAR_NOT = {"can't": "can not", "won't": "will not", "shan't": "shall not",
    "ain't": "be not"}  # fmt: skip
_WORD = re.compile(r"^(?:=?[a-z0-9'’-]+|,)$")
MOST_FORMS = 4000
FIGURE = "figure"


class BadPhrase(ValueError):
    """A phrase that cannot be read; the message says why."""


@dataclass(frozen=True, slots=True)
class Element:
    """One place in a phrase: any of ``options`` (each a run of terminals), or a free gap."""

    options: tuple[tuple[str, ...], ...]
    optional: bool = False
    gap: bool = False


@dataclass(frozen=True, slots=True)
class Part:
    """One side of an ``&``, ``>``, ``@`` or ``~``.

    ``denied``: it must stand under a negation; ``later``: after the side before it; ``done``:
    it is who does the side before it; ``absent``: it must not be there.
    """

    elements: tuple[Element, ...]
    denied: bool = False
    later: bool = False
    done: bool = False
    absent: bool = False


@dataclass(frozen=True, slots=True)
class Phrase:
    """A parsed phrase; ``blocks`` marks a false friend."""

    text: str
    parts: tuple[Part, ...]
    blocks: bool = False


def expand(word: str) -> tuple[str, ...]:
    """A lower-case written word to the plain words in it: ``can't`` gives can, not."""
    word = word.replace("’", "'")
    known = CONTRACTIONS.get(word) or _IRREGULAR_NOT.get(word)
    if known:
        return tuple(known.split())
    if "'" in word:
        if word in _ENDINGS:
            return (_ENDINGS[word].strip(),)
        for ending, apart in _ENDINGS.items():
            if word.endswith(ending) and len(word) > len(ending):
                if ending == "'s" and word[:-2] in _BEARERS:
                    return (word[:-2], "be")
                return (*expand(word[: -len(ending)]), *apart.split())
        return (word.replace("'", ""),)
    return (word,)


@lru_cache(maxsize=20_000)
def parse(text: str) -> Phrase:
    """Read one phrase; raises BadPhrase."""
    body = text.strip()
    blocks = body.startswith("!")
    if blocks:
        body = body[1:]
    pieces = re.split(r"\s([&>@~])\s", f" {body} ")
    parts = [_part(pieces[0], text, "&")]
    for sign, piece in zip(pieces[1::2], pieces[2::2], strict=True):
        parts.append(_part(piece, text, sign))
    return Phrase(text, tuple(parts), blocks)


def _part(body: str, text: str, sign: str) -> Part:
    body = body.strip()
    denied = body.startswith("not ")
    elements = [e for piece in _pieces(body[4:] if denied else body, text)
                for e in _element(piece, text)]  # fmt: skip
    while elements and elements[-1].gap:
        elements.pop()
    if not any(not e.optional and not e.gap for e in elements):
        raise BadPhrase(f'"{text}": there is no word that must be said')
    return Part(tuple(elements), denied, sign == ">", sign == "@", sign == "~")


def _pieces(body: str, text: str) -> list[str]:
    """Cut at spaces outside of brackets."""
    if "(" not in body and ")" not in body:
        return body.split()
    found, depth, start = [], 0, 0
    for i, char in enumerate(body + " "):
        depth += (char == "(") - (char == ")")
        if depth < 0:
            break
        if char == " " and depth == 0:
            found.append(body[start:i])
            start = i + 1
    if depth:
        raise BadPhrase(f'"{text}": a bracket is not closed or not opened')
    return [f for f in found if f]


def _element(piece: str, text: str) -> list[Element]:
    if piece == "...":
        return [Element((), gap=True)]
    optional = piece.endswith("?")
    if piece.startswith("(") and piece.rstrip("?").endswith(")"):
        options = _options(piece.rstrip("?")[1:-1], text)
        return _choice(options, optional or "|" not in piece)
    if "(" in piece or ")" in piece:
        raise BadPhrase(f'"{text}": put a space before and after the brackets')
    if "|" in piece:
        return _choice(_options(piece, text), False)
    return [Element(((t,),)) for t in _terminals(piece, text)]


def _choice(options: tuple[tuple[str, ...], ...], optional: bool) -> list[Element]:
    """One element; a choice among articles only is left out, as a single article is."""
    options = tuple(dict.fromkeys(o for o in options if o))
    if not options or all(len(o) == 1 and o[0][1:] in ARTICLES for o in options):
        return []
    return [Element(options, optional)]


def _options(inner: str, text: str) -> tuple[tuple[str, ...], ...]:
    """The runs of terminals on each side of the bars; brackets inside are written out."""
    runs: list[tuple[str, ...]] = []
    for side in _sides(inner):
        if side in ARTICLES:
            runs.append((f"={side}",))
            continue
        if "(" not in side and "." not in side:
            runs.append(tuple(t for word in side.split() for t in _terminals(word, text)))
            continue
        choices: list[tuple[tuple[str, ...], ...]] = []
        for piece in _pieces(side, text):
            if piece == "...":
                raise BadPhrase(f'"{text}": "..." cannot stand inside brackets')
            for e in _element(piece, text):
                choices.append(((), *e.options) if e.optional else e.options)
        for combination in islice(product(*choices), MOST_FORMS):
            runs.append(tuple(t for option in combination for t in option))
    return tuple(runs)


def _sides(inner: str) -> list[str]:
    """Cut at bars outside of brackets."""
    if "(" not in inner:
        return inner.lower().split("|")
    sides, depth, start = [], 0, 0
    for i, char in enumerate(inner + "|"):
        depth += (char == "(") - (char == ")")
        if char == "|" and depth == 0:
            sides.append(inner[start:i].strip().lower())
            start = i + 1
    return sides


def _terminals(word: str, text: str) -> tuple[str, ...]:
    try:
        return _words_of(word)
    except BadPhrase as error:
        raise BadPhrase(f'"{text}": {error}') from None


@lru_cache(maxsize=20_000)
def _words_of(word: str) -> tuple[str, ...]:
    return tuple(_read_word(word.lower()))


def _read_word(word: str) -> Iterator[str]:
    if word.startswith("<"):
        if not re.fullmatch(r"<[a-z0-9_]+>", word):
            raise BadPhrase(f'"{word}" is no <name>')
        yield word
    elif word.startswith("#"):
        if word not in NUMBERS:
            raise BadPhrase(f'"{word}" is no number mark; write {", ".join(NUMBERS)}')
        yield word
    elif not _WORD.match(word):
        raise BadPhrase(f'"{word}" is no plain word')
    elif word.startswith("="):
        yield word
    else:
        for bit in word.split("-"):
            if bit and bit not in ARTICLES:
                yield from (lemma(w) for w in expand(bit))


def concepts_in(phrase: Phrase) -> set[str]:
    """The names in ``<...>`` that the phrase uses, and that of who can act if it asks for that."""
    found = (t for p in phrase.parts for e in p.elements for o in e.options for t in o)
    names = {t[1:-1] for t in found if t.startswith("<")}
    return names | {FIGURE} if any(p.done for p in phrase.parts) else names


def firsts(phrase: Phrase) -> frozenset[str]:
    """The terminals with which the phrase's first word that must be said can start."""
    first = next(e for e in phrase.parts[0].elements if not e.optional and not e.gap)
    return frozenset(option[0] for option in first.options)


def say_the_same(one: Phrase, other: Phrase) -> bool:
    """Whether some wording is allowed by both phrases, element by element."""
    if len(one.parts) != len(other.parts):
        return False
    return all(_parts_meet(a, b) for a, b in zip(one.parts, other.parts, strict=True))


def _parts_meet(one: Part, other: Part) -> bool:
    if (one.denied, one.later, one.done, one.absent) != (
        other.denied,
        other.later,
        other.done,
        other.absent,
    ):
        return False
    if len(one.elements) != len(other.elements):
        return False
    for a, b in zip(one.elements, other.elements, strict=True):
        if a.gap != b.gap or a.optional != b.optional:
            return False
        if not a.gap and not set(a.options) & set(b.options):
            return False
    return True
