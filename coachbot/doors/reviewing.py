"""``coachbot audit`` and ``map``: told in lines of 80 columns, as JSON, as a page."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path

import click

from coachbot.knowledge.cache import load_cached
from coachbot.knowledge.places import shipped_rules
from coachbot.knowledge.problems import Refused, nearest
from coachbot.review.audit import Report, all_checks, audit
from coachbot.review.cases import ToldCase
from coachbot.review.findings import Finding, Severity
from coachbot.review.page import page
from coachbot.review.proofs import CONFLICT, CONTRADICTION, SAFETY
from coachbot.review.situation_map import Row, SituationMap, situation_map

from . import screen
from .workshop_check import known_ids


def show_map(
    own: tuple[Path, ...], families: tuple[str, ...], as_json: bool, file: Path | None
) -> int:
    """Print the map of situations, or write it as a page."""
    book = load_cached((shipped_rules(), *own))
    known = dict.fromkeys(s.family for s in book.situations.values())
    for family in families:
        if family not in known:
            raise click.UsageError(
                f'there is no family "{family}".{nearest(family, known)} Families: '
                + ", ".join(known)
            )
    found = situation_map(book, families)
    if file is not None:
        write_page(file, page("map", map=found))
    if as_json:
        click.echo(json.dumps(map_data(found), indent=2))
    elif file is None:
        screen.write("\n".join(told_map(found)))
    return 0


def told_map(found: SituationMap) -> Iterator[str]:
    """The map in lines, family by family; at the end what is served thinly."""
    for family in found.families:
        rows = found.of_family(family)
        thin = [row for row in rows if row in found.thin]
        yield f"{family.upper()}: {_count(len(rows), 'situation')}, {len(thin)} thinly served"
        for row in rows:
            yield f"  {row.id}  {row.situation}"
            if row in found.thin:
                yield f"       ! {row.served.value}"
            for rule in row.rules:
                stop = " (stop)" if rule.stops else ""
                yield f"       {rule.rule}{stop}: {', '.join(rule.sources)}"
        yield ""
    yield f"{found.good} of {_count(len(found.rows), 'situation')} served as they should be."
    yield from (f"  ! {row.id} {row.situation}: {row.served.value}" for row in found.thin)


def map_data(found: SituationMap) -> dict[str, object]:
    """The map as plain data for JSON."""
    return {
        "situations": [_row_data(row) for row in found.rows],
        "thin": [row.id for row in found.thin],
    }


def _row_data(row: Row) -> dict[str, object]:
    return {
        "id": row.id,
        "family": row.family,
        "situation": row.situation,
        "aim": row.aim,
        "served": row.served.value,
        "sources": list(row.sources),
        "rules": [
            {
                "rule": r.rule,
                "says": r.says,
                "strength": r.strength,
                "stop": r.stops,
                "sources": list(r.sources),
            }
            for r in row.rules
        ],
    }


CLAIMS = {
    SAFETY: "safety claims",
    CONTRADICTION: "contradictions that never meet",
    CONFLICT: "facts with one value at a time",
}


def list_checks(as_json: bool) -> int:
    """Print every check with what it asks."""
    checks = all_checks()
    if as_json:
        data = [
            {"check": c.name, "severity": c.severity.value, "exact": c.exact, "asks": c.asks}
            for c in checks
        ]
        click.echo(json.dumps(data, indent=2))
        return 0
    lines = []
    for severity in Severity:
        lines.append(f"{severity.value.upper()}: {severity.meaning}")
        for check in checks:
            if check.severity is severity:
                exact = "" if check.exact else " (by words, not proved)"
                lines.append(f"  {check.name}")
                lines.append(f"    {check.asks}{exact}")
    screen.write("\n".join(lines))
    return 0


def run_audit(
    own: tuple[Path, ...], only: tuple[str, ...], as_json: bool, file: Path | None
) -> int:
    """Audit the rules and print what was found; 1 when something is wrong, else 0."""
    book = load_cached((shipped_rules(), *own))
    known_ids(book, only)
    report = audit(book, only, progress)
    progress("")
    if file is not None:
        asks = {check.name: check.asks for check in all_checks()}
        write_page(
            file, page("audit", report=report, severities=list(Severity), claims=CLAIMS, asks=asks)
        )
    if as_json:
        click.echo(json.dumps(audit_data(report), indent=2))
    elif file is None:
        screen.write("\n".join(told_audit(report)))
    return 1 if report.of(Severity.WRONG) else 0


def told_audit(report: Report) -> Iterator[str]:
    """The report in lines, worst first."""
    asks = {check.name: check.asks for check in all_checks()}
    for severity in Severity:
        findings = report.of(severity)
        if findings:
            yield f"{severity.value.upper()} ({len(findings)}): {severity.meaning}"
        for name, group in groupby(findings, key=lambda f: f.check):
            yield ""
            yield f"{name}: {asks[name]}"
            for finding in group:
                yield f"  {finding.place.path}:{finding.place.line}"
                yield f"    {finding.message}"
                if finding.case is not None:
                    yield f"    Smallest case: {finding.case}"
                    if finding.case.written:
                        yield f"    ({', '.join(finding.case.written)})"
                yield f"    {finding.repair}"
        if findings:
            yield ""
    if report.left_out:
        yield f"Not proved, because they cannot run: {', '.join(report.left_out)}"
    for each in report.proved:
        if each.of:
            yield f"Proved over every case: {each.proved} of {each.of} {CLAIMS[each.kind]}."
    counts = ", ".join(f"{len(report.of(s))} {s.value}" for s in Severity)
    yield (
        f"{_count(report.rules, 'rule')}, {_count(len(report.checks), 'check')}: {counts}; "
        f"{len(report.accepted)} accepted with a reason."
    )


def audit_data(report: Report) -> dict[str, object]:
    """The report as plain data for JSON."""
    return {
        "rules": report.rules,
        "checks": list(report.checks),
        "counts": {s.value: len(report.of(s)) for s in Severity},
        "proved": [{"claims": p.kind, "proved": p.proved, "of": p.of} for p in report.proved],
        "not_proved": list(report.left_out),
        "findings": [_finding_data(finding) for finding in report.findings],
        "accepted": [
            {
                **_finding_data(finding),
                "reason": read.accepted.reason,
                "date": read.accepted.date.isoformat(),
            }
            for finding, read in report.accepted
        ],
    }


def _finding_data(finding: Finding) -> dict[str, object]:
    case = finding.case
    return {
        "check": finding.check,
        "severity": finding.severity.value,
        "about": list(finding.about),
        "file": finding.place.path,
        "line": finding.place.line,
        "message": finding.message,
        "repair": finding.repair,
        "case": case_data(case),
        "also": [{"file": place.path, "line": place.line} for place in finding.also],
    }


def case_data(case: ToldCase | None) -> dict[str, object] | None:
    """A told case as plain data."""
    return None if case is None else {"facts": list(case.written), "told": str(case)}


def progress(text: str) -> None:
    """One line on a terminal, rewritten, and taken away by an empty text; elsewhere nothing."""
    if sys.stderr.isatty():
        sys.stderr.write(f"\r\x1b[K{text[:79]}" if text else "\r\x1b[K")
        sys.stderr.flush()


def write_page(file: Path, text: str) -> None:
    """Write a page and say where. Raises Refused when it cannot be written."""
    try:
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        raise Refused(f"{file} cannot be written: {error.strerror}") from None
    click.echo(f"Written: {file}", err=True)


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
