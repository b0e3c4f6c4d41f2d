"""The one place that touches durable-rules: small sets of rules in its bare C module.

durable-rules 2.0.28 crashes, hangs or answers wrongly in many ways of use. What is safe,
and used here: few rules per handle, one fact with small fixed names and the number 1, one
session whose first fact fires a rule, and no deletion of a session before that.
"""

from __future__ import annotations

import json
import weakref
from collections.abc import Iterable, Sequence
from importlib.metadata import PackageNotFoundError, version

import durable_rules_engine

VERSION = "2.0.28"
MAX_RULES = 32
MAX_ATOMS = 240

_FACT = '{"id":"f","sid":"k",'
_NO_RULE_FIRES = 1
# The name of the rule that fires first; other rules are named by their positions.
_BOOT = MAX_RULES


class EngineError(RuntimeError):
    """durable-rules is missing, has another version or does not do what it should."""


def check_version() -> None:
    """Raises EngineError unless the tried version of durable-rules is installed."""
    try:
        found = version("durable-rules")
    except PackageNotFoundError:
        found = "no known version"
    if found != VERSION:
        raise EngineError(
            f"coachbot runs on durable-rules {VERSION} only, and found {found}: "
            f"install it with 'pip install durable-rules=={VERSION}'."
        )


def field(number: int) -> str:
    return f"a{number}"


class Part:
    """Up to 32 conjunctions of atoms, which durable-rules matches against the atoms that hold.

    An atom is a number that stands for one test. ``conjunctions`` are non-empty and without
    repeats; it helps durable-rules when the rarest atom of each comes first.
    """

    __slots__ = ("__weakref__", "_fields", "_handles", "_rules")

    def __init__(self, conjunctions: Sequence[Sequence[int]]) -> None:
        numbers: dict[int, int] = {}
        rules: dict[str, object] = {str(_BOOT): {"all": [{"m": {"boot": 1}}]}}
        for index, atoms in enumerate(conjunctions):
            if not atoms or len(set(atoms)) != len(atoms):
                raise ValueError(f"atoms of a conjunction must be some and distinct: {atoms}")
            tests = [{field(numbers.setdefault(atom, len(numbers))): 1} for atom in atoms]
            rules[str(index)] = {"all": [{"m": {"$and": tests} if len(tests) > 1 else tests[0]}]}
        if len(conjunctions) > MAX_RULES or len(numbers) > MAX_ATOMS:
            raise ValueError(f"a part takes {MAX_RULES} conjunctions and {MAX_ATOMS} atoms")
        self._fields = {atom: f'"{field(number)}":1' for atom, number in numbers.items()}
        self._rules = json.dumps(rules)
        self._handles: list[int] = []
        weakref.finalize(self, _release, self._handles).atexit = False
        self._build()

    def match(self, held: Iterable[int]) -> list[int]:
        """The positions of the conjunctions whose atoms are all held, in no special order.

        ``held`` are distinct atoms of this part, one or more. After any exception, also one
        thrown from outside, the part is built anew.
        """
        if not self._handles:
            self._build()
        try:
            return _fire(self._handles[0], ",".join(map(self._fields.__getitem__, held)))
        except BaseException:
            _release(self._handles)
            raise

    def close(self) -> None:
        _release(self._handles)

    def _build(self) -> None:
        handle = durable_rules_engine.create_ruleset("part", self._rules)
        try:
            # The first firing sets up what delete_state takes for granted.
            if _fire(handle, '"boot":1') != [_BOOT]:
                raise EngineError("durable-rules did not fire the first rule of a part")
        except BaseException:
            # Without delete_state, which aborts when nothing has fired: leaks the session.
            durable_rules_engine.delete_ruleset(handle)
            raise
        self._handles.append(handle)


def _fire(handle: int, fields: str) -> list[int]:
    engine = durable_rules_engine
    code, offset = engine.assert_fact(handle, f"{_FACT}{fields}}}")
    if code == _NO_RULE_FIRES:
        return []
    if code:
        raise EngineError(f"durable-rules refused a fact with code {code}")
    fired: list[int] = []
    # Messages look like {"17":{"m":{fact}}}, 17 being the name of the rule.
    message = engine.start_action_for_state(handle, offset)[1]
    while message:
        fired.append(int(message[2 : message.index('"', 2)]))
        message = engine.complete_and_start_action(handle, offset)
    engine.retract_fact(handle, '{"id":"f","sid":"k"}')
    return fired


def _release(handles: list[int]) -> None:
    while handles:
        handle = handles.pop()
        try:
            durable_rules_engine.delete_state(handle, "k")
        finally:
            durable_rules_engine.delete_ruleset(handle)
