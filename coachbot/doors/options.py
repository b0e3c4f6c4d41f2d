"""What several commands share: their options, and how trouble is told."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from pathlib import Path

import click

from coachbot.knowledge.problems import BrokenRules, Refused

OWN_RULES = click.option(
    "--rules",
    "own",
    multiple=True,
    type=click.Path(path_type=Path),
    help="A rule folder of your own, added to the shipped rules. May be given again.",
)

PAGES = click.option(
    "--pages",
    multiple=True,
    type=click.Path(exists=True, path_type=Path),
    help="Kept conversations to compare (Markdown pages, or folders of them).",
)
MESSAGES = click.option(
    "--messages",
    "lists",
    multiple=True,
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="A file of messages to compare, one a line.",
)


@contextlib.contextmanager
def told() -> Iterator[None]:
    """Broken rules and refusals end in a sentence, a closed pipe in silence; no traceback."""
    try:
        yield
    except BrokenRules as error:
        click.echo(broken(error), err=True)
        sys.exit(1)
    except Refused as error:
        click.echo(f"{error}.".replace("..", "."), err=True)
        sys.exit(1)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)


def broken(error: BrokenRules, started: bool = False) -> str:
    """Every mistake of a rule folder, and what to do."""
    count = len(error.problems)
    head = f"The rules have {count} {'mistake' if count == 1 else 'mistakes'}:"
    lines = [head, *(f"  {p}" for p in error.problems)]
    if not started:
        lines.append("Nothing was started. Mend the files and run again.")
    return "\n".join(lines)
