"""How well messages are understood and answered: ``python -m tests.messages.score``.

Facts are scored as (fact, value, denied) triples. Of the held-back set only figures are
ever shown, never a message, an id or a confusion, so that nobody tunes on it.
"""

from __future__ import annotations

import argparse
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple, Protocol

from coachbot.engine.model import Value
from coachbot.knowledge.book import RuleBook, load
from coachbot.knowledge.places import shipped_rules

from . import model
from .model import Message, Noted

if TYPE_CHECKING:
    from coachbot.advice import Coach

ALARMS = frozenset({"pain_sign", "alarm"})
NOT_SCORED = frozenset({"act"})
ANSWERED_EITHER_WAY = "O01"
OUT_OF_SCOPE = "scope"
FIRST = 3


class _Heard(Protocol):
    @property
    def fact(self) -> str: ...
    @property
    def value(self) -> Value: ...
    @property
    def denied(self) -> bool: ...


Reads = Callable[[str], Iterable[_Heard]]


@dataclass(slots=True)
class Counts:
    """Right, read but not stated, and stated but not read."""

    right: int = 0
    extra: int = 0
    missed: int = 0

    @property
    def precision(self) -> float:
        return self.right / (self.right + self.extra) if self.right + self.extra else 1.0

    @property
    def recall(self) -> float:
        return self.right / (self.right + self.missed) if self.right + self.missed else 1.0

    @property
    def f1(self) -> float:
        p, r = self.precision, self.recall
        return 2 * p * r / (p + r) if p + r else 0.0


@dataclass(slots=True)
class Difference:
    """What one message states but was not read, and the other way round."""

    message: Message
    right: set[Noted]
    missed: set[Noted]
    extra: set[Noted]


@dataclass(slots=True)
class FactScore:
    """The facts of one set of messages."""

    all: Counts = field(default_factory=Counts)
    by_fact: dict[str, Counts] = field(default_factory=lambda: defaultdict(Counts))
    differences: list[Difference] = field(default_factory=list)

    @property
    def alarms(self) -> Counts:
        """The counts of warning signs and alarms."""
        whole = Counts()
        for fact in ALARMS:
            one = self.by_fact.get(fact, Counts())
            whole.right += one.right
            whole.extra += one.extra
            whole.missed += one.missed
        return whole

    def unnoticed(self) -> list[Message]:
        """Messages with a warning sign or an alarm of which none at all was read."""
        return [
            d.message
            for d in self.differences
            if _alarming(d.missed) and not _alarming(d.right | d.extra)
        ]

    def raised_for_nothing(self) -> list[Message]:
        """Messages without any warning sign or alarm in which one was read."""
        return [
            d.message
            for d in self.differences
            if _alarming(d.extra) and not _alarming(d.message.facts)
        ]


def _alarming(values: Iterable[Noted]) -> bool:
    return any(n.fact in ALARMS and not n.denied for n in values)


def compare(book: RuleBook, message: Message, heard: Iterable[_Heard]) -> Difference:
    """One message against what was read from it.

    Numbers agree within half a unit or one percent. The denial of another value of a
    fact whose value is stated counts neither way.
    """
    read = {model.plain(h.fact, h.value, h.denied) for h in heard if h.fact not in NOT_SCORED}
    left = set(read)
    right: set[Noted] = set()
    for wanted in message.facts:
        same = next((n for n in left if _same(wanted, n)), None)
        if same is not None:
            left.discard(same)
            right.add(wanted)
    single = {n.fact: n.value for n in message.facts if not n.denied and _single(book, n)}
    extra = {
        n
        for n in left
        if not any(_same(m, n) for m in message.maybe | message.facts)
        and not (n.denied and single.get(n.fact, n.value) != n.value)
    }
    return Difference(message, right, set(message.facts) - right, extra)


def _single(book: RuleBook, n: Noted) -> bool:
    return n.fact in book.single_valued


def _same(a: Noted, b: Noted) -> bool:
    if a.fact != b.fact or a.denied != b.denied:
        return False
    if isinstance(a.value, str | bool) or isinstance(b.value, str | bool):
        return a.value is b.value if isinstance(a.value, bool) else a.value == b.value
    return abs(a.value - b.value) <= max(0.5, abs(a.value) / 100)


def score_facts(book: RuleBook, messages: Sequence[Message], reads: Reads) -> FactScore:
    """Read every message and count."""
    score = FactScore()
    for message in messages:
        difference = compare(book, message, reads(message.say))
        score.differences.append(difference)
        for name, values in (
            ("right", difference.right),
            ("missed", difference.missed),
            ("extra", difference.extra),
        ):
            for n in values:
                for counts in (score.all, score.by_fact[n.fact]):
                    setattr(counts, name, getattr(counts, name) + 1)
    return score


def confusions(score: FactScore) -> Iterator[tuple[str, str, str]]:
    """What was read in place of what: (stated, read, message id); a dash stands for nothing."""
    for d in score.differences:
        left = set(d.extra)
        for wanted in sorted(d.missed, key=str):
            instead = next((n for n in sorted(left, key=str) if n.fact == wanted.fact), None)
            left.discard(instead or wanted)
            yield told(wanted), told(instead), d.message.id
        for n in sorted(left, key=str):
            yield told(None), told(n), d.message.id


def told(n: Noted | None) -> str:
    """A value in the form of a condition."""
    if n is None:
        return "-"
    shown = {True: "yes", False: "no"}[n.value] if isinstance(n.value, bool) else n.value
    return f"{n.fact} is {'not ' if n.denied else ''}{shown}"


class Answer(NamedTuple):
    """What came back for a message: skills of each suggestion in order, stop, scope."""

    suggestions: tuple[tuple[str, ...], ...]
    stop: bool
    in_scope: bool
    rules: tuple[str, ...] = ()


Answers = Callable[[Message], Answer]


@dataclass(slots=True)
class Shares:
    """How many of how many were answered well, for the skills and at once, stop and scope."""

    skilled: int = 0
    skilled_first: int = 0
    with_skills: int = 0
    stop_right: int = 0
    scope_right: int = 0
    with_scope: int = 0
    messages: int = 0

    @property
    def skills(self) -> float:
        """Share with an expected skill in the first three suggestions."""
        return self.skilled / self.with_skills if self.with_skills else 1.0

    @property
    def at_once(self) -> float:
        """Share with an expected skill in the first suggestion."""
        return self.skilled_first / self.with_skills if self.with_skills else 1.0

    @property
    def stop(self) -> float:
        return self.stop_right / self.messages if self.messages else 1.0

    @property
    def scope(self) -> float:
        return self.scope_right / self.with_scope if self.with_scope else 1.0


class Miss(NamedTuple):
    """A message that was not answered as a good coach would: what went wrong, and the answer."""

    message: Message
    wrong: tuple[str, ...]
    answer: Answer


@dataclass(slots=True)
class AdviceScore:
    """The answers to one set of messages, over all and by family of situations."""

    all: Shares = field(default_factory=Shares)
    by_family: dict[str, Shares] = field(default_factory=lambda: defaultdict(Shares))
    misses: list[Miss] = field(default_factory=list)
    stops_missed: int = 0
    stops_for_nothing: int = 0


def score_advice(book: RuleBook, messages: Sequence[Message], answers: Answers) -> AdviceScore:
    """Answer every message and count."""
    score = AdviceScore()
    for message in messages:
        answer = answers(message)
        family = book.situations[message.situation].family
        wrong: list[str] = []
        shares = (score.all, score.by_family[family])
        stop_right = answer.stop == message.stop
        if not stop_right:
            wrong.append("stop")
            score.stops_missed += message.stop
            score.stops_for_nothing += answer.stop
        scope = message.situation != ANSWERED_EITHER_WAY and not _mixed(message, family)
        scope_right = scope and answer.in_scope == (family != OUT_OF_SCOPE)
        if scope and not scope_right:
            wrong.append("scope")
        shown = [set(s) & set(message.skills) for s in answer.suggestions[:FIRST]]
        if message.skills and not any(shown):
            wrong.append("skills")
        for s in shares:
            s.messages += 1
            s.stop_right += stop_right
            s.with_scope += scope
            s.scope_right += scope_right
            s.with_skills += bool(message.skills)
            s.skilled += any(shown)
            s.skilled_first += bool(shown and shown[0])
        if wrong:
            score.misses.append(Miss(message, tuple(wrong), answer))
    return score


def _mixed(message: Message, family: str) -> bool:
    """Whether something out of scope is said beside something that can be answered."""
    return family == OUT_OF_SCOPE and any(n.fact != "off_topic" for n in message.facts)


def reads_with(book: RuleBook) -> Reads:
    """The understanding of the program."""
    from coachbot.understanding import Reader

    reader = Reader(book)
    return lambda text: reader.read(text).heard


def answers_with(book: RuleBook, coach: Coach) -> Answers:
    """The first answer of a fresh talk to what a message says."""
    from coachbot.talk import Talk
    from coachbot.understanding import Reader

    reader = Reader(book)

    def answer(message: Message) -> Answer:
        out = Talk(coach, reader).turn(message.say)
        found = out.suggestions
        return Answer(
            tuple(s.skills for s in found), out.stop, out.in_scope, tuple(s.rule for s in found)
        )

    return answer


def answers_from_facts(book: RuleBook, coach: Coach) -> Answers:
    """The advice for what a message states, without reading it: the rules alone."""
    from coachbot.case import Case, Known

    def answer(message: Message) -> Answer:
        known = [Known(*n) for n in sorted(message.facts, key=str)]
        case = Case().with_known(known, book.single_valued)
        advice, _ = coach.advise(case, ask=False)
        found = advice.suggestions
        talk_only = bool(known) and all(k.fact == "off_topic" for k in known)
        return Answer(
            tuple(s.skills for s in found), advice.stop, not talk_only, tuple(s.rule for s in found)
        )

    return answer


def facts_report(name: str, score: FactScore, secret: bool, show: bool) -> Iterator[str]:
    """Lines of figures; messages are named only when the set is not ``secret``."""
    whole, alarms = score.all, score.alarms
    yield f"{name}: {len(score.differences)} messages"
    yield _row("all facts", whole)
    yield _row("alarms", alarms)
    unnoticed, for_nothing = score.unnoticed(), score.raised_for_nothing()
    yield f"  messages with an alarm and none read: {_named(unnoticed, secret)}"
    yield f"  messages without an alarm and one read: {_named(for_nothing, secret)}"
    for fact, counts in sorted(score.by_fact.items(), key=lambda item: item[1].f1):
        yield _row(fact, counts)
    if show and not secret:
        yield from _confusion_lines(score)


def _confusion_lines(score: FactScore) -> Iterator[str]:
    where: dict[tuple[str, str], list[str]] = defaultdict(list)
    for wanted, instead, message in confusions(score):
        where[wanted, instead].append(message)
    yield "  stated -> read"
    for (wanted, instead), ids in sorted(where.items(), key=lambda item: -len(item[1])):
        yield f"  {len(ids):3}  {wanted} -> {instead}  ({', '.join(ids[:6])})"


def _named(messages: Sequence[Message], secret: bool) -> str:
    ids = ", ".join(m.id for m in messages)
    return str(len(messages)) if secret or not ids else f"{len(messages)} ({ids})"


def _row(name: str, c: Counts) -> str:
    figures = f"P {c.precision:.3f}  R {c.recall:.3f}  F1 {c.f1:.3f}"
    return f"  {name:22} {figures}   right {c.right}, extra {c.extra}, missed {c.missed}"


def advice_report(name: str, score: AdviceScore, secret: bool, show: bool) -> Iterator[str]:
    """Lines of shares; messages are named only when the set is not ``secret``."""
    yield f"{name}, answered: {score.all.messages} messages"
    yield f"  {'':12} {'first 3':>8} {'first':>8} {'stop':>8} {'scope':>8}   messages"
    rows: Mapping[str, Shares] = {"all": score.all, **dict(sorted(score.by_family.items()))}
    for family, s in rows.items():
        shares = " ".join(f"{x:8.3f}" for x in (s.skills, s.at_once, s.stop, s.scope))
        yield f"  {family:12} {shares}   {s.messages}"
    yield f"  stops missed: {score.stops_missed}, stops for nothing: {score.stops_for_nothing}"
    if secret:
        return
    kinds = Counter(w for m in score.misses for w in m.wrong)
    yield f"  not as wanted: {dict(kinds)}"
    if show:
        for miss in score.misses:
            got = "; ".join(
                f"{rule} [{', '.join(skills)}]"
                for rule, skills in zip(
                    miss.answer.rules[:FIRST], miss.answer.suggestions[:FIRST], strict=False
                )
            )
            yield f"  {miss.message.id} ({', '.join(miss.wrong)}): {miss.message.say}"
            yield f"      wanted {', '.join(miss.message.skills) or 'none'}; got {got or 'nothing'}"


def main(argv: Sequence[str] | None = None) -> None:
    """Print the figures of the sets that were asked for; both when none was named."""
    parser = argparse.ArgumentParser(prog="python -m tests.messages.score", description=__doc__)
    parser.add_argument("--dev", action="store_true", help="the development set")
    parser.add_argument("--held-back", action="store_true", help="the held-back set, figures only")
    parser.add_argument("--for-words", action="store_true", help="what words are written from")
    parser.add_argument("--second-eyes", action="store_true", help="the second coach's opinions")
    parser.add_argument("--all", action="store_true", help="all of them")
    parser.add_argument("--confusions", action="store_true", help="name what went wrong")
    parser.add_argument("--end-to-end", action="store_true", help="score the answers too")
    parser.add_argument(
        "--from-facts", action="store_true", help="answer what is annotated: the rules alone"
    )
    wants = parser.parse_args(argv)
    book = load(shipped_rules())
    one = wants.dev or wants.held_back or wants.second_eyes or wants.for_words
    chosen: list[tuple[str, Sequence[Message], bool]] = []
    if wants.dev or wants.all or not one:
        chosen.append(("development set", model.development(book), False))
    if wants.held_back or wants.all or not one:
        chosen.append(("held-back set", model.held_back(book), True))
    if wants.for_words or wants.all:
        chosen.append(("for words", model.for_words(book), False))
    if wants.second_eyes or wants.all:
        chosen.append(("second opinions", model.second_eyes(book), False))
    for name, messages, secret in chosen:
        if not wants.from_facts:
            facts = score_facts(book, messages, reads_with(book))
            print("\n".join(facts_report(name, facts, secret, wants.confusions)))
        if wants.end_to_end or wants.from_facts:
            from coachbot.advice import Coach

            coach = Coach(book)
            way = answers_from_facts if wants.from_facts else answers_with
            advice = score_advice(book, messages, way(book, coach))
            coach.close()
            print("\n".join(advice_report(name, advice, secret, wants.confusions)))


if __name__ == "__main__":
    main()
