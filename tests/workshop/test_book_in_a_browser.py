"""The book as a browser shows it: at the width of a phone and of a desk, in one grey copy."""

from __future__ import annotations

from pathlib import Path

from coachbot.knowledge.book import RuleBook
from coachbot.workshop.own_tests import rule_tests_of
from coachbot.workshop.printed.content import contents
from coachbot.workshop.printed.pages import pages, write_pages
from tests.workshop.in_a_browser import measured, needs_browser


@needs_browser
def test_nothing_overflows_at_360_and_1280_pixels(book: RuleBook, tmp_path: Path) -> None:
    made = pages(contents(book, rule_tests_of(book)), "The coach's book")
    write_pages(made, tmp_path)
    names = [name for name in made if name.endswith(".html")]
    result = measured(tmp_path, names)
    assert result["found"] == []
    assert result["measured"] > 2 * 150
    assert len(names) > 20
