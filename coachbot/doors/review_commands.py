"""The commands of the coach's review: ``coachbot audit``, ``map`` and ``compare``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from .options import MESSAGES, OWN_RULES, PAGES, told

JSON = click.option("--json", "as_json", is_flag=True, help="JSON on standard output.")
PAGE = click.option(
    "--page",
    "file",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write one page (HTML) to this file instead.",
)


@click.command("map")
@click.argument("families", nargs=-1, metavar="[FAMILY]...")
@JSON
@PAGE
@OWN_RULES
@click.pass_obj
def map_situations(
    before: tuple[Path, ...],
    families: tuple[str, ...],
    as_json: bool,
    file: Path | None,
    own: tuple[Path, ...],
) -> None:
    """Show which situations are served, by which rules, and where that is thin."""
    from .reviewing import show_map

    with told():
        sys.exit(show_map((*before, *own), families, as_json, file))


@click.command("audit")
@click.option("--list", "as_list", is_flag=True, help="List the checks and stop.")
@click.option("--only", multiple=True, metavar="RULE", help="Look at this rule alone. Repeatable.")
@JSON
@PAGE
@OWN_RULES
@click.pass_obj
def audit_rules(
    before: tuple[Path, ...],
    as_list: bool,
    only: tuple[str, ...],
    as_json: bool,
    file: Path | None,
    own: tuple[Path, ...],
) -> None:
    """Prove what the rules promise, and find rules that do nothing or clash.

    Ends with status 1 when something is wrong. A finding that may stay is accepted with a
    reason in audit.yaml of the rule folder.
    """
    from .reviewing import list_checks, run_audit

    if as_list:
        sys.exit(list_checks(as_json))
    with told():
        sys.exit(run_audit((*before, *own), only, as_json, file))


@click.command("compare")
@click.argument("folders", nargs=-1, metavar="[BEFORE] [AFTER]", type=click.Path(path_type=Path))
@JSON
@PAGES
@MESSAGES
@OWN_RULES
@click.pass_obj
def compare_rules(
    before: tuple[Path, ...],
    folders: tuple[Path, ...],
    as_json: bool,
    pages: tuple[Path, ...],
    lists: tuple[Path, ...],
    own: tuple[Path, ...],
) -> None:
    """Show what differs in meaning between two rule sets, and what that changes.

    A folder is a whole rule set, such as an earlier copy, or a folder of your own rules, which
    is laid over the shipped ones. With one folder: an earlier copy is compared with the rules
    of today, own rules are compared with the shipped ones. With none: the shipped rules with
    those of --rules.
    """
    from .comparing import run_compare

    with told():
        sys.exit(run_compare((*before, *own), folders, as_json, pages, lists))
