"""A rule folder watched while the coach edits it with any editor."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from coachbot.knowledge.book import RuleBook, load
from coachbot.knowledge.cache import fingerprint
from coachbot.knowledge.model import RuleCheck
from coachbot.knowledge.problems import BrokenRules, Problem
from coachbot.review.rule_tests import Report, run

from .effects import Effects, Minds, Told, effects, sampled_cases
from .own_tests import rule_tests_of
from .trying import changed_rules


@dataclass(frozen=True, slots=True)
class Seen:
    """What a save led to: problems, or the rules that changed with their tests and effects."""

    problems: tuple[Problem, ...] = ()
    changed: tuple[str, ...] = ()
    report: Report = field(default_factory=Report)
    effects: Effects | None = None


class Watch:
    """Looks at the folders when asked; a broken save leaves the last good book in place."""

    def __init__(
        self, folders: Sequence[Path], conversations: Sequence[Told], messages: Sequence[Told]
    ) -> None:
        self._folders = tuple(folders)
        self._told = (conversations, messages)
        self._print = fingerprint(self._folders)
        self._tests: dict[str, RuleCheck] = {}
        self._minds: Minds | None = None

    def first(self) -> Seen:
        """The state at the beginning: every rule test of the own folders."""
        try:
            minds, tests = self._load()
        except BrokenRules as error:
            return Seen(error.problems)
        self._minds, self._tests = minds, tests
        own = own_rules(minds.book)
        return Seen(report=run(minds.book, tests, own) if own else Report())

    def look(self) -> Seen | None:
        """What the newest save changed, None when nothing was saved since the last look."""
        now = fingerprint(self._folders)
        if now == self._print:
            return None
        self._print = now
        try:
            after, tests = self._load()
        except BrokenRules as error:
            return Seen(error.problems)
        before, tests_before = self._minds, self._tests
        self._minds, self._tests = after, tests
        if before is None:
            return Seen(report=run(after.book, tests, own_rules(after.book) or ["-"]))
        changed = changed_rules(before.book, after.book)
        retested = [i for i in tests if tests[i] != tests_before.get(i)]
        touched = [i for i in dict.fromkeys((*changed, *retested)) if i in after.book.rules]
        report = run(after.book, tests, touched) if touched else Report()
        cases = list(sampled_cases(tests))
        found = effects(before, after, *self._told, cases)
        before.close()
        return Seen(changed=changed, report=report, effects=found)

    def _load(self) -> tuple[Minds, dict[str, RuleCheck]]:
        book = load(*self._folders)
        tests = rule_tests_of(book)
        return Minds.of(book, self._minds), tests


def own_rules(book: RuleBook) -> list[str]:
    """The ids of the rules that stand in folders above the shipped one."""
    own = {folder.name for folder in book.folders[1:]}
    return [i for i, r in book.rules.items() if r.place.path.split("/", 1)[0] in own]
