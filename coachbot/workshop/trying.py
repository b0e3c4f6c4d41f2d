"""A change tried out on a copy: the rule book as it would be, before anything is saved."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

from coachbot.knowledge.book import ReadRule, RuleBook, load
from coachbot.knowledge.model import RuleCheck

from .folder import UNDO, OwnFolder
from .own_tests import rule_tests_of


@contextmanager
def as_if(
    below: Sequence[Path], own: OwnFolder, files: Mapping[str, str | None]
) -> Iterator[tuple[RuleBook, dict[str, RuleCheck]]]:
    """The book and its tests with some files of the own folder written (or gone, None).

    ``below`` are the folders under the own one. Raises BrokenRules, with the own folder's
    name in every place; Refused for names that lead out of the folder.
    """
    with tempfile.TemporaryDirectory(prefix="coachbot-") as name:
        trial = Path(name) / own.path.resolve().name
        if own.path.is_dir():
            shutil.copytree(own.path, trial, symlinks=True, ignore=shutil.ignore_patterns(UNDO))
        trial.mkdir(exist_ok=True)
        copy = OwnFolder(trial)
        copy.write(files, "tried out")
        book = load(*below, trial)
        yield book, rule_tests_of(book)


def changed_rules(before: RuleBook, after: RuleBook) -> tuple[str, ...]:
    """The ids of rules that are new, gone or otherwise in what they say or when they fire."""
    return tuple(
        rule_id
        for rule_id in dict.fromkeys((*before.rules, *after.rules))
        if _matter(before.rules.get(rule_id)) != _matter(after.rules.get(rule_id))
    )


def _matter(read: ReadRule | None) -> object:
    return None if read is None else (read.rule, read.when, read.then, read.copies)


def same_words(before: RuleBook, after: RuleBook) -> bool:
    """Whether messages are read alike by both, so that one reader serves both."""
    return (before.facts, before.words, before.concepts, before.ladder) == (
        after.facts, after.words, after.concepts, after.ladder,
    )  # fmt: skip
