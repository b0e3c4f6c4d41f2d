"""What differs in meaning between two rule books, each difference with its smallest case.

Both books run side by side on the same cases: everything that can be said in one of them. What
is told to be alike is alike in every case, and no case smaller than a told one shows the
difference.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from coachbot.engine.logic import distinct, key, tests_of
from coachbot.engine.model import Condition, Value
from coachbot.knowledge.book import ReadRule, RuleBook
from coachbot.knowledge.conditions import told
from coachbot.knowledge.model import Fact

from .cases import Cases, ToldCase, space_of, tell
from .solver import Domain, Solver

Progress = Callable[[str], None]
Conclusion = tuple[str, Value]

# What a rule says or how it weighs; the rest of a rule's fields are notes about it.
SAID = ("caution", "stop", "safety", "reply", "alone", "why")
SUGGESTED = (
    "now", "drill", "works_when", "dose", "cautions", "skills", "loads", "strength", "sure",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Field:
    """A field with what it held before and after; empty when there was nothing."""

    name: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Fires:
    """When something happens in other cases than before: the smallest case of either side."""

    no_longer: ToldCase | None = None
    now_also: ToldCase | None = None

    def __bool__(self) -> bool:
        return self.no_longer is not None or self.now_also is not None


@dataclass(frozen=True, slots=True)
class Changed:
    """A rule of both books that does not mean the same in both.

    ``through`` names the rules by which it changed; it is empty when its own file did.
    ``concludes`` are conclusions that it has lost and won where it fires in both books, with
    the smallest case of that. ``fields`` say otherwise in every case in which it fires, of
    which ``spoken`` is the smallest.
    """

    rule: str
    fires: Fires
    lost: tuple[str, ...] = ()
    won: tuple[str, ...] = ()
    concludes: ToldCase | None = None
    fields: tuple[Field, ...] = ()
    spoken: ToldCase | None = None
    through: tuple[str, ...] = ()

    @property
    def case(self) -> ToldCase | None:
        """The smallest case in which the two differ, None when it fires in none."""
        every = (self.fires.no_longer, self.fires.now_also, self.concludes, self.spoken)
        return min((c for c in every if c is not None), key=lambda c: c.size, default=None)


@dataclass(frozen=True, slots=True)
class Other:
    """A rule that one of the books lacks, and the smallest case in which it fires, if any."""

    rule: str
    case: ToldCase | None


@dataclass(frozen=True, slots=True)
class Asked:
    """A question that is asked in other cases, or with other words, than before."""

    fact: str
    fires: Fires
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Beside:
    """What else differs: names of one kind that are new, gone, or hold something else."""

    kind: str
    added: tuple[str, ...]
    removed: tuple[str, ...]
    changed: tuple[str, ...]

    def __bool__(self) -> bool:
        return bool(self.added or self.removed or self.changed)


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two rule books compared. ``rewritten`` rules mean the same in other words or order, and
    of ``noted`` ones only what is noted about them differs (author, date, source, situations).
    ``apart`` are facts that are of another kind now, so that nothing said of them compares.
    """

    added: tuple[Other, ...]
    removed: tuple[Other, ...]
    renamed: tuple[tuple[str, str], ...]
    changed: tuple[Changed, ...]
    questions: tuple[Asked, ...]
    rewritten: tuple[str, ...]
    noted: tuple[str, ...]
    beside: tuple[Beside, ...]
    apart: tuple[str, ...]

    @property
    def same(self) -> bool:
        """Whether the rules mean the same; words and the like may differ."""
        return not (self.added or self.removed or self.renamed or self.changed or self.questions)


def compare(before: RuleBook, after: RuleBook, say: Progress = lambda _: None) -> Comparison:
    """Compare two books whose rules the engine can run."""
    return _Comparer(before, after, say).comparison()


class _Comparer:
    def __init__(self, before: RuleBook, after: RuleBook, say: Progress) -> None:
        self._before, self._after, self._say = before, after, say
        self._worded = _worded(before, after)
        space, self._apart = _joint_space(before, after)
        say(f"laying {len(before.rules)} and {len(after.rules)} rules side by side")
        base = Solver((), space)
        self._solver = base
        self._old = Cases(before, _conditions(after), base)
        self._new = Cases(after, _conditions(before), base)
        self._touched = self._facts_made_otherwise()

    def comparison(self) -> Comparison:
        before, after = self._before.rules, self._after.rules
        gone = [r for r in before.values() if r.id not in after]
        new = [r for r in after.values() if r.id not in before]
        renamed = tuple(self._renamed(gone, new))
        olds, news = {old for old, _ in renamed}, {name for _, name in renamed}
        both = [(before[i], after[i]) for i in after if i in before]
        self._make_literals(both)
        changed: list[Changed] = []
        rewritten: list[str] = []
        noted: list[str] = []
        for number, (old, new_rule) in enumerate(both, 1):
            if number % 50 == 0:
                self._say(f"rule {number} of {len(both)}")
            found = self._changed(old, new_rule)
            if found is not None:
                changed.append(found)
            elif _built(old) != _built(new_rule):
                rewritten.append(old.id)
            elif old.rule != new_rule.rule:
                noted.append(old.id)
        return Comparison(
            tuple(self._other(self._new, r) for r in new if r.id not in news),
            tuple(self._other(self._old, r) for r in gone if r.id not in olds),
            renamed,
            tuple(sorted(changed, key=lambda c: bool(c.through))),
            tuple(self._questions()),
            tuple(rewritten),
            tuple(noted),
            tuple(b for b in _beside(self._before, self._after) if b),
            self._apart,
        )

    def _make_literals(self, both: Iterable[tuple[ReadRule, ReadRule]]) -> None:
        """All literals before the first question: a program that grows is searched anew."""
        for old, new in both:
            self._fired(old.id)
            for conclusion in _conclusions(old, new):
                self._concluding(old.id, conclusion)

    def _fired(self, rule: str) -> tuple[int, int]:
        return self._old.fired(rule), self._new.fired(rule)

    def _concluding(self, rule: str, conclusion: Conclusion) -> tuple[int, int]:
        return self._old.concluding(rule, conclusion), self._new.concluding(rule, conclusion)

    def _changed(self, old: ReadRule, new: ReadRule) -> Changed | None:
        fields = tuple(_fields(old, new))
        own = _built(old) != _built(new)
        through = () if own else tuple(self._through(old.id))
        if not (own or fields or through):
            return None
        was, now = self._fired(old.id)
        cone = self._old.cone(old.id) | self._new.cone(new.id)
        fires = self._fires(was, now, cone)
        lost: list[str] = []
        won: list[str] = []
        differ: list[int] = []
        for conclusion in _conclusions(old, new):
            made, makes = self._concluding(old.id, conclusion)
            for names, literals in ((lost, (made, -makes)), (won, (makes, -made))):
                if self._solver.possible(was, now, *literals):
                    names.append(f"{conclusion[0]} is {told(conclusion[1])}")
                    differ.append(self._solver.all_of(literals))
        if not (fires or differ or fields):
            return None
        concludes = self._smallest(cone, was, now, self._solver.any_of(differ)) if differ else None
        return Changed(
            old.id, fires, tuple(lost), tuple(won), concludes, fields,
            self._smallest(cone, was, now) if fields else None,
            through if fires or differ else (),
        )  # fmt: skip

    def _fires(self, was: int, now: int, cone: frozenset[str]) -> Fires:
        return Fires(self._smallest(cone, was, -now), self._smallest(cone, now, -was))

    def _smallest(self, cone: frozenset[str], *literals: int) -> ToldCase | None:
        if not self._solver.possible(*literals):
            return None
        case = self._solver.smallest(*literals, cone=cone)
        return None if case is None else tell(self._worded, case)

    def _other(self, cases: Cases, rule: ReadRule) -> Other:
        return Other(rule.id, self._smallest(cases.cone(rule.id), cases.fired(rule.id)))

    def _renamed(
        self, gone: Iterable[ReadRule], new: Iterable[ReadRule]
    ) -> Iterator[tuple[str, str]]:
        """A rule that is gone, and a new one that says, concludes and fires the same."""
        left = list(new)
        for old in gone:
            for rule in left:
                if (
                    not list(_fields(old, rule))
                    and set(_keys(old)) == set(_keys(rule))
                    and self._alike(old, rule)
                ):
                    left.remove(rule)
                    yield old.id, rule.id
                    break

    def _alike(self, old: ReadRule, new: ReadRule) -> bool:
        pairs = [(self._old.fired(old.id), self._new.fired(new.id))]
        pairs += [
            (self._old.concluding(old.id, c), self._new.concluding(new.id, c))
            for c in _conclusions(old, new)
        ]
        return not any(
            self._solver.possible(one, -other) or self._solver.possible(other, -one)
            for one, other in pairs
        )

    def _questions(self) -> Iterator[Asked]:
        before, after = self._before.facts, self._after.facts
        for name in dict.fromkeys((*before, *after)):
            was, now = _question(before.get(name)), _question(after.get(name))
            if not was and not now:
                continue
            asked = self._old.asking(name), self._new.asking(name)
            when = [b.ask_when[name] for b in (self._before, self._after) if name in b.ask_when]
            reads = {test.attribute for part in when for test in tests_of(part)}
            cone = self._old.cone(when=when) | self._new.cone(when=when)
            suspect = (
                self._before.ask_when.get(name) != self._after.ask_when.get(name)
                or was != now
                or not self._touched.isdisjoint(reads | cone)
            )
            if suspect:
                fires = self._fires(*asked, cone)
                if fires or was != now:
                    yield Asked(name, fires, was, now)

    # What can have changed at all

    def _facts_made_otherwise(self) -> frozenset[str]:
        """The facts that a rule makes which is new, gone or built otherwise."""
        before, after = self._before.rules, self._after.rules
        touched = set(self._apart)
        for name in dict.fromkeys((*before, *after)):
            old, new = before.get(name), after.get(name)
            if old is None or new is None or _built(old) != _built(new):
                touched |= {fact for each in (old, new) if each for fact, _ in _keys(each)}
        return frozenset(touched)

    def _through(self, rule: str) -> Iterator[str]:
        """The rules built otherwise, new or gone, that make what this rule rests on."""
        cone = self._old.cone(rule) | self._new.cone(rule)
        reached = cone & self._touched
        if not reached:
            return
        before, after = self._before.rules, self._after.rules
        for name in dict.fromkeys((*before, *after)):
            old, new = before.get(name), after.get(name)
            if old is None or new is None or _built(old) != _built(new):
                made = {fact for each in (old, new) if each for fact, _ in _keys(each)}
                if not reached.isdisjoint(made):
                    yield name


def _built(rule: ReadRule) -> object:
    return rule.when, rule.then, rule.copies


def _pairs(rule: ReadRule) -> Iterator[Conclusion]:
    for engine_rule in rule.for_engine():
        yield from engine_rule.then


def _keys(rule: ReadRule) -> Iterator[tuple[str, object]]:
    return ((fact, key(value)) for fact, value in _pairs(rule))


def _conclusions(old: ReadRule, new: ReadRule) -> tuple[Conclusion, ...]:
    found: dict[tuple[str, object], Conclusion] = {}
    for fact, value in (*_pairs(old), *_pairs(new)):
        found.setdefault((fact, key(value)), (fact, value))
    return tuple(found.values())


def _fields(old: ReadRule, new: ReadRule) -> Iterator[Field]:
    """The fields that say or weigh something else; spaces and the order of loads aside."""
    was, now = _said(old), _said(new)
    for name in was:
        if was[name] != now[name]:
            yield Field(name, was[name], now[name])


def _said(rule: ReadRule) -> dict[str, str]:
    said = {name: _text(getattr(rule.rule, name)) for name in SAID}
    suggest = rule.rule.suggest
    for name in SUGGESTED:
        value = getattr(suggest, name) if suggest else None
        said[name] = _text(sorted(value) if name == "loads" and value else value)
    return said


def _text(value: object) -> str:
    if value is None or value is False or value == []:
        return ""
    if isinstance(value, list):
        return "; ".join(" ".join(str(v).split()) for v in value)
    if isinstance(value, bool | float | int):
        return told(value)
    return " ".join(str(value).split())


def _question(fact: Fact | None) -> str:
    return _text(fact.question) if fact is not None and fact.asked else ""


def _conditions(book: RuleBook) -> list[Condition]:
    return [*(r.when for r in book.rules.values()), *book.ask_when.values()]


def _joint_space(before: RuleBook, after: RuleBook) -> tuple[dict[str, Domain], tuple[str, ...]]:
    """What can be said in either book, and the facts of another kind, of which nothing is."""
    old = space_of(before, _conditions(after))
    new = space_of(after, _conditions(before))
    space: dict[str, Domain] = {}
    apart: list[str] = []
    for name in {**old, **new}:
        domains = [each[name] for each in (old, new) if name in each]
        kinds = {b.facts[name].kind for b in (before, after) if name in b.facts}
        if len(kinds) > 1:
            apart.append(name)
            space[name] = Domain((), True)
            continue
        space[name] = Domain(
            distinct(v for d in domains for v in d.values),
            domains[0].single,
            distinct(v for d in domains for v in d.deniable),
        )
    return space, tuple(apart)


def _worded(before: RuleBook, after: RuleBook) -> RuleBook:
    """A book that can word every case of both."""
    facts = dict(before.facts)
    for name, fact in after.facts.items():
        gone = before.facts[name].values if name in before.facts else {}
        facts[name] = fact.model_copy(update={"values": {**gone, **fact.values}})
    return replace(after, facts=facts)


def _beside(before: RuleBook, after: RuleBook) -> Iterator[Beside]:
    def flat(words: Mapping[str, Mapping[str, tuple[str, ...]]]) -> dict[str, tuple[str, ...]]:
        return {f"{f} is {v}": p for f, values in words.items() for v, p in values.items()}

    def values(book: RuleBook) -> dict[str, object]:
        return {f"{f} is {v}": d for f, fact in book.facts.items() for v, d in fact.values.items()}

    def shape(book: RuleBook) -> dict[str, object]:
        left_out: dict[str, object] = {
            "values": {},
            "question": None,
            "asked": False,
            "ask_when": [],
        }
        return {n: f.model_copy(update=left_out) for n, f in book.facts.items()}

    yield _differing("facts", shape(before), shape(after))
    yield _differing("values", values(before), values(after))
    yield _differing("words", flat(before.words), flat(after.words))
    yield _differing("lists of words", before.concepts, after.concepts)
    yield _differing("situations", before.situations, after.situations)
    yield _differing("skills", before.skills, after.skills)
    yield _differing("sources", before.sources, after.sources)
    properties = [{n: p.property for n, p in b.properties.items()} for b in (before, after)]
    yield _differing("safety properties", *properties)
    sides = [{n: c.contradiction for n, c in b.contradictions.items()} for b in (before, after)]
    yield _differing("contradictions", *sides)
    doses = [
        {n: getattr(b.doses, n) for n in type(b.doses).model_fields} if b.doses else {}
        for b in (before, after)
    ]
    yield _differing("doses", *doses)


def _differing(kind: str, before: Mapping[str, object], after: Mapping[str, object]) -> Beside:
    return Beside(
        kind,
        tuple(n for n in after if n not in before),
        tuple(n for n in before if n not in after),
        tuple(n for n in after if n in before and before[n] != after[n]),
    )
