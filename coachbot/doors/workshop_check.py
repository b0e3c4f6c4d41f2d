"""``coachbot rules check``: the tests of rules, told in plain lines or as JSON."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import click

from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.cache import load_cached
from coachbot.knowledge.places import shipped_rules
from coachbot.knowledge.problems import nearest
from coachbot.review.rule_tests import Report, tellable
from coachbot.review.variants import Change
from coachbot.workshop.checking import check
from coachbot.workshop.own_tests import rule_tests_of

from . import screen


def check_rules(
    own: tuple[Path, ...], ids: Sequence[str], as_json: bool, strict: bool = False
) -> int:
    """Run the tests and print the report; 1 when something is wrong, else 0.

    Loosened conditions that no case notices count as wrong only when ``strict``.
    """
    book = load_cached((shipped_rules(), *own))
    known_ids(book, ids)
    report = check(book, rule_tests_of(book), ids, progress=_progress)
    report = replace(report, unneeded=tellable(book, report.unneeded))
    if as_json:
        click.echo(json.dumps(as_data(report), indent=2, ensure_ascii=True))
    else:
        screen.write("\n".join(told_report(report)))
    unneeded = [u for u in report.unneeded if strict or u.variant.change is not Change.LOOSENED]
    return 1 if report.failures or unneeded else 0


def known_ids(book: RuleBook, ids: Sequence[str]) -> None:
    """Raises click.UsageError for an id that no rule has."""
    for rule_id in ids:
        if rule_id not in book.rules:
            folder = f" It is a folder: --rules {rule_id}" if Path(rule_id).is_dir() else ""
            hint = folder or nearest(rule_id, book.rules)
            raise click.UsageError(f'there is no rule "{rule_id}".{hint}')


def told_report(report: Report) -> Iterator[str]:
    """The report in lines: what fails, what no case needs, what is still open."""
    yield (
        f"{_count(len(report.rules), 'rule')}, {_count(report.cases, 'case')},"
        f" {_count(report.variants, 'change')} of conditions tried."
    )
    if report.failures:
        yield f"\n{_count(len(report.failures), 'failure')}:"
        for failure in report.failures:
            yield f"  {failure.rule}: {failure.message}"
    if report.unneeded:
        yield f"\nNo case would notice {_count(len(report.unneeded), 'change')}:"
        rule = ""
        for unneeded in report.unneeded:
            if unneeded.rule != rule:
                rule = unneeded.rule
                yield f"  {rule}"
            yield f"    {unneeded.variant}"
        yield (
            "Add a near miss that only this condition keeps silent (coachbot rules sharpen finds"
            " one), or drop the condition."
        )
    if report.someday:
        yield f"\n{_count(len(report.someday), 'known gap')}, not counted as failures:"
        yield from (f"  {gap}" for gap in report.someday)
    if not report.failures and not report.unneeded:
        yield "All rules hold, and each condition is needed by a case."


def as_data(report: Report) -> dict[str, object]:
    """The report as plain data for JSON."""
    return {
        "rules": list(report.rules),
        "cases": report.cases,
        "changes": report.variants,
        "failures": [{"rule": f.rule, "message": f.message} for f in report.failures],
        "unneeded": [
            {
                "rule": u.rule,
                "change": u.variant.change.value,
                "condition": u.variant.was,
                "instead": u.variant.instead or None,
                "alternative": u.variant.alternative,
            }
            for u in report.unneeded
        ],
        "known_gaps": list(report.someday),
    }


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _progress(done: int, of: int) -> None:
    if sys.stderr.isatty():
        end = "\n" if done == of else ""
        sys.stderr.write(f"\r{done} of {of} rules checked{end}")
        sys.stderr.flush()
    elif done == of or done % 300 == 0:
        sys.stderr.write(f"{done} of {of} rules checked\n")
