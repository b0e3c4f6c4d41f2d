"""The command line. With no command, the chat opens."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from coachbot import __version__

from .options import OWN_RULES, told
from .review_commands import audit_rules, compare_rules, map_situations
from .study_commands import study
from .workshop_commands import book, rules


@click.group(
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)
@click.version_option(__version__, prog_name="coachbot")
@OWN_RULES
@click.pass_context
def main(context: click.Context, own: tuple[Path, ...]) -> None:
    """An offline bouldering coach. Without a command it opens the chat."""
    context.obj = own
    if context.invoked_subcommand is None:
        with told():
            from .chat import chat

            sys.exit(chat(own))


@main.command()
@click.argument("text", required=False)
@click.option("--json", "as_json", is_flag=True, help="JSON Lines on standard input and output.")
@click.option("--schema", "as_schema", is_flag=True, help="Print the JSON Schema and stop.")
@OWN_RULES
@click.pass_obj
def advise(
    before: tuple[Path, ...],
    text: str | None,
    as_json: bool,
    as_schema: bool,
    own: tuple[Path, ...],
) -> None:
    """Advice for one message: coachbot advise "my heel slips on the arete"."""
    from . import jsonlines, screen
    from .opening import open_house

    if as_schema:
        import json

        click.echo(json.dumps(jsonlines.schema(), indent=2))
        return
    if as_json and text is not None:
        raise click.UsageError("--json reads standard input and takes no text beside it")
    with told():
        if not as_json and text is None:
            if sys.stdin.isatty():
                raise click.UsageError('say what goes wrong: coachbot advise "my foot slips"')
            text = sys.stdin.buffer.read(2_000_000).decode("utf-8", "replace")
        house = open_house((*before, *own))
        if not as_json:
            screen.write(house.talk().turn(text or "").say)
            return
        good = True
        for line, answered in jsonlines.answers(sys.stdin.buffer, house):
            sys.stdout.write(line + "\n")
            sys.stdout.flush()
            good = good and answered
        sys.exit(0 if good else 1)


@main.command()
@click.argument("pages", nargs=-1, required=True, type=click.Path(exists=True, path_type=Path))
@click.option("--renew", is_flag=True, help="Write the answers of today into the pages.")
@OWN_RULES
@click.pass_obj
def replay(
    before: tuple[Path, ...], pages: tuple[Path, ...], renew: bool, own: tuple[Path, ...]
) -> None:
    """Run kept conversations again and show every answer that has changed."""
    from . import screen
    from .opening import open_house
    from .replaying import pages_in, replay_page

    with told():
        house = open_house((*before, *own))
        changed = 0
        for page in pages_in(pages):
            for difference in replay_page(house, page, renew):
                changed += 1
                screen.write(difference)
        word = "renewed" if renew else "changed"
        screen.write(f"{changed} {'answer' if changed == 1 else 'answers'} {word}.")
        sys.exit(0 if renew or not changed else 1)


main.add_command(rules)
main.add_command(book)
main.add_command(map_situations)
main.add_command(study)
main.add_command(audit_rules)
main.add_command(compare_rules)
