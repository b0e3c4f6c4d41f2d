"""Messages of climbers with what a careful reader would note in them.

The development set stands in this folder, the held-back set in ``held_back``, the second
opinions in ``second_eyes`` and what words are written from in ``for_words``. ``README.md``
has the conventions of annotation.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from coachbot.engine.model import Value
from coachbot.knowledge import reading
from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.conditions import Unreadable
from coachbot.knowledge.problems import BrokenRules, Problem

HERE = Path(__file__).resolve().parent
HELD_BACK = HERE / "held_back"
SECOND_EYES = HERE / "second_eyes"
FOR_WORDS = HERE / "for_words"
FOLLOWS = HERE / "follows.yaml"
NO_MESSAGES = {"follows.yaml", "floor.yaml"}
SAID_TOO = frozenset({"wall", "hurts", "new_climber"})
SMALL_TALK = frozenset({"greeting", "thanks", "goodbye"})

Given = Mapping[str, str | list[str]]


class Noted(NamedTuple):
    """One value of a fact that a text states, or denies. Yes-no facts are never denied."""

    fact: str
    value: Value
    denied: bool


class _Written(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    id: str
    voice: str
    situation: str
    say: str = Field(min_length=1)
    facts: dict[str, str | list[str] | None] = {}
    maybe: dict[str, str | list[str] | None] = {}
    skills: list[str] = []
    stop: bool = False
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class Message:
    """A message: what it states, what may be read into it, and what a good coach does.

    ``skills`` are those of which the first three suggestions carry at least one.
    """

    id: str
    situation: str
    say: str
    facts: frozenset[Noted]
    maybe: frozenset[Noted]
    skills: tuple[str, ...]
    stop: bool
    reason: str | None = None


def development(book: RuleBook) -> tuple[Message, ...]:
    """The messages that words and rules may be written against."""
    files = sorted(f for f in HERE.glob("*.yaml") if f.name not in NO_MESSAGES)
    return read(book, files)


def held_back(book: RuleBook) -> tuple[Message, ...]:
    """The messages that nobody who writes words or rules looks at."""
    return read(book, sorted(HELD_BACK.glob("*.yaml")))


def for_words(book: RuleBook) -> tuple[Message, ...]:
    """Messages from which words are written; they measure nothing."""
    return read(book, sorted(FOR_WORDS.glob("*.yaml")))


def second_eyes(book: RuleBook) -> tuple[Message, ...]:
    """Situations with a second coach's opinion of what to say first."""
    return read(book, sorted(SECOND_EYES.glob("*.yaml")))


def read(book: RuleBook, files: Iterable[Path]) -> tuple[Message, ...]:
    """Messages from files. Raises BrokenRules with every mistake, each with its place."""
    follows = Follows(book)
    problems: list[Problem] = []
    found: list[Message] = []
    for file in files:
        doc = reading.read(file, f"{file.parent.name}/{file.name}", file.parent)
        problems += doc.problems
        for i, tree in enumerate(doc.tree if isinstance(doc.tree, list) else []):
            try:
                found.append(_message(book, follows, tree))
            except ValidationError as error:
                for e in error.errors():
                    place = (i, *(p for p in e["loc"] if isinstance(p, str | int)))
                    problems.append(doc.problem(place, f"{e['msg']} ({e['loc']})"))
            except Unreadable as error:
                problems.append(doc.problem((i, "facts"), str(error)))
    twice = [i for i, n in Counter(m.id for m in found).items() if n > 1]
    problems += (Problem("messages", 1, 1, f'the id "{i}" is used twice') for i in twice)
    if problems:
        raise BrokenRules(problems)
    return tuple(found)


def _message(book: RuleBook, follows: Follows, tree: Any) -> Message:
    written = _Written.model_validate(tree)
    facts = frozenset(noted(book, written.facts, one_each=True))
    maybe = frozenset(noted(book, written.maybe, one_each=False))
    for names, known, what in (
        ([written.situation], book.situations, "situation"),
        (written.skills, book.skills, "skill"),
    ):
        for name in names:
            if name not in known:
                raise Unreadable(f'{written.id}: unknown {what} "{name}"')
    return Message(
        written.id,
        written.situation,
        " ".join(written.say.split()),
        facts,
        maybe | follows.of(facts),
        tuple(written.skills),
        written.stop,
        written.reason,
    )


def noted(
    book: RuleBook, given: Mapping[str, str | list[str] | None], one_each: bool
) -> Iterable[Noted]:
    """The values of an annotation through the book's grammar. Raises Unreadable."""
    for name, texts in given.items():
        held = 0
        for text in [texts] if isinstance(texts, str) else (texts or []):
            denied = text.startswith("not ")
            value = book.grammar.value(name, text.removeprefix("not "))
            fact = book.facts[name]
            if fact.concluded and name not in SAID_TOO:
                raise Unreadable(f'"{name}" is concluded by rules and never said')
            held += not denied
            if one_each and fact.kind != "several" and held > 1:
                raise Unreadable(f'"{name}" holds one value; two are given')
            yield plain(name, value, denied)


def plain(fact: str, value: Value, denied: bool) -> Noted:
    """A value as it is compared: a denied yes is a no."""
    if isinstance(value, bool) and denied:
        return Noted(fact, not value, False)
    return Noted(fact, value, denied)


class Follows:
    """What another value nearly says too, so that reading it or not counts neither way."""

    def __init__(self, book: RuleBook) -> None:
        doc = reading.read(FOLLOWS, FOLLOWS.name, HERE)
        if not isinstance(doc.tree, dict):
            raise BrokenRules(doc.problems)
        self._always: frozenset[Noted] = frozenset()
        self._when: list[tuple[Callable[[Noted], bool], frozenset[Noted]]] = []
        for sentence, tree in doc.tree.items():
            if not isinstance(tree, dict):
                raise BrokenRules([doc.problem((sentence,), "values by fact are wanted here")])
            values = frozenset(noted(book, tree, one_each=False))  # type: ignore[arg-type]
            if sentence == "always":
                self._always = values
                continue
            test = book.grammar.test(sentence)
            self._when.append((_holds(test.attribute, test.value), values))

    def of(self, facts: frozenset[Noted]) -> frozenset[Noted]:
        """The values that may be read too, less those that are stated."""
        found = set(self._always)
        for holds, values in self._when:
            if any(holds(n) for n in facts):
                found |= values
        if any(n.value not in SMALL_TALK for n in facts):
            found |= {Noted("off_topic", word, False) for word in SMALL_TALK}
        return frozenset(found - facts)


def _holds(fact: str, value: object) -> Callable[[Noted], bool]:
    def holds(n: Noted) -> bool:
        return n.fact == fact and not n.denied and value in (None, n.value)

    return holds
