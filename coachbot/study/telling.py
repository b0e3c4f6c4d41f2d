"""A case in the words of a climber. Voices and phrases are data (``rules/telling.yaml``)."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from random import Random

from coachbot.case import Known
from coachbot.engine.model import Value
from coachbot.knowledge.book import RuleBook, Study
from coachbot.knowledge.conditions import told as told_value
from coachbot.knowledge.model import Voice

_I = {"I": "I", "me": "me", "my": "my", "am": "am", "have": "have", "was": "was",
      "do": "do", "dont": "don't", "s": "", "es": ""}  # fmt: skip
_SHE = {"I": "she", "me": "her", "my": "her", "am": "is", "have": "has", "was": "was",
        "do": "does", "dont": "doesn't", "s": "s", "es": "es"}  # fmt: skip
_HE = {**_SHE, "I": "he", "me": "him", "my": "his"}
TROUBLE = "trouble"
_OTHER, _SETTING = "move", "setting"
_JOINED, _ADDED, _SHORT = 0.5, 0.6, 0.75
_LONG = 60


def phrases(study: Study, fact: str, value: Value) -> Sequence[str]:
    """The phrases for one value of a fact; empty when it cannot be told."""
    by_value = study.telling.facts.get(fact, {})
    return by_value.get("number") or by_value.get(told_value(value)) or ()


def tell(book: RuleBook, study: Study, known: Sequence[Known], number: int, messy: bool) -> str:
    """The case in one voice. The same number tells the same facts in the same words.

    ``messy`` mixes in sentences that have nothing to do with it.
    """
    random = Random(f"told {number}")
    telling = study.telling
    voice = telling.voices[random.choice(sorted(telling.voices))]
    forms = _I if voice.person == "first" else random.choice((_SHE, _HE))
    story = _Story(book, study, voice, forms, random)
    groups = _grouped(study, _in_order(study, known, random))
    parts: list[list[str]] = []
    for name in random.choice(telling.orders):
        clauses = story.clauses(groups.get(name, ()), groups)
        if clauses:
            parts.append(story.sentences(name, clauses, first=not parts))
    if messy and voice.strays:
        for stray in random.sample(voice.strays, k=random.choice((1, 1, 2))):
            parts.insert(random.randint(0 if len(parts) < 2 else 1, len(parts)), [stray])
    stuck = any(k.fact == TROUBLE for k in known)
    return story.whole([s for part in parts for s in part], stuck)


class _Story:
    """One telling: the voice, the person, and the random choices."""

    def __init__(
        self,
        book: RuleBook,
        study: Study,
        voice: Voice,
        forms: Mapping[str, str],
        random: Random,
    ) -> None:
        self._book, self._study, self._voice = book, study, voice
        self._forms, self._random = forms, random
        self._said: set[tuple[str, Value]] = set()

    def clauses(self, known: Sequence[Known], groups: Mapping[str, Sequence[Known]]) -> list[str]:
        """What is said of some facts; the first trouble may take a fact of another group on."""
        told: list[str] = []
        for k in known:
            if (k.fact, k.value) in self._said:
                continue
            self._said.add((k.fact, k.value))
            clause = self._phrase(k, added=False)
            if k.fact == TROUBLE and not told and self._random.random() < _ADDED:
                clause += self._added(groups)
            told.append(clause)
        return told

    def sentences(self, group: str, clauses: Sequence[str], first: bool) -> list[str]:
        """Clauses of one group as sentences of one or two clauses."""
        lead = "" if first else self._random.choice(self._voice.leads.get(group, [""]))
        made: list[str] = []
        joined = True
        for clause in clauses:
            fits = made and len(made[-1]) + len(clause) < _LONG and made[-1][-1] != "?"
            if fits and not joined and clause[-1] != "?" and self._random.random() < _JOINED:
                made[-1] += self._random.choice(self._voice.joins) + clause
                joined = True
            else:
                made.append(clause)
                joined = " and " in clause or "," in clause
        return [lead + made[0], *made[1:]]

    def whole(self, sentences: Sequence[str], stuck: bool) -> str:
        """All sentences with a beginning and an end, with capitals or without."""
        voice, random = self._voice, self._random
        begin = random.choice([*voice.begins, *(voice.begins_stuck if stuck else ())])
        asks = any(s.endswith("?") for s in sentences)
        end = "" if asks else random.choice((stuck and voice.ends_stuck) or voice.ends)
        text = sentences[0]
        for sentence in sentences[1:]:
            text += (" " if text[-1] == "?" else random.choice(voice.stops)) + sentence
        if not voice.lower or end:
            text += "" if text[-1] in "?!." else "."
        text = f"{begin} {text}" if begin and begin[-1] in ".!?," else f"{begin} {text}".strip()
        text = f"{text} {end}".strip()
        if voice.short_forms and random.random() < _SHORT:
            text = _shortened(text, self._study.telling.short_forms)
        if voice.lower:
            return text.lower()
        return re.sub(r"(^|[.!?] )([a-z])", lambda m: m[1] + m[2].upper(), text)

    def _added(self, groups: Mapping[str, Sequence[Known]]) -> str:
        """One fact of the move or the setting, as what is added to a clause."""
        for k in (*groups.get(_OTHER, ()), *groups.get(_SETTING, ())):
            found = [p for p in phrases(self._study, k.fact, k.value) if p.startswith("+")]
            if found and (k.fact, k.value) not in self._said:
                self._said.add((k.fact, k.value))
                return " " + self._filled(self._random.choice(found)[1:].strip(), k)
        return ""

    def _phrase(self, k: Known, added: bool) -> str:
        found = [p for p in phrases(self._study, k.fact, k.value) if p.startswith("+") == added]
        if found:
            return self._filled(self._random.choice(found), k)
        alone = phrases(self._study, k.fact, k.value)[0]
        return self._filled(f"it is {alone[1:].strip()}", k)

    def _filled(self, phrase: str, k: Known) -> str:
        phrase = phrase.replace("{value}", _shown(self._book, k))
        phrase = phrase.replace("{time}", _time(k.value))
        if self._forms["s"]:
            phrase = re.sub(r"([^aeiou])y\{s\}", r"\1ies", phrase)
        return re.sub(r"\{(\w+)\}", lambda found: self._forms.get(found[1], found[0]), phrase)


def _in_order(study: Study, known: Sequence[Known], random: Random) -> list[Known]:
    """Facts in a random order, each that follows upon another right after it."""
    order = random.sample(list(known), k=len(known))
    follows = [k for k in order if any(o.fact == study.after.get(k.fact) for o in order)]
    told: list[Known] = []
    for k in order:
        if k not in follows:
            told += [k, *(f for f in follows if study.after[f.fact] == k.fact and f not in told)]
    return told


def _grouped(study: Study, known: Iterable[Known]) -> dict[str, list[Known]]:
    """Facts by the group that they are told in, those that a group names before others."""
    place = {fact: name for name, facts in study.telling.groups.items() for fact in facts}
    found: dict[str, list[Known]] = {}
    for k in known:
        found.setdefault(place.get(k.fact, _OTHER), []).append(k)
    for told in found.values():
        told.sort(key=lambda k: study.after.get(k.fact, k.fact) not in place)
    return found


def _shown(book: RuleBook, k: Known) -> str:
    if book.facts[k.fact].kind == "grade":
        return book.ladder.steps[int(k.value)].v
    return told_value(k.value)


def _time(months: Value) -> str:
    """A number of months as it is said: "8 months", "a year", "3 years"."""
    if isinstance(months, str | bool):
        return str(months)
    if months == 1:
        return "a month"
    if months == 12:
        return "a year"
    return f"{months // 12:g} years" if months % 12 == 0 and months else f"{months:g} months"


def _shortened(text: str, forms: Mapping[str, str]) -> str:
    """The text in short forms, never at the end of a sentence, where nobody says them."""

    def short(found: re.Match[str]) -> str:
        said = found[0]
        by = forms.get(said) or forms[said[0].lower() + said[1:]]
        return by[0].upper() + by[1:] if said[0].isupper() else by

    wanted = "|".join(map(re.escape, sorted(forms, key=len, reverse=True)))
    return (
        re.sub(rf"\b(?:{wanted})\b(?=[ ,])", short, text, flags=re.IGNORECASE) if wanted else text
    )
