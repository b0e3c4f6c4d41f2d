"""The book as one PDF file, the same bytes for the same rules."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Sequence
from pathlib import Path
from xml.sax.saxutils import escape

from reportlab.lib.colors import black, white
from reportlab.lib.enums import TA_LEFT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle, PropertySet
from reportlab.lib.units import mm
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    KeepTogether,
    PageBreak,
    PageTemplate,
    Paragraph,
    Spacer,
)
from reportlab.platypus.tableofcontents import TableOfContents

from .content import Contents, Entry, Served
from .flow import FONT_SIZE, LINE, PAD, WIDE, Picture, Shape, advice_flow, ends

MARGIN = 18 * mm
_BODY = ParagraphStyle(
    "body", fontName="Helvetica", fontSize=9.5, leading=12.5, alignment=TA_LEFT, spaceAfter=2
)
_SMALL = ParagraphStyle("small", _BODY, fontSize=8, leading=10.5)
_ITEM = ParagraphStyle("item", _BODY, leftIndent=12, bulletIndent=2, spaceAfter=1)
_CASE = ParagraphStyle(
    "case", _SMALL, leftIndent=26, bulletIndent=2, spaceAfter=0, bulletFontSize=8
)
_TITLE = ParagraphStyle("title", _BODY, fontName="Helvetica-Bold", fontSize=26, leading=32)
_PART = ParagraphStyle("part", _TITLE, fontSize=20, leading=26, spaceAfter=8)
_CHAPTER = ParagraphStyle("chapter", _TITLE, fontSize=15, leading=20, spaceBefore=6, spaceAfter=6)
_HEAD = ParagraphStyle(
    "head", _BODY, fontName="Helvetica-Bold", fontSize=11, leading=14, spaceBefore=9, spaceAfter=2
)
_TOC: list[PropertySet] = [
    ParagraphStyle("toc0", _BODY, fontName="Helvetica-Bold", spaceBefore=6),
    ParagraphStyle("toc1", _BODY, leftIndent=12),
]


def write_pdf(contents: Contents, title: str, out: Path) -> None:
    """Write the book into a file. Raises OSError."""
    document = _Document(str(out), title)
    document.multiBuild(list(_story(contents, title)))


class _Document(BaseDocTemplate):
    def __init__(self, name: str, title: str) -> None:
        super().__init__(
            name,
            pagesize=A4,
            leftMargin=MARGIN,
            rightMargin=MARGIN,
            topMargin=MARGIN,
            bottomMargin=MARGIN,
            title=_fit(title),
            author="coachbot",
            invariant=1,
            lang="en",
        )
        frame = Frame(MARGIN, MARGIN, A4[0] - 2 * MARGIN, A4[1] - 2 * MARGIN, 0, 0, 0, 0)
        self.addPageTemplates([PageTemplate("page", [frame], onPage=_page_number)])

    def afterFlowable(self, flowable: Flowable) -> None:  # noqa: N802 (the library's name)
        if not isinstance(flowable, _Heading):
            return
        text, level, name = flowable.getPlainText(), flowable.level, flowable.name
        self.canv.addOutlineEntry(text, name, level, closed=level > 0)
        if level < 2:
            self.notify("TOCEntry", (level, escape(text), self.page, name))


def _page_number(canvas, document) -> None:  # type: ignore[no-untyped-def]
    canvas.setFont("Helvetica", 8)
    canvas.drawRightString(A4[0] - MARGIN, MARGIN / 2, str(document.page))


class _Heading(Paragraph):
    """A heading that can be linked to by its name; level 0 is a part of the book."""

    def __init__(self, text: str, style: ParagraphStyle, name: str, level: int) -> None:
        super().__init__(f'<a name="{name}"/>{_text(text)}', style)
        self.name, self.level = name, level


def _story(contents: Contents, title: str) -> Iterator[Flowable]:
    book = contents.book
    yield Spacer(1, 60 * mm)
    yield Paragraph(_text(title), _TITLE)
    yield Paragraph(
        f"{len(book.rules)} rules for {len(book.situations)} situations at the wall, each with its"
        " reason, its drill, what it rests on and the cases that test it.",
        _BODY,
    )
    yield Spacer(1, 8 * mm)
    yield Paragraph(
        "Local rules of your gym, the staff on the floor and licensed practice come before anything"
        " that is said here.",
        _BODY,
    )
    yield PageBreak()
    yield Paragraph("Contents", _PART)
    toc = TableOfContents(levelStyles=_TOC)
    yield toc
    yield PageBreak()
    yield _Heading("Situations", _PART, "situations", 0)
    yield Paragraph(
        "The pictures are read from left to right: facts in square boxes, what rules make of facts"
        " in round boxes, advice in boxes with a thick edge. A solid line is always needed, a"
        " broken line is one way of several.",
        _SMALL,
    )
    for family, served in contents.situations.items():
        yield _Heading(_plain(family), _CHAPTER, f"situations-{family}", 1)
        for each in served:
            yield KeepTogether(list(_situation(contents, each)))
    yield PageBreak()
    yield _Heading("Rules", _PART, "rules", 0)
    for family, entries in contents.families.items():
        yield _Heading(_plain(family), _CHAPTER, f"rules-{family}", 1)
        for entry in entries:
            yield from _rule(entry)
    yield PageBreak()
    yield _Heading("Sources", _PART, "sources", 0)
    for key, source in book.sources.items():
        relying = contents.relying[key]
        memory = "" if source.seen else " (quoted from memory)"
        yield Paragraph(f'<a name="source-{key}"/>{_text(source.cite + memory)}', _BODY)
        if relying:
            names = ", ".join(_link(e.id, e.id) for e in relying)
            yield Paragraph(f"Rules: {names}", _SMALL)
        yield Spacer(1, 4)


def _situation(contents: Contents, served: Served) -> Iterator[Flowable]:
    yield _Heading(f"{served.situation.situation} ({served.id})", _HEAD, served.id, 2)
    yield Paragraph(f"A coach aims at: {_text(served.situation.aim)}.", _BODY)
    for i, entry in enumerate(served.rules, 1):
        yield Paragraph(_link(entry.id, entry.title), _ITEM, bulletText=f"{i}.")
    if served.rules:
        rules = [entry.read for entry in served.rules]
        yield _Drawn(advice_flow(contents.book, served.id, rules, WIDE))


def _rule(entry: Entry) -> Iterator[Flowable]:
    rule = entry.read.rule
    yield CondPageBreak(45 * mm)
    yield _Heading(entry.title, _HEAD, entry.id, 2)
    yield Paragraph(f"{entry.kind}, {entry.id}", _SMALL)
    if rule.stop:
        whom = "Call for help now." if rule.stop == "emergency" else "This is for a clinician."
        yield Paragraph(f"<b>Stop. {whom}</b>", _BODY)
    yield Paragraph("<b>When</b>", _BODY)
    for clause in entry.clauses:
        yield Paragraph(_text(" or ".join(clause.plain)), _ITEM, bulletText="-")
    pairs: list[tuple[str, Sequence[str]]] = [
        ("Then it holds that", entry.concludes),
        ("It cautions", [rule.caution] if rule.caution else []),
        ("It replies", [rule.reply] if rule.reply else []),
        ("Why", [rule.why]),
    ]
    if rule.suggest:
        suggest = rule.suggest
        pairs += [
            ("Drill", [suggest.drill]),
            ("It works when", [suggest.works_when]),
            ("How much", [suggest.dose] if suggest.dose else []),
            ("Take care", suggest.cautions),
            ("Trains", [", ".join(map(_words, suggest.skills))]),
            ("Loads", [", ".join(map(_words, suggest.loads))] if suggest.loads else []),
        ]
    for label, texts in pairs:
        for text in texts:
            yield Paragraph(f"<b>{label}:</b> {_text(text)}", _BODY)
    for basis in entry.bases:
        where = "common practice"
        if basis.source:
            place = f", {basis.place}" if basis.place else ""
            where = _link(f"source-{basis.key}", basis.source.cite + place)
        yield Paragraph(f"<b>Rests on:</b> {_text(basis.says)} ({where})", _BODY)
    for word, cases in (("yes", entry.fires), ("no", entry.silent)):
        for case in cases:
            yield Paragraph(_text(case), _CASE, bulletText=word)
    served = ", ".join(_link(i, i) for i in rule.serves)
    serves = f"Serves {served}. " if served else ""
    yield Paragraph(f"{serves}Written by {_text(rule.author)}, reviewed {rule.reviewed}.", _SMALL)


class _Drawn(Flowable):
    """A picture, made smaller where the page asks for it. Its boxes are links."""

    def __init__(self, picture: Picture) -> None:
        super().__init__()
        self._picture = picture
        self._scale = 1.0

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        room = A4[1] - 2 * MARGIN - 20 * mm
        self._scale = min(0.72, available_width / self._picture.width, room / self._picture.height)
        return available_width, self._picture.height * self._scale + 10

    def draw(self) -> None:
        canvas, picture = self.canv, self._picture
        canvas.saveState()
        canvas.translate(0, picture.height * self._scale + 4)
        canvas.scale(self._scale, self._scale)
        for line in picture.lines:
            x1, y1, x2, y2 = ends(picture, line)
            middle = (x1 + x2) / 2
            canvas.setDash([5, 4] if line.alternative else [])
            canvas.setLineWidth(1.2)
            canvas.bezier(x1, -y1, middle, -y1, middle, -y2, x2, -y2)
        canvas.setDash([])
        for box in picture.boxes:
            canvas.setLineWidth({Shape.ADVICE: 3, Shape.MORE: 0}.get(box.shape, 1))
            radius = {Shape.MADE: 13, Shape.ADVICE: 4}.get(box.shape, 0.01)
            canvas.setStrokeColor(white if box.shape is Shape.MORE else black)
            canvas.setFillColor(white)
            canvas.roundRect(
                box.x, -box.y - box.height, picture.size.box, box.height, radius, fill=1
            )
            canvas.setFillColor(black)
            canvas.setStrokeColor(black)
            canvas.setFont("Helvetica", FONT_SIZE)
            for i, text in enumerate(box.lines):
                canvas.drawString(box.x + PAD, -(box.y + PAD + LINE * (i + 0.78)), _fit(text))
            if box.link and not box.link.startswith("fact:"):
                area = (box.x, -box.y - box.height, box.x + picture.size.box, -box.y)
                canvas.linkRect("", box.link, area, relative=1)
        canvas.restoreState()


def _link(name: str, text: str) -> str:
    return f'<a href="#{name}">{_text(text)}</a>'


def _text(text: str) -> str:
    return escape(_fit(text))


def _plain(name: str) -> str:
    return _words(name).capitalize()


def _words(name: str) -> str:
    return name.replace("_", " ").replace("-", " ")


# Letters that are no letter with an accent, and stand in no standard font.
_UNLIKE = {"ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "ı": "i", "ħ": "h", "→": "->", "≥": ">=",
           "≤": "<="}  # fmt: skip


def _fit(text: str) -> str:
    """Text in the letters that the standard fonts have; others without their accents."""
    shown = []
    for letter in text:
        try:
            letter.encode("cp1252")
            shown.append(letter)
        except UnicodeEncodeError:
            plain = unicodedata.normalize("NFKD", letter).encode("ascii", "ignore").decode()
            shown.append(plain or _UNLIKE.get(letter, "?"))
    return "".join(shown)
