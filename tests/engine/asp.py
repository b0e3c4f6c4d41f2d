"""The engine's meaning as a logic program, computed by clingo.

Each attribute, test, nested condition and rule is a predicate over cases. The program is
stratified, so that its one stable model is what the cases come to. Conditions are taken as
they are nested; nothing here knows of alternatives, levels or atoms of the engine.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

import clingo

from coachbot.engine import All, Case, Condition, EngineRule, Op, Run, Test, Value


@dataclass
class Outcome:
    """What one case comes to; conclusions as rule, attribute and value."""

    fired: set[str] = field(default_factory=set)
    facts: set[tuple[str, str]] = field(default_factory=set)
    concluded: set[tuple[str, str, str]] = field(default_factory=set)
    overruled: set[tuple[str, str, str]] = field(default_factory=set)
    conflict_values: set[tuple[str, str]] = field(default_factory=set)
    conflict_rules: set[tuple[str, str]] = field(default_factory=set)


def spell(value: Value) -> str:
    """One text for values that are the same, different texts for others."""
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return repr(value)


class Program:
    def __init__(self, single: Collection[str]) -> None:
        self.single = single
        self.lines: list[str] = []
        self.values: dict[str, int] = {}
        self.numbers: dict[str, int | float] = {}
        self.attributes: dict[str, int] = {}
        self.bounds: list[tuple[str, int, str, str]] = []
        self.nodes = 0

    def value(self, value: Value) -> int:
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            self.numbers[spell(value)] = value
        return self.values.setdefault(spell(value), len(self.values))

    def attribute(self, name: str) -> int:
        return self.attributes.setdefault(name, len(self.attributes))

    def condition(self, when: Condition) -> str:
        self.nodes += 1
        node = f"n{self.nodes}"
        if isinstance(when, Test):
            self.test(node, when)
        else:
            parts = [f"{self.condition(part)}(C)" for part in when.parts]
            if isinstance(when, All):
                self.lines.append(f"{node}(C) :- {', '.join(['case(C)', *parts])}.")
            else:
                self.lines.extend(f"{node}(C) :- {part}." for part in parts)
        return node

    def test(self, node: str, test: Test) -> None:
        k = self.attribute(test.attribute)
        head = f"{node}(C) :- case(C), "
        if test.op is Op.KNOWN:
            self.lines.append(f"{head}has{k}(C,_).")
        elif test.op is Op.UNKNOWN:
            self.lines.append(f"{head}not any{k}(C).")
        elif isinstance(test.value, tuple):
            self.lines.extend(f"{head}has{k}(C,{self.value(v)})." for v in test.value)
        else:
            assert test.value is not None
            v = self.value(test.value)
            if test.op is Op.EQUAL:
                self.lines.append(f"{head}has{k}(C,{v}).")
            elif test.op is Op.NOT_EQUAL:
                self.lines.append(f"{head}not has{k}(C,{v}), any{k}(C).")
                self.lines.append(f"{head}not has{k}(C,{v}), denied{k}(C,{v}).")
            else:
                sign = ">=" if test.op is Op.AT_LEAST else "<="
                self.lines.append(f"{head}has{k}(C,V), number(V,N), number({v},M), N {sign} M.")

    def rule(self, r: int, rule: EngineRule) -> None:
        self.lines.append(f"fire{r}(C) :- {self.condition(rule.when)}(C).")
        self.lines.append(f"#show fired(C,{r}) : fire{r}(C).")
        for i, (attribute, value) in enumerate(rule.then):
            k, v = self.attribute(attribute), self.value(value)
            self.lines.append(
                f"over{r}_{i}(C) :- fire{r}(C), denied{k}(C,{v}), not said{k}(C,{v})."
            )
            if attribute in self.single:
                self.lines += [
                    f"over{r}_{i}(C) :- fire{r}(C), said{k}(C,_), not said{k}(C,{v}).",
                    f"want{k}(C,{v},{r}) :- fire{r}(C), not over{r}_{i}(C), not said{k}(C,{v}).",
                    f"#show concluded(C,{r},{k},{v}) : want{k}(C,{v},{r}), not clash{k}(C).",
                    f"#show concluded(C,{r},{k},{v}) : fire{r}(C), said{k}(C,{v}).",
                ]
            else:
                self.lines += [
                    f"has{k}(C,{v}) :- fire{r}(C), not over{r}_{i}(C).",
                    f"#show concluded(C,{r},{k},{v}) : fire{r}(C), not over{r}_{i}(C).",
                ]
            self.lines.append(f"#show overruled(C,{r},{k},{v}) : over{r}_{i}(C).")

    def case(self, c: int, case: Case) -> None:
        self.lines.append(f"case({c}).")
        for attribute, values in case.said.items():
            k = self.attribute(attribute)
            self.lines.extend(f"said{k}({c},{self.value(v)})." for v in values)
        for attribute, values in case.denied.items():
            k = self.attribute(attribute)
            self.lines.extend(f"denied{k}({c},{self.value(v)})." for v in values)

    def finish(self) -> str:
        for name, k in self.attributes.items():
            self.lines += [
                f"#defined said{k}/2. #defined denied{k}/2. #defined want{k}/3.",
                f"has{k}(C,V) :- said{k}(C,V).",
                f"any{k}(C) :- has{k}(C,_).",
                f"#show fact(C,{k},V) : has{k}(C,V).",
            ]
            if name in self.single:
                self.lines += [
                    f"clash{k}(C) :- want{k}(C,V,_), want{k}(C,W,_), V < W.",
                    f"has{k}(C,V) :- want{k}(C,V,_), not clash{k}(C).",
                    f"#show conflict(C,{k},V,R) : want{k}(C,V,R), clash{k}(C).",
                ]
        order = sorted(set(self.numbers.values()))
        self.lines.append("#defined number/2. #show.")
        self.lines += [
            f"number({self.values[text]},{order.index(n)})." for text, n in self.numbers.items()
        ]
        self.lines += [f"#defined n{n}/1." for n in range(1, self.nodes + 1)]
        return "\n".join(self.lines)


def outcomes(
    rules: Sequence[EngineRule], single: Collection[str], cases: Sequence[Case]
) -> list[Outcome]:
    program = Program(single)
    for r, rule in enumerate(rules):
        program.rule(r, rule)
    for c, case in enumerate(cases):
        program.case(c, case)
    control = clingo.Control(["--warn=none"])
    control.add("base", [], program.finish())
    control.ground([("base", [])])
    names = list(program.attributes)
    spelled = list(program.values)
    found = [Outcome() for _ in cases]
    models = 0
    with control.solve(yield_=True) as handle:
        for model in handle:
            models += 1
            for symbol in model.symbols(shown=True):
                c, *rest = [argument.number for argument in symbol.arguments]
                outcome = found[c]
                if symbol.name == "fired":
                    outcome.fired.add(rules[rest[0]].name)
                elif symbol.name == "fact":
                    outcome.facts.add((names[rest[0]], spelled[rest[1]]))
                elif symbol.name == "conflict":
                    outcome.conflict_values.add((names[rest[0]], spelled[rest[1]]))
                    outcome.conflict_rules.add((names[rest[0]], rules[rest[2]].name))
                else:
                    kind = outcome.concluded if symbol.name == "concluded" else outcome.overruled
                    kind.add((rules[rest[0]].name, names[rest[1]], spelled[rest[2]]))
    assert models == 1
    return found


def outcome_of(run: Run) -> Outcome:
    """A run of the engine in the same terms."""
    outcome = Outcome()
    for firing in run.firings:
        outcome.fired.add(firing.rule)
        outcome.concluded.update((firing.rule, a, spell(v)) for a, v in firing.concluded)
        outcome.overruled.update((firing.rule, a, spell(v)) for a, v in firing.overruled)
    outcome.facts = {(a, spell(v)) for a, values in run.facts.items() for v in values}
    for conflict in run.conflicts:
        outcome.conflict_values.update((conflict.attribute, spell(v)) for v in conflict.values)
        outcome.conflict_rules.update((conflict.attribute, name) for name in conflict.rules)
    return outcome


def by_case(outcome: Outcome) -> dict[str, list[object]]:
    """For messages of failed tests."""
    shown: defaultdict[str, list[object]] = defaultdict(list)
    for name in outcome.__dataclass_fields__:
        shown[name] = sorted(getattr(outcome, name))
    return shown
