"""A rule set as a logic program over every case at once, for clingo to search.

What was said of each attribute is left open; everything else follows from it with the
engine's own meaning (`coachbot.engine`). The program is stratified, so each choice of what was
said has exactly one stable model, and asking whether something can hold is one search.
Answers are exact for the given domains.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from typing import Any as Anything

import clingo

from coachbot.engine.logic import (
    AtomKey,
    Key,
    atom_key,
    distinct,
    is_number,
    key,
    operand,
    tests_of,
)
from coachbot.engine.model import All, Any, Case, Condition, EngineRule, Op, Test, Value

# Small cases first; of two equally small ones, the one with less denied and fewer numbers.
_SIZE, _PLAINNESS = 2, 1
_HALVINGS = 2


@dataclass(frozen=True, slots=True)
class Domain:
    """What can be said of an attribute: any of ``values``, or one when it is single-valued.

    ``deniable`` are the values that can be denied. No value is said and denied at once.
    """

    values: tuple[Value, ...]
    single: bool
    deniable: tuple[Value, ...] = ()


class _Program:
    """The program under construction, with what can be said left open in it."""

    def __init__(self, space: Mapping[str, Domain]) -> None:
        # Proving that no smaller case exists is much quicker from below.
        self.control = clingo.Control(["--warn=none", "--opt-strategy=usc"])
        self.configuration: Anything = self.control.configuration
        self._editing = ExitStack()
        self._backend: Anything = self._editing.enter_context(self.control.backend())
        self._open = True
        self._groups: dict[tuple[str, frozenset[int]], int] = {}
        self.answers: dict[frozenset[int], bool] = {}
        self.said: dict[str, dict[Key, tuple[Value, int]]] = {}
        self.denied: dict[str, dict[Key, tuple[Value, int]]] = {}
        self.true = self.fresh()
        self.rule(self.true, ())
        for name, domain in space.items():
            self._attribute(name, domain)
        everything = [*_literals(self.said), *_literals(self.denied)]
        self._backend.add_minimize(_SIZE, [(literal, 1) for literal in everything])
        numbers = [
            literal
            for entries in self.said.values()
            for value, literal in entries.values()
            if is_number(value)
        ]
        unplain = [(n, 2) for n in _literals(self.denied)] + [(n, 1) for n in numbers]
        self._backend.add_minimize(_PLAINNESS, unplain)

    def _attribute(self, name: str, domain: Domain) -> None:
        said, denied = self._inputs(domain.values), self._inputs(domain.deniable)
        self.said[name], self.denied[name] = said, denied
        for k in said.keys() & denied.keys():
            self.never(said[k][1], denied[k][1])
        if domain.single and len(said) > 1:
            self.never(self.two_of(n for _, n in said.values()))

    def _inputs(self, values: Iterable[Value]) -> dict[Key, tuple[Value, int]]:
        made = {key(v): (v, self.fresh()) for v in distinct(values)}
        if made:
            self._backend.add_rule([n for _, n in made.values()], [], choice=True)
        return made

    def open(self) -> None:
        """Make the program ready for more rules."""
        if not self._open:
            self._backend = self._editing.enter_context(self.control.backend())
            self._open = True

    def fresh(self) -> int:
        self.open()
        atom: int = self._backend.add_atom()
        return atom

    def rule(self, head: int, body: Sequence[int]) -> None:
        self._backend.add_rule([head], list(body))

    def never(self, *body: int) -> None:
        self._backend.add_rule([], list(body))

    def two_of(self, literals: Iterable[int]) -> int:
        """Holds when two or more of the literals do."""
        two = self.fresh()
        self._backend.add_weight_rule([two], 2, [(n, 1) for n in literals])
        return two

    def group(self, kind: str, parts: frozenset[int]) -> int:
        if not parts:
            return self.true if kind == "all" else -self.true
        if len(parts) == 1:
            return next(iter(parts))
        found = self._groups.get((kind, parts))
        if found is None:
            found = self.fresh()
            self._groups[kind, parts] = found
            if kind == "all":
                self.rule(found, sorted(parts))
            else:
                for part in sorted(parts):
                    self.rule(found, (part,))
        return found

    def close(self) -> None:
        """Make the program ready for a question."""
        if self._open:
            self._editing.close()
            self._open = False


class Solver:
    """Answers whether a literal can hold in some case, and which smallest case shows it.

    Literals are integers, negative for "does not hold". The rules must depend on each other
    without a circle; ``CheckedRule`` levels show that they do. A solver ``beside`` another
    one runs its own rules on the same cases, those of the other one's space, so that
    literals of both can be asked about together.
    """

    def __init__(
        self,
        rules: Sequence[EngineRule],
        space: Mapping[str, Domain],
        beside: Solver | None = None,
    ) -> None:
        self._space = space
        self._program: _Program = beside._program if beside else _Program(space)
        self.true = self._program.true
        self._said, self._denied = self._program.said, self._program.denied
        self._has: dict[str, dict[Key, int]] = {}
        self._values: dict[str, dict[Key, Value]] = {}
        self._known: dict[str, int] = {}
        self._clash: dict[str, int] = {}
        self._tests: dict[AtomKey, int] = {}
        self._makers: dict[str, list[EngineRule]] = {}
        self._cones: dict[str, frozenset[str]] = {}
        for rule in rules:
            for attribute in dict.fromkeys(a for a, _ in rule.then):
                self._makers.setdefault(attribute, []).append(rule)
        self._rules = {rule.name: rule for rule in rules}
        self.fires = {rule.name: self._program.fresh() for rule in rules}
        for attribute in self._attributes(rules):
            self._attribute(attribute)
        for rule in rules:
            self._program.rule(self.fires[rule.name], (self.literal(rule.when),))

    # What can be asked about

    def literal(self, when: Condition) -> int:
        """The literal that holds exactly when the condition does."""
        if isinstance(when, All):
            return self.all_of([self.literal(part) for part in when.parts])
        if isinstance(when, Any):
            return self.any_of([self.literal(part) for part in when.parts])
        known_as = atom_key(when)
        if known_as not in self._tests:
            self._tests[known_as] = self._test(when)
        return self._tests[known_as]

    def has(self, attribute: str, value: Value) -> int:
        """Holds when the attribute has the value at the end of the run."""
        return self._has.get(attribute, {}).get(key(value), -self.true)

    def said(self, attribute: str, value: Value) -> int:
        """Holds when the person said the value."""
        found = self._said.get(attribute, {}).get(key(value))
        return found[1] if found else -self.true

    def denied(self, attribute: str, value: Value) -> int:
        """Holds when the person denied the value outright."""
        found = self._denied.get(attribute, {}).get(key(value))
        return found[1] if found else -self.true

    def conflict(self, attribute: str) -> int:
        """Holds when rules conclude different values of a single-valued attribute."""
        return self._clash.get(attribute, -self.true)

    def all_of(self, literals: Iterable[int]) -> int:
        parts = frozenset(literals) - {self.true}
        if any(-part in parts for part in parts) or -self.true in parts:
            return -self.true
        return self._program.group("all", parts)

    def any_of(self, literals: Iterable[int]) -> int:
        parts = frozenset(literals) - {-self.true}
        if any(-part in parts for part in parts) or self.true in parts:
            return self.true
        return self._program.group("any", parts)

    def rule_out(self, literals: Iterable[int]) -> None:
        """From here on no case is asked about in which any of the literals holds."""
        self._program.open()
        for literal in literals:
            self._program.never(literal)
        self._program.answers.clear()

    # Asking

    def possible(self, *literals: int) -> bool:
        """Whether some case makes all literals hold."""
        asked = frozenset(literals)
        if asked not in self._program.answers:
            self._program.answers[asked] = self.holds_together(literals)
        return self._program.answers[asked]

    def holds_together(self, literals: Sequence[int]) -> bool:
        """As ``possible``; the answer is not remembered."""
        self._program.close()
        self._program.configuration.solve.opt_mode = "ignore"
        return bool(self._program.control.solve(assumptions=literals).satisfiable)

    def least_needed(self, goal: Sequence[int], order: Sequence[int]) -> list[int] | None:
        """A least set of an order's literals with which the goal can hold; None if none can.

        The other literals of the order do not hold then. It is the set whose last literal
        comes earliest in the order, and so on for those before it: the order decides, not
        the search. Each case that is found, and each reason why there is none, bounds the
        place of that last literal; both bounds are exact.
        """
        needed: list[int] = []
        held, _ = self._within(goal, order, needed, len(order))
        if held is None:
            return None
        while held:
            low, looked = 0, 0
            while held and low <= held[0]:
                # After two halvings the case found is mostly the one; leaving out its last tells.
                some = (low + held[0] + 1) // 2 if looked < _HALVINGS else held[0]
                looked += 1
                found, least = self._within(goal, order, needed, some)
                if found is None:
                    low = least + 1
                else:
                    held = found
            if held:
                needed.append(order[held[0]])
                held = held[1:]
        return needed

    def _within(
        self, goal: Sequence[int], order: Sequence[int], needed: Sequence[int], some: int
    ) -> tuple[list[int] | None, int]:
        """Places, last first, of what holds in a case with what is needed and so many of an order.

        None when there is no such case, with the first place of which one must hold.
        """
        self._program.close()
        self._program.configuration.solve.opt_mode = "ignore"
        silent = {-n: i for i, n in enumerate(order) if i >= some and n not in needed}
        assumed = [*goal, *needed, *silent]
        with self._program.control.solve(assumptions=assumed, yield_=True) as handle:
            model = handle.model()
            if model is not None:
                return [i for i in range(some - 1, -1, -1) if model.is_true(order[i])], 0
            return None, min((silent[n] for n in handle.core() if n in silent), default=len(order))

    def possible_each(self, literals: Iterable[int]) -> frozenset[int]:
        """Those of the literals that hold in some case, each by itself.

        A case found for one settles all others that hold in it, so that few searches do.
        """
        self._program.close()
        self._program.configuration.solve.opt_mode = "ignore"
        left = dict.fromkeys(literals)
        found: set[int] = set()
        while left:
            first = next(iter(left))
            del left[first]
            with self._program.control.solve(assumptions=[first], yield_=True) as handle:
                model = handle.model()
                if model is not None:
                    held = [n for n in left if _holds(model, n)]
                    found.update((first, *held))
                    for n in held:
                        del left[n]
        return frozenset(found)

    def smallest(self, *literals: int, cone: Collection[str] | None = None) -> Case | None:
        """A case with the fewest things said in which all literals hold, or None.

        With ``cone`` nothing is said of other attributes. That is quicker, and loses nothing
        when the literals depend on these attributes only.
        """
        self._program.close()
        self._program.configuration.solve.opt_mode = "opt"
        found: Case | None = None
        assumed = self._assume(literals, cone)
        with self._program.control.solve(assumptions=assumed, yield_=True) as handle:
            for model in handle:
                found = Case(_read(model, self._said), _read(model, self._denied))
        return found

    def consequences(self, case: Case, literals: Iterable[int]) -> dict[int, bool]:
        """Which of the literals hold in one case, all of whose values are in the domains.

        Raises ValueError when the case is not one of the cases searched.
        """
        fixed: list[int] = []
        for table, given in ((self._said, case.said), (self._denied, case.denied)):
            wanted = {(a, key(v)) for a, values in given.items() for v in distinct(values)}
            for attribute, entries in table.items():
                for k, (_, literal) in entries.items():
                    fixed.append(literal if (attribute, k) in wanted else -literal)
                    wanted.discard((attribute, k))
            if wanted:
                raise ValueError(f"outside of what can be said: {sorted(map(str, wanted))}")
        self._program.close()
        self._program.configuration.solve.opt_mode = "ignore"
        with self._program.control.solve(assumptions=fixed, yield_=True) as handle:
            for model in handle:
                return {n: _holds(model, n) for n in literals}
        raise ValueError("the case says more of an attribute than it can hold")

    def cone_of(self, rules: Iterable[str] = (), attributes: Iterable[str] = ()) -> frozenset[str]:
        """Every attribute on which these rules and attributes can depend."""
        found: set[str] = set()
        for name in rules:
            for test in tests_of(self._rules[name].when):
                found |= self._cone(test.attribute)
        for attribute in attributes:
            found |= self._cone(attribute)
        return frozenset(found)

    # Making the program

    def _attributes(self, rules: Sequence[EngineRule]) -> list[str]:
        names = dict.fromkeys(self._space)
        for rule in rules:
            names |= dict.fromkeys(test.attribute for test in tests_of(rule.when))
            names |= dict.fromkeys(attribute for attribute, _ in rule.then)
        return list(names)

    def _attribute(self, name: str) -> None:
        program = self._program
        single = self._space.get(name, Domain((), True)).single
        said = self._said.get(name, {})
        concluded: dict[Key, tuple[Value, list[tuple[str, int]]]] = {}
        for rule in self._makers.get(name, ()):
            for attribute, value in rule.then:
                if attribute == name:
                    by = concluded.setdefault(key(value), (value, []))[1]
                    by.append((rule.name, self.fires[rule.name]))
        values = {k: v for k, (v, _) in said.items()} | {k: v for k, (v, _) in concluded.items()}
        has = {k: program.fresh() for k in values}
        self._values[name], self._has[name] = values, has
        for k, (_, literal) in said.items():
            program.rule(has[k], (literal,))
        anything_said = self.any_of(n for _, n in said.values())
        wants: dict[Key, int] = {}
        for k, (value, makers) in concluded.items():
            want = program.fresh()
            refused = self.denied(name, value)
            for _, fires in makers:
                program.rule(want, (fires, -refused, *((-anything_said,) if single else ())))
            wants[k] = want
        if single and len(wants) > 1:
            self._clash[name] = program.two_of(wants.values())
        for k, want in wants.items():
            program.rule(has[k], (want, -self.conflict(name)))
        self._known[name] = self.any_of(has.values())

    def _test(self, test: Test) -> int:
        name = test.attribute
        known = self._known.get(name, -self.true)
        if test.op is Op.KNOWN:
            return known
        if test.op is Op.UNKNOWN:
            return -known
        wanted = operand(test)
        if test.op is Op.NOT_EQUAL:
            refused = self.denied(name, wanted[0])
            return self.all_of([-self.has(name, wanted[0]), self.any_of([known, refused])])
        if test.op in (Op.EQUAL, Op.ONE_OF):
            return self.any_of([self.has(name, v) for v in wanted])
        bound = wanted[0]
        below = test.op is Op.AT_MOST
        return self.any_of(
            self._has[name][k]
            for k, v in self._values.get(name, {}).items()
            if is_number(v) and (v <= bound if below else v >= bound)  # type: ignore[operator]
        )

    # Searching

    def _assume(self, literals: Sequence[int], cone: Collection[str] | None) -> list[int]:
        assumed = list(literals)
        if cone is not None:
            for table in (self._said, self._denied):
                for attribute, entries in table.items():
                    if attribute not in cone:
                        assumed.extend(-n for _, n in entries.values())
        return assumed

    def _cone(self, attribute: str) -> frozenset[str]:
        if attribute not in self._cones:
            found: set[str] = set()
            waiting = [attribute]
            while waiting:
                name = waiting.pop()
                if name in found:
                    continue
                found.add(name)
                for rule in self._makers.get(name, ()):
                    waiting.extend(test.attribute for test in tests_of(rule.when))
            self._cones[attribute] = frozenset(found)
        return self._cones[attribute]


def _holds(model: clingo.Model, literal: int) -> bool:
    return model.is_true(literal) if literal > 0 else not model.is_true(-literal)


def _literals(table: Mapping[str, Mapping[Key, tuple[Value, int]]]) -> list[int]:
    return [literal for entries in table.values() for _, literal in entries.values()]


def _read(
    model: clingo.Model, table: Mapping[str, Mapping[Key, tuple[Value, int]]]
) -> dict[str, tuple[Value, ...]]:
    read: dict[str, tuple[Value, ...]] = {}
    for attribute, entries in table.items():
        values = tuple(v for v, literal in entries.values() if model.is_true(literal))
        if values:
            read[attribute] = values
    return read
