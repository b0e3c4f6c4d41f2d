"""Runs rule tests in several processes."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed

from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.model import RuleCheck
from coachbot.review.rule_tests import Report, run, strays

FEW = 60
AT_A_TIME = 60

Tests = Mapping[str, RuleCheck]
Progress = Callable[[int, int], None]

_given: tuple[RuleBook, Tests] | None = None


def check(
    book: RuleBook,
    tests: Tests,
    only: Sequence[str] = (),
    processes: int | None = None,
    progress: Progress = lambda done, of: None,
) -> Report:
    """The report for all rules or for ``only`` these; ``progress`` gets rules done, of all.

    A few rules are run in this process. The report is in the book's order either way.
    """
    ids = [i for i in book.rules if not only or i in only]
    processes = processes or os.cpu_count() or 1
    if processes == 1 or len(ids) <= FEW:
        report = run(book, tests, only)
        progress(len(ids), len(ids))
        return report
    portions = [ids[i : i + AT_A_TIME] for i in range(0, len(ids), AT_A_TIME)]
    reports: list[Report] = [Report()] * len(portions)
    done = 0
    with ProcessPoolExecutor(processes, initializer=_begin, initargs=(book, tests)) as pool:
        places = {pool.submit(_portion, portion): i for i, portion in enumerate(portions)}
        for finished in as_completed(places):
            reports[places[finished]] = finished.result()
            done += len(portions[places[finished]])
            progress(done, len(ids))
    first = Report(failures=() if only else strays(book, tests))
    return sum(reports, first)


def _begin(book: RuleBook, tests: Tests) -> None:
    global _given
    _given = (book, tests)


def _portion(ids: list[str]) -> Report:
    assert _given is not None
    return run(*_given, only=ids)
