"""The same rules for CLIPS (by clipspy), as one would write them there by hand.

Every attribute is a relation of its own, levels are saliences, alternatives are left to CLIPS.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

import clips

from coachbot.engine import All, Case, Condition, EngineRule, Op, Test, Value

Facts = Mapping[str, tuple[Value, ...]]


def _value(value: Value) -> str:
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, str):
        escaped = value.replace("\\", "\\\\").replace('"', '\\"')
        return f'"{escaped}"'
    return repr(int(value) if float(value).is_integer() else value)


def _python_value(value: Value) -> object:
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return clips.Symbol(_value(value)) if isinstance(value, bool) else value


class Clips:
    """A rule set in a CLIPS environment."""

    def __init__(
        self,
        rules: Sequence[EngineRule],
        single_valued: Collection[str],
        levels: Mapping[str, int],
        cases: Sequence[Case],
    ) -> None:
        names: dict[str, str] = {}
        derived: dict[str, int] = {}
        for rule in rules:
            for test in _tests(rule.when):
                names.setdefault(test.attribute, f"a{len(names)}")
            for attribute, _ in rule.then:
                names.setdefault(attribute, f"a{len(names)}")
                derived[attribute] = max(derived.get(attribute, 0), levels[rule.name])
        self._names = names
        self._single = single_valued
        # What nobody says or denies in any case needs no rule that looks after it.
        self._guarded = {a for c in cases for a in (*c.said, *c.denied) if a in derived}
        self._guarded.update(a for a in derived if a in single_valued)
        self._fired: list[str] = []
        self._variables = 0
        self._environment = clips.Environment()
        self._environment.define_function(self._fired.append, name="fired")
        for name in names.values():
            for relation in (name, f"denied-{name}", f"raw-{name}"):
                self._environment.build(f"(deftemplate {relation} (slot v))")
        self._environment.build("(deftemplate said (slot v))")
        find = self._environment.find_template
        self._templates = {a: find(name) for a, name in names.items()}
        self._denied = {a: find(f"denied-{name}") for a, name in names.items()}
        self._said = find("said")
        for number, rule in enumerate(rules):
            conclusions = "".join(f" {self._assert(a, v)}" for a, v in rule.then)
            self._environment.build(
                f"(defrule r{number} (declare (salience {-2 * levels[rule.name]})) "
                f"{self._condition(rule.when)} => (fired {number}){conclusions})"
            )
        for attribute in sorted(self._guarded):
            self._build_guard(names[attribute], attribute, -2 * derived[attribute] - 1)

    def run(self, case: Case) -> list[int]:
        """The positions of the rules that fired; those with several reasons more than once."""
        self._environment.reset()
        self._fired.clear()
        # The quickest of the ways that clipspy has to assert facts.
        for attribute, values in case.said.items():
            template = self._templates.get(attribute)
            if template is not None:
                for value in values:
                    template.assert_fact(v=_python_value(value))
                if attribute in self._guarded and values:
                    self._said.assert_fact(v=clips.Symbol(self._names[attribute]))
        for attribute, values in case.denied.items():
            template = self._denied.get(attribute)
            if template is not None:
                for value in values:
                    template.assert_fact(v=_python_value(value))
        self._environment.run()
        return list(map(int, self._fired))

    def _assert(self, attribute: str, value: Value) -> str:
        name = self._names[attribute]
        if attribute in self._guarded:
            return f"(assert (raw-{name} (v {_value(value)})))"
        return f"(assert ({name} (v {_value(value)})))"

    def _build_guard(self, name: str, attribute: str, salience: int) -> None:
        """What rules concluded becomes a fact unless it was denied, said otherwise or disputed."""
        alone = (
            f"(not (said (v {name}))) "
            f"(not (and (raw-{name} (v ?w&~?v)) (not (denied-{name} (v ?w)))))"
        )
        self._environment.build(
            f"(defrule settle-{name} (declare (salience {salience})) (raw-{name} (v ?v)) "
            f"(not (denied-{name} (v ?v))) {alone if attribute in self._single else ''} "
            f"=> (assert ({name} (v ?v))))"
        )

    def _condition(self, when: Condition) -> str:
        if isinstance(when, Test):
            return self._test(when)
        parts = [self._condition(part) for part in when.parts]
        if isinstance(when, All):
            return f"(and {' '.join(parts)})" if parts else "(not (said (v never)))"
        return f"(or {' '.join(parts)})" if parts else "(said (v never))"

    def _test(self, test: Test) -> str:
        name = self._names[test.attribute]
        value = test.value
        if test.op is Op.KNOWN:
            return f"(exists ({name}))"
        if test.op is Op.UNKNOWN:
            return f"(not ({name}))"
        if isinstance(value, tuple):
            return f"({name} (v {'|'.join(map(_value, value))}))"
        if value is None:
            raise TypeError(f"{test} has no value")
        if test.op is Op.EQUAL:
            return f"({name} (v {_value(value)}))"
        if test.op is Op.NOT_EQUAL:
            spelled = _value(value)
            return (
                f"(and (or (exists ({name})) (denied-{name} (v {spelled}))) "
                f"(not ({name} (v {spelled}))))"
            )
        sign = ">=" if test.op is Op.AT_LEAST else "<="
        # A name of its own, as equal names would ask for equal numbers.
        self._variables += 1
        n = f"?n{self._variables}"
        return f"({name} (v {n}&:(numberp {n})&:({sign} {n} {_value(value)})))"


def _tests(when: Condition) -> list[Test]:
    if isinstance(when, Test):
        return [when]
    return [test for part in when.parts for test in _tests(part)]
