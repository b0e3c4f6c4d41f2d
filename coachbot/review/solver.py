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


@dataclass(frozen=True, slots=True)
class Domain:
    """What can be said of an attribute: any of ``values``, or one when it is single-valued.

    ``deniable`` are the values that can be denied. No value is said and denied at once.
    """

    values: tuple[Value, ...]
    single: bool
    deniable: tuple[Value, ...] = ()


class Solver:
    """Answers whether a literal can hold in some case, and which smallest case shows it.

    Literals are integers, negative for "does not hold". The rules must depend on each other
    without a circle; ``CheckedRule`` levels show that they do.
    """

    def __init__(self, rules: Sequence[EngineRule], space: Mapping[str, Domain]) -> None:
        self._space = space
        self._control = clingo.Control(["--warn=none"])
        self._configuration: Anything = self._control.configuration
        self._editing = ExitStack()
        self._open = False
        self._reopen()
        self.true = self._fresh()
        self._rule(self.true, ())
        self._said: dict[str, dict[Key, tuple[Value, int]]] = {}
        self._denied: dict[str, dict[Key, tuple[Value, int]]] = {}
        self._has: dict[str, dict[Key, int]] = {}
        self._values: dict[str, dict[Key, Value]] = {}
        self._known: dict[str, int] = {}
        self._clash: dict[str, int] = {}
        self._tests: dict[AtomKey, int] = {}
        self._groups: dict[tuple[str, frozenset[int]], int] = {}
        self._answers: dict[frozenset[int], bool] = {}
        self._makers: dict[str, list[EngineRule]] = {}
        self._cones: dict[str, frozenset[str]] = {}
        for rule in rules:
            for attribute in dict.fromkeys(a for a, _ in rule.then):
                self._makers.setdefault(attribute, []).append(rule)
        self._rules = {rule.name: rule for rule in rules}
        self.fires = {rule.name: self._fresh() for rule in rules}
        for attribute in self._attributes(rules):
            self._attribute(attribute)
        for rule in rules:
            self._rule(self.fires[rule.name], (self.literal(rule.when),))
        minimal = [
            (literal, 1) for each in (self._said, self._denied) for literal in _literals(each)
        ]
        self._backend.add_minimize(_SIZE, minimal)
        numbers = [
            literal
            for entries in self._said.values()
            for value, literal in entries.values()
            if is_number(value)
        ]
        unplain = [(n, 2) for n in _literals(self._denied)] + [(n, 1) for n in numbers]
        self._backend.add_minimize(_PLAINNESS, unplain)

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
        return self._group("all", parts)

    def any_of(self, literals: Iterable[int]) -> int:
        parts = frozenset(literals) - {-self.true}
        if any(-part in parts for part in parts) or self.true in parts:
            return self.true
        return self._group("any", parts)

    # Asking

    def possible(self, *literals: int) -> bool:
        """Whether some case makes all literals hold."""
        asked = frozenset(literals)
        if asked not in self._answers:
            self._close()
            self._configuration.solve.opt_mode = "ignore"
            self._answers[asked] = bool(self._control.solve(assumptions=literals).satisfiable)
        return self._answers[asked]

    def smallest(self, *literals: int, cone: Collection[str] | None = None) -> Case | None:
        """A case with the fewest things said in which all literals hold, or None.

        With ``cone`` nothing is said of other attributes. That is quicker, and loses nothing
        when the literals depend on these attributes only.
        """
        self._close()
        self._configuration.solve.opt_mode = "opt"
        found: Case | None = None
        assumed = self._assume(literals, cone)
        with self._control.solve(assumptions=assumed, yield_=True) as handle:
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
        self._close()
        self._configuration.solve.opt_mode = "ignore"
        with self._control.solve(assumptions=fixed, yield_=True) as handle:
            for model in handle:
                return {n: model.is_true(n) if n > 0 else not model.is_true(-n) for n in literals}
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
        domain = self._space.get(name, Domain((), True))
        said = self._inputs(domain.values)
        denied = self._inputs(domain.deniable)
        self._said[name], self._denied[name] = said, denied
        for k in said.keys() & denied.keys():
            self._never(said[k][1], denied[k][1])
        if domain.single and len(said) > 1:
            crowd = self._fresh()
            self._backend.add_weight_rule([crowd], 2, [(n, 1) for _, n in said.values()])
            self._never(crowd)
        concluded: dict[Key, tuple[Value, list[tuple[str, int]]]] = {}
        for rule in self._makers.get(name, ()):
            for attribute, value in rule.then:
                if attribute == name:
                    by = concluded.setdefault(key(value), (value, []))[1]
                    by.append((rule.name, self.fires[rule.name]))
        values = {k: v for k, (v, _) in said.items()} | {k: v for k, (v, _) in concluded.items()}
        has = {k: self._fresh() for k in values}
        self._values[name], self._has[name] = values, has
        for k, (_, literal) in said.items():
            self._rule(has[k], (literal,))
        anything_said = self.any_of(n for _, n in said.values())
        wants: dict[Key, int] = {}
        for k, (value, makers) in concluded.items():
            want = self._fresh()
            refused = self.denied(name, value)
            for _, fires in makers:
                self._rule(want, (fires, -refused, *((-anything_said,) if domain.single else ())))
            wants[k] = want
        if domain.single and len(wants) > 1:
            clash = self._fresh()
            self._backend.add_weight_rule([clash], 2, [(n, 1) for n in wants.values()])
            self._clash[name] = clash
        for k, want in wants.items():
            self._rule(has[k], (want, -self.conflict(name)))
        self._known[name] = self.any_of(has.values())

    def _inputs(self, values: Iterable[Value]) -> dict[Key, tuple[Value, int]]:
        made = {key(v): (v, self._fresh()) for v in distinct(values)}
        if made:
            self._backend.add_rule([n for _, n in made.values()], [], choice=True)
        return made

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

    def _group(self, kind: str, parts: frozenset[int]) -> int:
        if not parts:
            return self.true if kind == "all" else -self.true
        if len(parts) == 1:
            return next(iter(parts))
        found = self._groups.get((kind, parts))
        if found is None:
            found = self._fresh()
            self._groups[kind, parts] = found
            if kind == "all":
                self._rule(found, sorted(parts))
            else:
                for part in sorted(parts):
                    self._rule(found, (part,))
        return found

    def _fresh(self) -> int:
        self._reopen()
        atom: int = self._backend.add_atom()
        return atom

    def _rule(self, head: int, body: Sequence[int]) -> None:
        self._reopen()
        self._backend.add_rule([head], list(body))

    def _never(self, *body: int) -> None:
        self._backend.add_rule([], list(body))

    def _reopen(self) -> None:
        if not self._open:
            self._backend = self._editing.enter_context(self._control.backend())
            self._open = True

    def _close(self) -> None:
        if self._open:
            self._editing.close()
            self._open = False

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
