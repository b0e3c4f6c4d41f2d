"""What every suggestion speaks of: the meanings of its texts, weighed by where they stand.

Worked out once for a rule folder; it can be kept between starts.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.model import Hearing

from .hearing import Ear, Heard

NOW, DRILL, SKILL, WHY = 1.0, 0.6, 0.4, 0.4


@dataclass(frozen=True, slots=True)
class Profile:
    """Meanings of a suggestion with their weight, and whether it denies them; and pairs.

    ``cue`` are the meanings of the cue alone.
    """

    single: Mapping[str, tuple[float, bool]]
    cue: Mapping[str, bool]
    pairs: Mapping[frozenset[str], float]


@dataclass(frozen=True, slots=True)
class Profiles:
    """Profiles by rule, the worth of each meaning (0 to 1), and every word that is known.

    A meaning is worth the more, the fewer suggestions share it.
    """

    of: Mapping[str, Profile]
    worth: Mapping[str, float]
    words: frozenset[str]


def profiles_of(book: RuleBook, ear: Ear) -> Profiles:
    """The profiles of all suggestions of a rule book that has a study part."""
    assert book.study is not None
    hear = cache(ear.hear)  # rules of one skill share its phrases
    found = {
        r.id: _profile(book, book.study.hearing, hear, r.id)
        for r in book.rules.values()
        if r.rule.suggest
    }
    count = Counter(key for p in found.values() for key in p.single)
    total = len(found)
    worth = {k: math.log((total + 1) / (n + 1)) / math.log(total + 1) for k, n in count.items()}
    return Profiles(found, worth, frozenset(_words(book, book.study.hearing, ear)))


def _profile(book: RuleBook, hearing: Hearing, hear: Callable[[str], Heard], rule: str) -> Profile:
    """What a suggestion speaks of, by its cue, its drill, its skill's words and its reasons."""
    read = book.rules[rule]
    suggestion = read.rule.suggest
    assert suggestion is not None
    parts: list[tuple[float, Iterable[str]]] = [
        (NOW, [suggestion.now]),
        (SKILL, hearing.skills.get(suggestion.skills[0], ())),
        (DRILL, [suggestion.drill, suggestion.dose or ""]),
        (WHY, [read.rule.why, suggestion.works_when]),
    ]
    single: dict[str, tuple[float, bool]] = {}
    pairs: dict[frozenset[str], float] = {}
    for weight, texts in parts:
        for text in texts:
            heard = hear(text)
            for token in heard.meaning:
                single.setdefault(token.key, (weight, token.denied_by is not None))
            for pair in heard.pairs():
                pairs.setdefault(pair, weight)
    cue = {key: denies for key, (weight, denies) in single.items() if weight == NOW}
    return Profile(single, cue, pairs)


def _words(book: RuleBook, hearing: Hearing, ear: Ear) -> Iterator[str]:
    """Every word of the rules' own texts and of the words that are heard."""
    for read in book.rules.values():
        if read.rule.suggest:
            for text in (read.rule.suggest.now, read.rule.suggest.drill, read.rule.why):
                yield from ear.words(text)
    lists = [*hearing.same.values(), *hearing.skills.values(), *hearing.loads.values()]
    for phrase in (p for phrases in lists for p in phrases):
        yield from ear.words(phrase)
