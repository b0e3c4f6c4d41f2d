"""The commands of the coach's workshop: ``coachbot rules …`` and ``coachbot book``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from .options import OWN_RULES, told


@click.group()
def rules() -> None:
    """The coach's workshop: test, write, change and compare rules."""


@rules.command()
@click.argument("ids", nargs=-1)
@click.option("--json", "as_json", is_flag=True, help="One JSON object on standard output.")
@OWN_RULES
@click.pass_obj
def check(
    before: tuple[Path, ...], ids: tuple[str, ...], as_json: bool, own: tuple[Path, ...]
) -> None:
    """Run the tests of all rules, or of some, and show what no test needs."""
    from .workshop_check import check_rules

    with told():
        sys.exit(check_rules((*before, *own), ids, as_json))
