"""Facts, values, questions and words that nothing needs, or that nothing can give."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from coachbot.advice.inference import ASK
from coachbot.engine.logic import Key, key, operand, tests_of
from coachbot.engine.model import Condition, Op, Value
from coachbot.knowledge.book import NOT_ALLOWED, RuleBook
from coachbot.knowledge.conditions import told
from coachbot.knowledge.model import Fact
from coachbot.review.findings import Audited, Check, Finding, Severity


@dataclass(frozen=True, slots=True)
class Use:
    """What conditions name of each fact, whose mere presence they test, and what is concluded."""

    named: Mapping[str, frozenset[Key]]
    tested: frozenset[str]
    present: frozenset[str]
    made: Mapping[str, frozenset[Key]]

    @classmethod
    def of(cls, book: RuleBook) -> Use:
        named: dict[str, set[Key]] = defaultdict(set)
        tested: set[str] = set()
        present: set[str] = set()
        made: dict[str, set[Key]] = defaultdict(set)
        whens: list[Condition] = [*book.ask_when.values()]
        whens += [p.when for p in book.properties.values()]
        for rule in book.rules.values():
            for engine_rule in rule.for_engine():
                whens.append(engine_rule.when)
                for name, value in engine_rule.then:
                    made[name].add(key(value))
        for when in whens:
            for test in tests_of(when):
                tested.add(test.attribute)
                named[test.attribute].update(map(key, operand(test)))
                if test.op is Op.KNOWN:
                    present.add(test.attribute)
        # What the ranking itself reads.
        loads = {
            load for r in book.rules.values() if r.rule.suggest for load in r.rule.suggest.loads
        }
        named[NOT_ALLOWED].update(map(key, loads))
        tested.add(NOT_ALLOWED)
        for value, declared in (
            book.facts["tried"].values if "tried" in book.facts else {}
        ).items():
            if declared.skill:
                named["tried"].add(key(value))
        return cls(_frozen(named), frozenset(tested), frozenset(present), _frozen(made))

    def idle(self, name: str, value: Value) -> bool:
        """Whether no condition can tell the value from any other."""
        return name not in self.present and key(value) not in self.named.get(name, frozenset())


def _frozen(sets: Mapping[str, set[Key]]) -> Mapping[str, frozenset[Key]]:
    return {name: frozenset(keys) for name, keys in sets.items()}


def unread_fact(audited: Audited) -> Iterator[Finding]:
    use = Use.of(audited.book)
    for name in audited.book.facts:
        if name not in use.tested:
            gives = [
                word
                for word, there in (
                    ("is asked", audited.book.facts[name].asked),
                    ("has words", name in audited.book.words),
                    ("is concluded", name in use.made),
                )
                if there
            ]
            also = f", though it {' and '.join(gives)}" if gives else ""
            yield Finding(
                "unread-fact", Severity.UNTIDY, (name,), audited.places.fact(name),
                f'no condition reads "{name}"{also}.',
                "Write a rule that needs it, or take the fact out.",
            )  # fmt: skip


def missing_fact(audited: Audited) -> Iterator[Finding]:
    """A fact that conditions read and that nothing can give: a dead end."""
    use, book = Use.of(audited.book), audited.book
    for name, fact in book.facts.items():
        given = fact.asked or name in book.words or name in use.made
        if name in use.tested and not given:
            yield Finding(
                "missing-fact", Severity.WRONG, (name,), audited.places.fact(name),
                f'conditions read "{name}", but it has no words, is not asked, and no rule '
                "concludes it.",
                "Give it words or a question, or let a rule conclude it.",
            )  # fmt: skip


def idle_value(audited: Audited) -> Iterator[Finding]:
    for name, value in _idle(audited):
        if not audited.book.words.get(name, {}).get(value):
            yield _about_value(
                audited, "idle-value", name, value,
                f'no condition names "{name} is {value}".',
                "Write a rule that needs it, or take the value out.",
            )  # fmt: skip


def idle_words(audited: Audited) -> Iterator[Finding]:
    for name, value in _idle(audited):
        phrases = audited.book.words.get(name, {}).get(value)
        if phrases:
            yield Finding(
                "idle-words", Severity.UNTIDY, (f"{name} is {value}",),
                audited.places.words(name, value),
                f'"{name} is {value}" is read from {len(phrases)} phrases, but no condition names '
                "it.",
                "Write a rule that needs it, or take value and words out.",
                also=(audited.places.fact(name, value),), within=name,
            )  # fmt: skip


def idle_conclusion(audited: Audited) -> Iterator[Finding]:
    use = Use.of(audited.book)
    makers: dict[tuple[str, str], list[str]] = defaultdict(list)
    for rule in audited.book.rules.values():
        for engine_rule in rule.for_engine():
            for name, value in engine_rule.then:
                if name in use.tested and use.idle(name, value):
                    makers[name, told(value)].append(rule.id)
    for (name, value), rules in makers.items():
        if not audited.looks_at(*rules):
            continue
        reads = "suggestion loads it" if name == NOT_ALLOWED else "condition names it"
        yield Finding(
            "idle-conclusion", Severity.DOUBTFUL, (f"{name} is {value}",),
            audited.places.rule(rules[0], ("then",)),
            f'"{name} is {value}" is concluded ({", ".join(rules)}), but no {reads}.',
            "Let a suggestion name what it loads." if name == NOT_ALLOWED
            else "Write a rule that needs it, or take the conclusion out.",
            also=tuple(audited.places.rule(rule, ("then",)) for rule in rules[1:]), within=name,
        )  # fmt: skip


def wordless_value(audited: Audited) -> Iterator[Finding]:
    """A value that rules name, that no rule concludes, and that no words or question give."""
    use, book = Use.of(audited.book), audited.book
    for name, fact in book.facts.items():
        words = book.words.get(name, {})
        if fact.asked or not words:
            continue
        for value in _values(fact):
            if (
                not words.get(value)
                and key(value) not in use.made.get(name, frozenset())
                and not use.idle(name, value)
            ):
                yield _about_value(
                    audited, "wordless-value", name, value,
                    f'conditions name "{name} is {value}", but no words mean it.',
                    "Give it words.",
                )  # fmt: skip


def idle_question(audited: Audited) -> Iterator[Finding]:
    """Questions that make sense in no case, or whose answer leads to nothing that is said."""
    solver, book = audited.cases.solver, audited.book
    speaking = [
        rule.id
        for rule in book.rules.values()
        if rule.rule.suggest or rule.rule.caution or rule.rule.reply or rule.rule.stop
    ]
    matters = solver.cone_of(
        [e.name for r in speaking for e in book.rules[r].for_engine() if e.name in solver.fires],
        [NOT_ALLOWED],
    )
    for name, fact in book.facts.items():
        if not fact.asked:
            continue
        place = audited.places.fact(name)
        if name not in matters:
            yield Finding(
                "idle-question", Severity.DOUBTFUL, (name,), place,
                f'"{fact.question}" is asked, but no answer changes any advice.',
                "Write a rule that needs the answer, or do not ask.",
            )  # fmt: skip
        elif ASK + name in solver.fires:
            unknown = [-solver.said(name, v) for v in audited.cases.space[name].values]
            if not solver.possible(audited.cases.asking(name), *unknown):
                yield Finding(
                    "idle-question", Severity.DOUBTFUL, (name,), place,
                    f'"{fact.question}" is never asked: whenever its "ask_when" holds, it is '
                    "answered already.",
                    'Mend its "ask_when".',
                )  # fmt: skip


def _idle(audited: Audited) -> Iterator[tuple[str, str]]:
    use = Use.of(audited.book)
    for name, fact in audited.book.facts.items():
        if name in use.tested and fact.kind in {"choice", "several"}:
            for value in _values(fact):
                if use.idle(name, value) and key(value) not in use.made.get(name, frozenset()):
                    yield name, value


def _values(fact: Fact) -> tuple[str, ...]:
    return tuple(fact.values) if fact.kind in {"choice", "several"} else ()


def _about_value(
    audited: Audited, check: str, name: str, value: str, message: str, repair: str
) -> Finding:
    severity = next(c.severity for c in CHECKS if c.name == check)
    place = audited.places.fact(name, value)
    return Finding(
        check, severity, (f"{name} is {value}",), place, message, repair, within=name
    )  # fmt: skip


CHECKS = (
    Check(
        "missing-fact", Severity.WRONG,
        "can each fact that a condition reads be said, asked or concluded?", False, missing_fact,
        whole=True,
    ),
    Check(
        "wordless-value", Severity.DOUBTFUL,
        "are there words for each value that conditions name?", False, wordless_value, whole=True,
    ),
    Check(
        "idle-conclusion", Severity.DOUBTFUL,
        "is each conclusion read by some condition?", True, idle_conclusion,
    ),
    Check(
        "idle-question", Severity.DOUBTFUL,
        "can each question be asked, and its answer matter?", True, idle_question, whole=True,
    ),
    Check(
        "unread-fact", Severity.UNTIDY,
        "is each fact read by some condition?", True, unread_fact, whole=True,
    ),
    Check(
        "idle-value", Severity.UNTIDY,
        "is each value named by some condition?", True, idle_value, whole=True,
    ),
    Check(
        "idle-words", Severity.UNTIDY,
        "do words lead to values that some condition names?", True, idle_words, whole=True,
    ),
)  # fmt: skip
