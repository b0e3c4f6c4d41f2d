"""A case in the words of a climber. Voices and phrases are data (``rules/telling.yaml``)."""

from __future__ import annotations

import re
from collections.abc import Sequence
from random import Random

from coachbot.case import Known
from coachbot.engine.model import Value
from coachbot.knowledge.book import RuleBook, Study
from coachbot.knowledge.conditions import told as told_value
from coachbot.knowledge.model import Voice

_FORMS = {
    "first": {"I": "I", "me": "me", "my": "my", "am": "am", "have": "have", "was": "was",
              "do": "do", "dont": "don't", "s": "", "es": ""},
    "third": {"I": "she", "me": "her", "my": "her", "am": "is", "have": "has", "was": "was",
              "do": "does", "dont": "doesn't", "s": "s", "es": "es"},
}  # fmt: skip
_MOST_ADDED = 2
_AFTER_TROUBLE = {"climber": 0, "problem": 1, "move": 2, "talk": 4}


def phrases(study: Study, fact: str, value: Value) -> Sequence[str]:
    """The phrases for one value of a fact; empty when it cannot be told."""
    by_value = study.telling.facts.get(fact, {})
    return by_value.get("number") or by_value.get(told_value(value)) or ()


def tell(book: RuleBook, study: Study, known: Sequence[Known], number: int, messy: bool) -> str:
    """The case in one voice. The same number tells the same facts in the same words.

    ``messy`` shuffles what is told and mixes in sentences that have nothing to do with it.
    """
    random = Random(f"told {number}")
    voice = study.telling.voices[random.choice(sorted(study.telling.voices))]
    order = list(known)
    if messy:
        random.shuffle(order)
        order = _after(study, order)
    else:
        order.sort(key=lambda k: _place(book, k))
    sentences: list[str] = []
    added: list[str] = []
    onto: int | None = None
    for k in order:
        phrase = random.choice(list(phrases(study, k.fact, k.value)))
        text = _filled(phrase.replace("{value}", _shown(book, k)), voice.person)
        if text.startswith("+"):
            added.append(text[1:].strip())
        else:
            if k.fact == "trouble" and onto is None:
                onto = len(sentences)
            sentences.append(text)
    _attach(sentences, added, onto)
    if messy:
        for stray in random.sample(voice.strays, k=min(len(voice.strays), random.choice((1, 2)))):
            sentences.insert(random.randint(0, len(sentences)), stray)
    return _joined(voice, sentences, random)


def _after(study: Study, order: Sequence[Known]) -> list[Known]:
    """The order with each fact that follows upon another right after it."""
    follows = [k for k in order if any(o.fact == study.after.get(k.fact) for o in order)]
    told: list[Known] = []
    for k in order:
        if k not in follows:
            told += [k, *(f for f in follows if study.after[f.fact] == k.fact and f not in told)]
    return told


def _place(book: RuleBook, k: Known) -> int:
    return 1 if k.fact == "trouble" else _AFTER_TROUBLE[book.facts[k.fact].about]


def _shown(book: RuleBook, k: Known) -> str:
    if book.facts[k.fact].kind == "grade":
        return book.ladder.steps[int(k.value)].v
    return told_value(k.value)


def _filled(phrase: str, person: str) -> str:
    forms = _FORMS[person]
    if person == "third":
        phrase = re.sub(r"([^aeiou])y\{s\}", r"\1ies", phrase)
    return re.sub(r"\{(\w+)\}", lambda found: forms.get(found[1], found[0]), phrase)


def _attach(sentences: list[str], added: Sequence[str], onto: int | None) -> None:
    """Added parts go onto the sentence of the trouble, two at most; others stand alone."""
    for i, part in enumerate(added):
        if onto is not None and i < _MOST_ADDED:
            sentences[onto] = f"{sentences[onto]} {part}"
        else:
            sentences.append(f"it is {part}")


def _joined(voice: Voice, sentences: Sequence[str], random: Random) -> str:
    text = sentences[0]
    for sentence in sentences[1:]:
        text += random.choice(voice.joins) + sentence
    begin, end = random.choice(voice.begins), random.choice(voice.ends)
    text = f"{begin} {text}".strip() if begin else text
    text = re.sub(r"(^|[.!?] )(\w)", lambda m: m[1] + m[2].upper(), text)
    text = re.sub(r"(, |[aA]nd )(It|We|The|They|My)\b", lambda m: m[1] + m[2].lower(), text)
    if not voice.lower:
        return text + end
    return re.sub(r"\bI am\b", "i'm", text).lower() + end
