"""Every case that a rule book can meet, and what the ranking may show in it.

Facts may be said in any way that words or answers can: a single-valued fact is silent or has
one value, another has any of its values, and values may be denied. Numbers stand for all numbers
between the same bounds. What only rules conclude is never said.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

from coachbot.advice.inference import ASK
from coachbot.engine.check import expand_all, structure_problems
from coachbot.engine.logic import holds, key, tests_of
from coachbot.engine.model import Case, Condition, EngineRule, Op, Test, Value
from coachbot.knowledge.book import ANY_LOAD, NOT_ALLOWED, ReadRule, RuleBook
from coachbot.knowledge.conditions import told
from coachbot.knowledge.wording import fact_sentence

from .solver import Domain, Solver


@dataclass(frozen=True, slots=True)
class ToldCase:
    """A case in plain words and as a coach writes it; both empty when nothing was said."""

    case: Case
    sentences: tuple[str, ...]
    written: tuple[str, ...]

    def __str__(self) -> str:
        return "; ".join(self.sentences) or "nothing was said"

    @property
    def size(self) -> int:
        return len(self.written)


def tell(book: RuleBook, case: Case) -> ToldCase:
    """The case in words, fact by fact."""
    said = [(name, v, False) for name, values in case.said.items() for v in values]
    denied = [(name, v, True) for name, values in case.denied.items() for v in values]
    return ToldCase(
        case,
        tuple(fact_sentence(book, *each) for each in said + denied),
        tuple(f"{name} is {'not ' if no else ''}{told(v)}" for name, v, no in said + denied),
    )


def sayable(book: RuleBook, name: str) -> bool:
    """Whether a person can say the fact: it is asked, has words, or is not made by rules."""
    fact = book.facts[name]
    return not fact.concluded or fact.asked or name in book.words


def space_of(book: RuleBook, also: Iterable[Condition] = ()) -> dict[str, Domain]:
    """What can be said of every fact, fine enough for all conditions, those of ``also`` too."""
    tests: dict[str, list[Test]] = defaultdict(list)
    for when in (*(r.when for r in book.rules.values()), *book.ask_when.values(), *also):
        for test in tests_of(when):
            tests[test.attribute].append(test)
    concluded: dict[str, list[Value]] = defaultdict(list)
    for rule in book.rules.values():
        for engine_rule in rule.for_engine():
            for name, value in engine_rule.then:
                concluded[name].append(value)
    space: dict[str, Domain] = {}
    for name, fact in book.facts.items():
        single = fact.kind != "several"
        if not sayable(book, name):
            space[name] = Domain((), single)
            continue
        refused = [t.value for t in tests[name] if t.op is Op.NOT_EQUAL]
        refusable = {key(v) for v in (*refused, *concluded[name])}  # type: ignore[arg-type]
        values = _values(book, name, tests[name])
        deniable = [v for v in values if key(v) in refusable]
        # Any denial settles a question; one value stands for all that change nothing else.
        if fact.asked:
            deniable += [v for v in values if v not in deniable][:1]
        space[name] = Domain(values, single, tuple(deniable))
    return space


def _values(book: RuleBook, name: str, tests: Collection[Test]) -> tuple[Value, ...]:
    fact = book.facts[name]
    if fact.kind == "yes-no":
        return (True, False)
    if fact.kind in {"choice", "several"}:
        return tuple(fact.values)
    if fact.kind == "grade":
        low, high, step = 0.0, float(len(book.ladder.steps) - 1), 1.0
    else:
        low, high, step = fact.low or 0.0, fact.high or 0.0, fact.step
    bounds = [
        float(v)
        for t in tests
        for v in (t.value if isinstance(t.value, tuple) else (t.value,))
        if isinstance(v, (int, float))
    ]
    points = [low, high]
    for bound in sorted(bounds):
        at = fact.counted(bound) if fact.kind == "number" else bound
        points += [at - step, at, at + step]
    kinds: dict[tuple[bool, ...], int | float] = {}
    for point in sorted(p for p in points if low <= p <= high):
        value = int(point) if float(point).is_integer() else point
        kinds.setdefault(tuple(holds(t, (value,), ()) for t in tests), value)
    return tuple(kinds.values())


class Cases:
    """The rule book as one logic program, with literals for what people get to see.

    ``beside`` another solver it runs on that solver's cases, so that two books can be asked
    about together.
    """

    def __init__(
        self, book: RuleBook, also: Iterable[Condition] = (), beside: Solver | None = None
    ) -> None:
        self.book = book
        rules = [e for rule in book.rules.values() for e in rule.for_engine()]
        asks = [
            EngineRule(ASK + name, book.ask_when[name]) for name, f in book.facts.items() if f.asked
        ]
        sound = _runnable([*rules, *asks], book.single_valued)
        self.left_out = tuple(r.name for r in rules if r.name not in sound)
        runnable = [r for r in (*rules, *asks) if r.name in sound]
        self.space = space_of(book, also)
        self.solver = Solver(runnable, self.space, beside)
        self._engine_rules: dict[str, list[str]] = defaultdict(list)
        for engine_rule in runnable:
            self._engine_rules[engine_rule.name.partition("@")[0]].append(engine_rule.name)

    def fired(self, rule: str) -> int:
        """Holds when the rule fires in one of its engine forms."""
        return self.solver.any_of(self.solver.fires[e] for e in self._engine_rules.get(rule, ()))

    def concluding(self, rule: str, conclusion: tuple[str, Value]) -> int:
        """Holds when the rule fires in a form that concludes this value of this fact."""
        fact, value = conclusion
        return self.solver.any_of(
            self.solver.fires[each.name]
            for each in self.book.rules[rule].for_engine()
            if each.name in self.solver.fires
            and any(name == fact and key(v) == key(value) for name, v in each.then)
        )

    def asking(self, fact: str) -> int:
        """Holds when it makes sense to ask for the fact."""
        return self.solver.fires.get(ASK + fact, -self.solver.true)

    def alike(self, one: Condition, other: Condition) -> bool:
        """Whether two conditions hold in the same cases. Both must be in the space."""
        literals = self.solver.literal(one), self.solver.literal(other)
        return not any(self.solver.possible(a, -b) for a, b in (literals, literals[::-1]))

    def stops(self, urgency: str = "clinician") -> int:
        """Holds when the climbing has to end, at least that urgently."""
        return self._emergency if urgency == "emergency" else self._stop

    def kept(self, rule: str) -> int:
        """Holds when the rule's suggestion is left after all that safety holds back.

        The ranking then shows it, unless six better ones, or a far stronger one, crowd it out.
        """
        read = self.book.rules[rule]
        if read.rule.suggest is None:
            return -self.solver.true
        held = [self.solver.has(NOT_ALLOWED, load) for load in read.rule.suggest.loads]
        parts = [self.fired(rule), *(-n for n in held)]
        if not read.rule.stop:
            parts.append(-self._stop)
            if not read.rule.safety:
                parts.append(-self._alone)
        elif read.rule.stop != "emergency":
            parts.append(-self._emergency)
        return self.solver.all_of(parts)

    def cone(
        self, *rules: str, when: Iterable[Condition] = (), shown: bool = False
    ) -> frozenset[str]:
        """The facts on which these rules and conditions depend; ``shown`` adds safety's."""
        engine = [e for rule in rules for e in self._engine_rules.get(rule, ())]
        facts = {test.attribute for each in when for test in tests_of(each)}
        found = self.solver.cone_of(engine, facts)
        return found | self.safety_cone if shown else found

    def smallest(self, *literals: int, cone: Collection[str] | None = None) -> ToldCase | None:
        """The smallest case in which all literals hold, told in words; None when there is none."""
        found = self.solver.smallest(*literals, cone=cone)
        return None if found is None else tell(self.book, found)

    def carrying(self, names: Collection[str]) -> tuple[ReadRule, ...]:
        """The rules that suggest something with one of these loads or skills."""
        return tuple(
            rule
            for rule in self.book.rules.values()
            if (suggestion := rule.rule.suggest)
            and (
                not set(names).isdisjoint((*suggestion.loads, *suggestion.skills))
                or (ANY_LOAD in names and suggestion.loads)
            )
        )

    def carried(self, rule: str, names: Collection[str]) -> str:
        """What of these loads and skills a rule's suggestion carries, in words."""
        suggestion = self.book.rules[rule].rule.suggest
        every = (*suggestion.loads, *suggestion.skills) if suggestion else ()
        return ", ".join(n for n in every if n in names) or ", ".join(every)

    def side(self, names: Iterable[str]) -> tuple[str, ...]:
        """The rules that one side of a contradiction stands for; unknown names give none."""
        found: dict[str, None] = {}
        for name in names:
            if name in self.book.rules:
                found[name] = None
            for rule in self.book.rules.values():
                if rule.rule.suggest and rule.rule.suggest.skills[0] == name:
                    found[rule.id] = None
        return tuple(found)

    def makers(self, fact: str) -> tuple[str, ...]:
        """The rules that conclude a value of the fact."""
        return tuple(
            rule.id
            for rule in self.book.rules.values()
            if any(name == fact for e in rule.for_engine() for name, _ in e.then)
        )

    @cached_property
    def _stop(self) -> int:
        return self.solver.any_of(self.fired(r.id) for r in self._stopping())

    @cached_property
    def _emergency(self) -> int:
        urgent = [r.id for r in self._stopping() if r.rule.stop == "emergency"]
        return self.solver.any_of(map(self.fired, urgent))

    @cached_property
    def _alone(self) -> int:
        return self.solver.any_of(
            self.fired(r.id) for r in self.book.rules.values() if r.rule.alone
        )

    @cached_property
    def safety_cone(self) -> frozenset[str]:
        """The facts on which it depends what is stopped, silenced or held back."""
        deciding = [r.id for r in self.book.rules.values() if r.rule.stop or r.rule.alone]
        engine = [e for rule in deciding for e in self._engine_rules[rule]]
        return self.solver.cone_of(engine, [NOT_ALLOWED])

    def _stopping(self) -> list[ReadRule]:
        return [r for r in self.book.rules.values() if r.rule.stop]


def _runnable(rules: Sequence[EngineRule], single: Collection[str]) -> frozenset[str]:
    """The names of sound rules that neither stand in a circle nor wait for one that does."""
    _, sound = structure_problems(rules)
    _, waiting = expand_all(sound, frozenset(single))
    done: set[str] = set()
    while True:
        unmade = {attribute for each in waiting for attribute in each.makes}
        ready = [each for each in waiting if unmade.isdisjoint(each.reads)]
        if not ready:
            return frozenset(done)
        done.update(each.rule.name for each in ready)
        waiting = [each for each in waiting if each.rule.name not in done]
