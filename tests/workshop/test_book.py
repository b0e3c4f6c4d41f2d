"""The printed book: nothing is left out, every link leads somewhere, nothing depends on colour."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pypdf
import pytest
from click.testing import CliRunner
from reportlab.pdfbase.pdfmetrics import stringWidth

from coachbot.doors.commands import main
from coachbot.knowledge.book import RuleBook, load
from coachbot.knowledge.places import shipped_rules
from coachbot.workshop.folder import OwnFolder
from coachbot.workshop.own_tests import rule_tests_of
from coachbot.workshop.printed.content import Contents, contents
from coachbot.workshop.printed.flow import (
    FONT,
    FONT_SIZE,
    NARROW,
    PAD,
    WIDE,
    Picture,
    Shape,
    advice_flow,
    concept_flow,
)
from coachbot.workshop.printed.pages import pages
from coachbot.workshop.printed.pdf import write_pdf

VOID = {"meta", "link", "br", "hr", "img"}


@pytest.fixture(scope="module")
def inside(book: RuleBook) -> Contents:
    return contents(book, rule_tests_of(book))


@pytest.fixture(scope="module")
def made(inside: Contents) -> dict[str, str]:
    return pages(inside, "The coach's book")


class Read(HTMLParser):
    """What a page holds: its text, ids, links, and whether its elements close in order."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.text, self.ids, self.links, self._open = [], [], [], []  # type: ignore[var-annotated]
        self.feed(page)
        assert self._open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if given.get("id"):
            self.ids.append(given["id"])
        link = given.get("href")
        if link is not None:
            self.links.append(link)
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        pass

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text.append(data)


@pytest.fixture(scope="module")
def read(made: dict[str, str]) -> dict[str, Read]:
    return {name: Read(page) for name, page in made.items() if name.endswith(".html")}


def test_every_link_leads_to_a_place_in_the_book(
    made: dict[str, str], read: dict[str, Read]
) -> None:
    ids = {name: set(page.ids) for name, page in read.items()}
    count = 0
    for name, page in read.items():
        assert len(page.ids) == len(ids[name]), f"an id stands twice in {name}"
        for link in page.links:
            target, _, place = link.partition("#")
            assert (target or name) in made, f"{name}: {link}"
            assert not place or place in ids[target or name], f"{name}: {link}"
            count += 1
    assert count > 5000


def test_every_rule_stands_in_the_book_with_all_that_it_says(
    book: RuleBook, read: dict[str, Read]
) -> None:
    texts = {name: " ".join("".join(page.text).split()) for name, page in read.items()}
    tests = rule_tests_of(book)
    for rule_id, rule in book.rules.items():
        page = f"rules-{rule.family}.html"
        assert rule_id in read[page].ids
        wanted = [rule.rule.why, *(g.says for g in rule.rule.ground)]
        if rule.rule.suggest:
            s = rule.rule.suggest
            wanted += [s.now, s.drill, s.works_when, s.dose or "", *s.cautions]
        wanted += [rule.rule.caution or "", rule.rule.reply or "", rule.rule.author]
        for text in wanted:
            assert " ".join(text.split()) in texts[page], (rule_id, text)
        assert tests[rule_id].fires
    for i, situation in book.situations.items():
        page = f"situations-{situation.family}.html"
        assert i in read[page].ids
        assert situation.aim in texts[page]
    for source in book.sources.values():
        assert " ".join(source.cite.split()) in texts["sources.html"]


def test_the_pages_use_no_network_no_script_and_no_colour(made: dict[str, str]) -> None:
    for name, text in made.items():
        links = text.replace('xmlns="http://www.w3.org/2000/svg"', "")
        assert not re.search(r"(?:src|href)=\"(?:https?:)?//|<script|@import|url\(", links), name
    css = made["style.css"]
    colours = re.findall(r"#[0-9a-f]{6}", css)
    assert colours
    assert all(c[1:3] == c[3:5] == c[5:7] for c in colours), "only greys"
    assert not re.search(r"\b(rgb|hsl)a?\(", css)


def pictures(book: RuleBook, inside: Contents) -> Iterator[Picture]:
    for family in inside.situations.values():
        for served in family:
            for size in (WIDE, NARROW):
                yield advice_flow(book, served.id, [e.read for e in served.rules], size)
    for name, entries in inside.making.items():
        for size in (WIDE, NARROW):
            yield concept_flow(book, name, [e.read for e in entries], size)


def test_pictures_are_readable(book: RuleBook, inside: Contents) -> None:
    """No box on another, no text wider than its box, widths that fit a page and a phone."""
    count = 0
    for picture in pictures(book, inside):
        count += 1
        assert picture.width <= (3 * WIDE.box + 2 * WIDE.gap if picture.size is WIDE else 332)
        columns: dict[float, list[tuple[float, float]]] = {}
        for box in picture.boxes:
            columns.setdefault(box.x, []).append((box.y, box.y + box.height))
            for line in box.lines:
                assert stringWidth(line, FONT, FONT_SIZE) <= picture.size.box - 2 * PAD + 0.1, line
        for spans in columns.values():
            spans.sort()
            assert all(a[1] < b[0] for a, b in pairwise(spans))
        for line in picture.lines:
            assert picture.boxes[line.start].x < picture.boxes[line.end].x
    assert count > 300


def test_a_picture_shows_what_the_rule_reads(small: Path, own: OwnFolder) -> None:
    file = own.path / "holds" / "chest-over-feet.yaml"
    ways = '  - any: ["body_to_hold is below", "steep_ground is no"]\n'
    file.write_text(file.read_text().replace("  - wall is slab\n", ways))
    book = load(small, own.path)
    picture = advice_flow(book, "x", [book.rules["chest-over-feet"]], WIDE)
    texts = {" ".join(b.lines): i for i, b in enumerate(picture.boxes)}
    (end,) = [i for i, b in enumerate(picture.boxes) if b.shape is Shape.ADVICE]
    into = {line.start: line.alternative for line in picture.lines if line.end == end}
    made = texts["the ground is not steep: the feet carry"]
    assert into == {
        texts["the hand is on a sloper (round, no edge)"]: False,
        texts["the body is below the hold"]: True,
        made: True,
    }
    assert picture.boxes[made].shape is Shape.MADE
    assert any(line.end == made for line in picture.lines), "what makes it is traced"


def test_pictures_are_sound_xml(made: dict[str, str]) -> None:
    found = re.findall(r"<svg.*?</svg>", "".join(made.values()), flags=re.S)
    assert len(found) > 300
    for svg in found:
        root = ElementTree.fromstring(svg)
        title = root.find("{http://www.w3.org/2000/svg}title")
        assert title is not None
        assert title.text


def test_text_of_a_rule_cannot_become_markup(small: Path) -> None:
    file = small / "holds" / "sloper-hang-low.yaml"
    nasty = "<script>alert(1)</script> & 'x'"
    text = file.read_text()
    start = text.index("why:")
    file.write_text(f'{text[:start]}why: "{nasty}"\nground:{text.split("ground:")[1]}')
    book = load(small)
    page = pages(contents(book, {}), "<b>")["rules-holds.html"]
    assert "<script>" not in page
    assert "&lt;script&gt;" in page
    assert nasty in "".join(Read(page).text)


def test_the_pdf_is_the_same_each_time_and_says_what_the_rules_say(
    small: Path, tmp_path: Path
) -> None:
    file = small / "holds" / "sloper-hang-low.yaml"
    file.write_text(file.read_text().replace("A round hold", "Żółw: <b>a</b> round hold"))
    inside = contents(load(small), {})
    for name in ("one.pdf", "two.pdf"):
        write_pdf(inside, "The coach's book", tmp_path / name)
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()
    reader = pypdf.PdfReader(tmp_path / "one.pdf")
    text = " ".join(" ".join(p.extract_text() for p in reader.pages).split())
    for rule in inside.entries.values():
        assert " ".join(rule.title.split()) in text
    assert "Zólw" in text
    assert "<b>a</b> round hold" in text
    leaves = {page.indirect_reference for page in reader.pages}
    links = [a.get_object() for page in reader.pages for a in page.get("/Annots", [])]
    assert len(links) > 20
    assert {link["/Dest"][0] for link in links} <= leaves
    assert reader.outline


def test_the_command_writes_the_book_and_refuses_the_rule_folder(
    own: OwnFolder, tmp_path: Path
) -> None:
    out = tmp_path / "book"
    args = ["--rules", str(own.path), "book", str(out), "--no-pdf"]
    told = CliRunner().invoke(main, args)
    assert told.exit_code == 0, told.output
    assert "Chest over the feet, then press." in (out / "rules-holds.html").read_text()
    for inside_rules in (own.path / "book", shipped_rules() / "book"):
        wrong = CliRunner().invoke(main, [*args[:3], str(inside_rules), "--no-pdf"])
        assert wrong.exit_code == 1
        assert "inside the rule folder" in wrong.stderr
        assert not inside_rules.exists()
