"""``coachbot book``: the rule set as pages and as a PDF file."""

from __future__ import annotations

from pathlib import Path

import click

from coachbot.knowledge.cache import load_cached
from coachbot.knowledge.places import shipped_rules
from coachbot.knowledge.problems import Refused
from coachbot.workshop.own_tests import rule_tests_of
from coachbot.workshop.printed.content import contents
from coachbot.workshop.printed.pages import pages, write_pages
from coachbot.workshop.printed.pdf import write_pdf

from . import screen

PDF = "book.pdf"


def print_book(own: tuple[Path, ...], out: Path, title: str, pdf: bool) -> int:
    """Write the book into a folder. Raises BrokenRules, and Refused when it cannot be written."""
    folders = (shipped_rules(), *own)
    for folder in folders:
        if out.resolve().is_relative_to(folder.resolve()):
            raise Refused(f"{out} is inside the rule folder {folder}; choose another place")
    book = load_cached(folders)
    inside = contents(book, rule_tests_of(book))
    made = pages(inside, title)
    try:
        write_pages(made, out)
        screen.write(f"{len(made) - 1} pages written, beginning with {out / 'index.html'}")
        if pdf:
            click.echo("The PDF takes a little while.", err=True)
            write_pdf(inside, title, out / PDF)
            screen.write(f"and as one file: {out / PDF}")
    except OSError as error:
        raise Refused(f"{out} cannot be written: {error.strerror}") from None
    return 0
