"""The same rules for clingo, grounded once; what is said in a case is switched on and off."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import clingo

from coachbot.engine import Case, EngineRule
from tests.engine.asp import Program


class Clingo:
    """A rule set as a grounded logic program for the values that occur in the cases."""

    def __init__(
        self, rules: Sequence[EngineRule], single_valued: Collection[str], cases: Sequence[Case]
    ) -> None:
        program = Program(single_valued)
        for number, rule in enumerate(rules):
            program.rule(number, rule)
        facts: dict[str, None] = {}
        self._facts_of: dict[int, list[clingo.Symbol]] = {}
        for case in cases:
            mine = [
                f"{kind}{program.attribute(attribute)}(0,{program.value(value)})"
                for kind, told in (("said", case.said), ("denied", case.denied))
                for attribute, values in told.items()
                for value in values
            ]
            facts.update(dict.fromkeys(mine))
            self._facts_of[id(case)] = [clingo.parse_term(fact) for fact in mine]
        lines = [
            line
            for line in program.finish().split("\n")
            if not line.startswith("#show ") or line.startswith("#show fired")
        ]
        lines.append("case(0).")
        lines += [f"#external {fact}." for fact in facts]
        self._control = clingo.Control(["--warn=none"])
        self._control.add("base", [], "\n".join(lines))
        self._control.ground([("base", [])])

    def run(self, case: Case) -> list[int]:
        """The positions of the rules that fired in one of the cases given before."""
        said = self._facts_of[id(case)]
        for fact in said:
            self._control.assign_external(fact, True)
        fired: list[int] = []
        with self._control.solve(yield_=True) as handle:
            for model in handle:
                fired = [symbol.arguments[1].number for symbol in model.symbols(shown=True)]
        for fact in said:
            self._control.assign_external(fact, False)
        return fired
