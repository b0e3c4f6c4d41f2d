"""The commands of the coach's workshop: ``coachbot rules …`` and ``coachbot book``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from .options import MESSAGES, OWN_RULES, PAGES, told


@click.group()
def rules() -> None:
    """The coach's workshop: test, write, change and compare rules."""


@rules.command()
@click.argument("ids", nargs=-1)
@click.option("--json", "as_json", is_flag=True, help="One JSON object on standard output.")
@click.option("--strict", is_flag=True, help="A loosened condition must be noticed too.")
@OWN_RULES
@click.pass_obj
def check(
    before: tuple[Path, ...],
    ids: tuple[str, ...],
    as_json: bool,
    strict: bool,
    own: tuple[Path, ...],
) -> None:
    """Run the tests of all rules, or of some, and show what no test needs."""
    from .workshop_check import check_rules

    with told():
        sys.exit(check_rules((*before, *own), ids, as_json, strict))


@rules.command()
@click.argument("ids", nargs=-1)
@click.option("--write", is_flag=True, help="Write the cases into the test files.")
@OWN_RULES
@click.pass_obj
def sharpen(
    before: tuple[Path, ...], ids: tuple[str, ...], write: bool, own: tuple[Path, ...]
) -> None:
    """Find cases for conditions that no case of a rule's test needs."""
    from .workshop_rules import sharpen as find

    with told():
        sys.exit(find((*before, *own), ids, write))


OWN_FOLDER = click.option(
    "--own",
    "folder",
    type=click.Path(path_type=Path, file_okay=False),
    help="Your own rule folder. Default: the last --rules folder.",
)


def _layers(own: tuple[Path, ...], folder: Path | None) -> tuple[tuple[Path, ...], Path]:
    """The folders below the own one, and the own one. Raises click.UsageError."""
    if folder is None:
        if not own:
            raise click.UsageError(
                "say which folder is yours: --own FOLDER (it is made when it is not there)"
            )
        folder, own = own[-1], own[:-1]
    return tuple(o for o in own if o.resolve() != folder.resolve()), folder


@rules.command()
@OWN_FOLDER
@PAGES
@MESSAGES
@OWN_RULES
@click.pass_obj
def new(
    before: tuple[Path, ...],
    folder: Path | None,
    pages: tuple[Path, ...],
    lists: tuple[Path, ...],
    own: tuple[Path, ...],
) -> None:
    """Write a new rule and its test in a conversation."""
    from .workshop_rules import new_rule

    below, mine = _layers((*before, *own), folder)
    with told():
        sys.exit(new_rule(below, mine, pages, lists))


@rules.command()
@click.argument("rule_id", metavar="ID")
@click.option("--set", "sets", multiple=True, metavar="FIELD=TEXT", help="Change this field.")
@click.option("--yes", "at_once", is_flag=True, help="Save without asking.")
@OWN_FOLDER
@PAGES
@MESSAGES
@OWN_RULES
@click.pass_obj
def edit(
    before: tuple[Path, ...],
    rule_id: str,
    sets: tuple[str, ...],
    at_once: bool,
    folder: Path | None,
    pages: tuple[Path, ...],
    lists: tuple[Path, ...],
    own: tuple[Path, ...],
) -> None:
    """Change single fields of a rule, in your own folder."""
    from .workshop_rules import edit_rule

    below, mine = _layers((*before, *own), folder)
    with told():
        sys.exit(edit_rule(below, mine, rule_id, sets, pages, lists, at_once))


@rules.command()
@OWN_FOLDER
@OWN_RULES
@click.pass_obj
def undo(before: tuple[Path, ...], folder: Path | None, own: tuple[Path, ...]) -> None:
    """Take back the newest change that the workshop made."""
    from .workshop_rules import undo as take_back

    with told():
        sys.exit(take_back(_layers((*before, *own), folder)[1]))


@rules.command()
@click.argument("rule_id", metavar="ID")
@OWN_FOLDER
@OWN_RULES
@click.pass_obj
def off(before: tuple[Path, ...], rule_id: str, folder: Path | None, own: tuple[Path, ...]) -> None:
    """Switch a shipped rule off in your own folder."""
    from .workshop_rules import switch

    with told():
        sys.exit(switch(_layers((*before, *own), folder)[1], rule_id, off=True))


@rules.command()
@click.argument("rule_id", metavar="ID")
@OWN_FOLDER
@OWN_RULES
@click.pass_obj
def on(before: tuple[Path, ...], rule_id: str, folder: Path | None, own: tuple[Path, ...]) -> None:
    """Switch a shipped rule on again."""
    from .workshop_rules import switch

    with told():
        sys.exit(switch(_layers((*before, *own), folder)[1], rule_id, off=False))


@rules.command()
@click.option("--settle", multiple=True, metavar="ID", help="Yours stays, knowing the new text.")
@click.option("--json", "as_json", is_flag=True, help="A JSON list on standard output.")
@OWN_FOLDER
@OWN_RULES
@click.pass_obj
def conflicts(
    before: tuple[Path, ...],
    settle: tuple[str, ...],
    as_json: bool,
    folder: Path | None,
    own: tuple[Path, ...],
) -> None:
    """Show where an update changed what your folder replaces or switches off."""
    from .workshop_rules import show_conflicts

    with told():
        sys.exit(show_conflicts(_layers((*before, *own), folder)[1], settle, as_json))


@rules.command()
@click.argument("folder", type=click.Path(path_type=Path))
@PAGES
@MESSAGES
@OWN_RULES
@click.pass_obj
def watch(
    before: tuple[Path, ...],
    folder: Path,
    pages: tuple[Path, ...],
    lists: tuple[Path, ...],
    own: tuple[Path, ...],
) -> None:
    """Check a folder again on every save, and show what would change."""
    from .workshop_rules import watch as look

    below, mine = _layers((*before, *own), folder)
    with told():
        sys.exit(look(below, mine, pages, lists))


@click.command()
@click.argument("out", metavar="OUT_FOLDER", type=click.Path(path_type=Path, file_okay=False))
@click.option("--title", default="The coach's book", help="The book's title.")
@click.option("--pdf/--no-pdf", default=True, help="With or without the PDF file.")
@OWN_RULES
@click.pass_obj
def book(before: tuple[Path, ...], out: Path, title: str, pdf: bool, own: tuple[Path, ...]) -> None:
    """Print the whole rule set as linked pages and a PDF."""
    from .workshop_book import print_book

    with told():
        sys.exit(print_book((*before, *own), out, title, pdf))
