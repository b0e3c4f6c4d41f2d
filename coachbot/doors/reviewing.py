"""``coachbot audit``, ``map`` and ``compare``: told in lines of 80 columns, as JSON, as a page."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import click

from coachbot.knowledge.cache import load_cached
from coachbot.knowledge.places import shipped_rules
from coachbot.knowledge.problems import Refused, nearest
from coachbot.review.page import page
from coachbot.review.situation_map import Row, SituationMap, situation_map

from . import screen


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


def write_page(file: Path, text: str) -> None:
    """Write a page and say where. Raises Refused when it cannot be written."""
    try:
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        raise Refused(f"{file} cannot be written: {error.strerror}") from None
    click.echo(f"Written: {file}", err=True)


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
