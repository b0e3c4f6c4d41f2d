"""What a change of rules does to kept conversations, stored messages and sampled cases."""

from __future__ import annotations

import json
import random
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from coachbot.advice import Coach
from coachbot.case import Case, Known
from coachbot.engine import Network
from coachbot.engine.model import RuleSetError
from coachbot.kept_talks import read as read_talk
from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.conditions import Unreadable
from coachbot.knowledge.model import RuleCheck
from coachbot.knowledge.problems import BrokenRules, Problem
from coachbot.review import transcripts
from coachbot.review.rule_tests import Given, case_of, told_case
from coachbot.talk import Talk
from coachbot.talk.talk import ReadsWords
from coachbot.understanding import Reader

from .near_misses import upstream
from .trying import changed_rules, same_words

LONGEST = 10_000
MOST_MESSAGES = 5_000
SAMPLED = 500
SEED = 1


@dataclass(frozen=True, slots=True)
class Told:
    """What was said one after another, and where that stands."""

    place: str
    said: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Minds:
    """A rule book with its coach and its reader of words."""

    book: RuleBook
    coach: Coach
    reader: ReadsWords
    _answered: dict[Told, tuple[str, ...]] = field(default_factory=dict)

    @classmethod
    def of(cls, book: RuleBook, like: Minds | None = None) -> Minds:
        """The minds of a book; the reader of ``like`` serves again when no word differs.

        Raises BrokenRules when the engine cannot run the rules together.
        """
        try:
            coach = Coach(book)
        except RuleSetError as error:
            where = book.folders[-1].name
            raise BrokenRules(Problem(where, 1, 1, p) for p in error.problems) from None
        reader = like.reader if like and same_words(like.book, book) else Reader(book)
        return cls(book, coach, reader)

    def close(self) -> None:
        self.coach.close()

    def talk(self) -> Talk:
        """A new talk."""
        return Talk(self.coach, self.reader)

    def answers(self, told: Told) -> tuple[str, ...]:
        """What is answered to messages said one after another; worked out once."""
        if told not in self._answered:
            talk = self.talk()
            self._answered[told] = tuple(talk.turn(text).say for text in told.said)
        return self._answered[told]


@dataclass(frozen=True, slots=True)
class Different:
    """One answer that is another one: where, what was said, what was and is answered.

    For messages of a conversation the answers are whole texts, for sampled cases the cues
    of the first three suggestions.
    """

    place: str
    said: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Effects:
    """Answers that differ, and how many were looked at, by kind."""

    conversations: tuple[Different, ...] = ()
    messages: tuple[Different, ...] = ()
    cases: tuple[Different, ...] = ()
    looked_at: tuple[int, int, int] = (0, 0, 0)

    @property
    def count(self) -> int:
        return len(self.conversations) + len(self.messages) + len(self.cases)


def kept_conversations(pages: Iterable[Path]) -> Iterator[Told]:
    """The conversations of transcript pages."""
    for page in pages:
        for conversation in transcripts.read(page):
            said = tuple(e.said for e in conversation.exchanges)
            if said:
                yield Told(f"{page.name}: {conversation.title}", said)


def stored_messages(talks: Path, lists: Iterable[Path] = ()) -> Iterator[Told]:
    """The talks kept on this machine, and files with one message a line."""
    count = 0
    for file in sorted(talks.glob("*.jsonl")) if talks.is_dir() else ():
        try:
            entries = list(read_talk(file))
        except OSError:
            continue
        said = tuple(str(e["said"])[:LONGEST] for e in entries if "said" in e)
        if said:
            yield Told(f"talk {file.stem[:15]}", said)
            count += len(said)
        if count >= MOST_MESSAGES:
            return
    for file in lists:
        text = file.read_text(encoding="utf-8", errors="replace")
        for number, line in enumerate(text.splitlines(), 1):
            if line.strip() and count < MOST_MESSAGES:
                yield Told(f"{file.name}:{number}", (_message(line)[:LONGEST],))
                count += 1


def _message(line: str) -> str:
    """A line as it is, or the text of a JSON line of the ``advise --json`` interface."""
    if line.lstrip().startswith("{"):
        try:
            given = json.loads(line)
        except ValueError:
            return line
        if isinstance(given, dict) and isinstance(given.get("text"), str):
            return str(given["text"])
    return line.strip()


def sampled_cases(tests: Mapping[str, RuleCheck], count: int = SAMPLED) -> Iterator[Given]:
    """The cases of all rule tests, and two of them thrown together ``count`` times.

    The same tests give the same sample.
    """
    every = [given for test in tests.values() for given in (*test.fires, *test.silent)]
    yield from every
    chance = random.Random(SEED)
    for _ in range(count if len(every) > 1 else 0):
        one, other = chance.sample(every, 2)
        yield {**other, **one}


def effects(
    before: Minds,
    after: Minds,
    conversations: Sequence[Told] = (),
    messages: Sequence[Told] = (),
    cases: Sequence[Given] = (),
) -> Effects:
    """Everything that is answered otherwise."""
    looked = (sum(len(c.said) for c in conversations), sum(len(m.said) for m in messages))
    return Effects(
        tuple(_talks(before, after, conversations)),
        tuple(_talks(before, after, messages)),
        tuple(_cases(before, after, cases)),
        (*looked, len(cases)),
    )


def _talks(before: Minds, after: Minds, told: Iterable[Told]) -> Iterator[Different]:
    for each in told:
        answers = zip(before.answers(each), after.answers(each), strict=True)
        for text, (was, now) in zip(each.said, answers, strict=True):
            if was != now:
                yield Different(each.place, text, was, now)


def _cases(before: Minds, after: Minds, cases: Iterable[Given]) -> Iterator[Different]:
    """Where the ranking differs. Firings are all that it rests on, so that only cases in which
    a changed rule fires, before or after, are ranked.
    """
    every = {told_case(given): given for given in cases}
    if before.book.facts == after.book.facts:
        changed = changed_rules(before.book, after.book)
        fires = [_Fires(minds.book, changed) for minds in (before, after)]
        every = {n: given for n, given in every.items() if any(f(given) for f in fires)}
        for f in fires:
            f.close()
    for name, given in every.items():
        was, now = _first_three(before, given), _first_three(after, given)
        if was != now:
            yield Different("case", name, was, now)


class _Fires:
    """Tells whether any of some rules fires in a case, by the rules that bear on them alone."""

    def __init__(self, book: RuleBook, ids: Iterable[str]) -> None:
        self._book = book
        self._ids = {i for i in ids if i in book.rules}
        bearing = {r.id: r for i in self._ids for r in upstream(book, book.rules[i])}
        bearing |= {i: book.rules[i] for i in self._ids}
        rules = [e for r in bearing.values() for e in r.for_engine()]
        self._network = Network(rules, book.single_valued)

    def __call__(self, given: Given) -> bool:
        if not self._ids:
            return False
        try:
            run = self._network.run(case_of(self._book, given))
        except Unreadable:
            return True
        return any(f.rule.partition("@")[0] in self._ids for f in run.firings)

    def close(self) -> None:
        self._network.close()


def _first_three(minds: Minds, given: Given) -> str:
    try:
        case = case_of(minds.book, given)
    except Unreadable:
        return "(cannot be said in this vocabulary)"
    known = [Known(n, v) for n, values in case.said.items() for v in values]
    known += [Known(n, v, denied=True) for n, values in case.denied.items() for v in values]
    outcome = minds.coach.infer(Case(tuple(known)))
    ranking = minds.coach.rank(outcome)
    lines = [f"STOP ({ranking.stop})"] if ranking.stop else []
    for i, ranked in enumerate(ranking.suggestions[:3], 1):
        suggestion = minds.book.rules[ranked.rule].rule.suggest
        lines.append(f"{i}. {suggestion.now if suggestion else ''} ({ranked.rule})")
    held = ", ".join(rule for rule, _ in ranking.held_back)
    lines += [f"held back: {held}"] if held else []
    return "\n".join(lines) or "no suggestion"
