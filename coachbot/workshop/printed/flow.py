"""Pictures of how facts lead to advice: layers from left to right, laid out here.

Ordering the nodes of a layer by the mean place of their neighbours is the barycentre
method (Sugiyama, Tagawa, Toda, IEEE Trans SMC 11(2), 109-125, 1981, from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from html import escape

from reportlab.lib.utils import simpleSplit

from coachbot.engine.logic import AtomKey, atom_key
from coachbot.engine.model import All, Any, Condition, Op, Test
from coachbot.knowledge.book import ReadRule, RuleBook
from coachbot.knowledge.wording import condition_sentence

LINE = 15
PAD = 7
BETWEEN = 10
FONT, FONT_SIZE = "Helvetica", 12
MAKERS = 4
LONGEST = 9
ROUNDS = 6


@dataclass(frozen=True, slots=True)
class Size:
    """The width of boxes and of the gaps between layers, in pixels."""

    box: float
    gap: float


WIDE = Size(206, 42)
NARROW = Size(150, 30)


class Shape(StrEnum):
    """What a box stands for."""

    FACT = "fact"
    MADE = "made"
    ADVICE = "advice"
    MORE = "more"


@dataclass(slots=True)
class Box:
    """A box with its lines of text; ``link`` is a rule's id. Coordinates in pixels."""

    shape: Shape
    lines: tuple[str, ...]
    link: str = ""
    layer: int = 0
    x: float = 0
    y: float = 0

    @property
    def height(self) -> float:
        return len(self.lines) * LINE + 2 * PAD


@dataclass(frozen=True, slots=True)
class Line:
    """A line from one box to another; an ``alternative`` is one way of several."""

    start: int
    end: int
    alternative: bool


@dataclass(slots=True)
class Picture:
    """Boxes and lines, laid out. Width and height in pixels."""

    title: str
    size: Size
    boxes: list[Box] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    width: float = 0
    height: float = 0


def advice_flow(book: RuleBook, title: str, rules: Sequence[ReadRule], size: Size) -> Picture:
    """How facts lead to some rules that advise.

    In a wide picture what rules make of facts is traced one step further back.
    """
    making = _Making(book, title, size)
    for rule in rules:
        suggestion = rule.rule.suggest
        text = suggestion.now if suggestion else rule.rule.reply or rule.rule.caution or rule.id
        end = making.box(("rule", rule.id), Shape.ADVICE, text, rule.id)
        making.feed(end, rule, deep=size is WIDE)
    return making.laid_out()


def concept_flow(book: RuleBook, title: str, rules: Sequence[ReadRule], size: Size) -> Picture:
    """How facts lead to what some rules conclude."""
    making = _Making(book, title, size)
    for rule in rules:
        for fact, value in rule.then:
            test = Test(fact, Op.EQUAL, value)
            end = making.box(("test", atom_key(test)), Shape.MADE, condition_sentence(book, test))
            making.made_by(end, rule, alternative=len(rules) > 1)
        for fact, origin, _ in rule.copies:
            text = book.facts[fact].say.replace("{value}", "the same")
            end = making.box(("copy", fact), Shape.MADE, text)
            making.made_by(end, rule, alternative=len(rules) > 1, also=f"({origin} is known)")
    return making.laid_out()


NodeKey = tuple[str, str | AtomKey]


class _Making:
    def __init__(self, book: RuleBook, title: str, size: Size) -> None:
        self._book = book
        self._size = size
        self._picture = Picture(title, size)
        self._numbers: dict[NodeKey, int] = {}
        self._seen_lines: set[tuple[int, int]] = set()
        self._makers: dict[str, list[ReadRule]] = {}
        for rule in book.rules.values():
            for fact in dict.fromkeys(f for f, _ in rule.then):
                self._makers.setdefault(fact, []).append(rule)

    def box(self, known_as: NodeKey, shape: Shape, text: str, link: str = "") -> int:
        if known_as not in self._numbers:
            self._numbers[known_as] = len(self._picture.boxes)
            lines = simpleSplit(text, FONT, FONT_SIZE, self._size.box - 2 * PAD) or [""]
            if len(lines) > LONGEST:
                lines = [*lines[: LONGEST - 1], "…"]
            self._picture.boxes.append(Box(shape, tuple(lines), link))
        return self._numbers[known_as]

    def line(self, start: int, end: int, alternative: bool) -> None:
        if (start, end) not in self._seen_lines:
            self._seen_lines.add((start, end))
            self._picture.lines.append(Line(start, end, alternative))

    def feed(self, end: int, rule: ReadRule, deep: bool) -> None:
        """Draw what a rule reads, and with ``deep`` the rules that make it."""
        for test, alternative in _marked(rule.when, False):
            known_as: NodeKey = ("test", atom_key(test))
            new = known_as not in self._numbers
            made = self._book.facts[test.attribute].concluded
            link = f"fact:{test.attribute}"
            text = condition_sentence(self._book, test)
            start = self.box(known_as, Shape.MADE if made else Shape.FACT, text, link)
            self.line(start, end, alternative)
            if made and new and deep:
                self._trace(start, test)

    def _trace(self, end: int, test: Test) -> None:
        makers = [r for r in self._makers.get(test.attribute, ()) if _makes(r, test)]
        for maker in makers[:MAKERS]:
            self.made_by(end, maker, alternative=len(makers) > 1)
        if len(makers) > MAKERS:
            more = len(makers) - MAKERS
            text = f"and {more} more {'way' if more == 1 else 'ways'}"
            link = f"fact:{test.attribute}"
            node = self.box(("more", repr(atom_key(test))), Shape.MORE, text, link)
            self.line(node, end, alternative=True)

    def made_by(self, end: int, rule: ReadRule, alternative: bool, also: str = "") -> None:
        """Draw a rule that makes a fact as one box with all that it asks for."""
        text = condition_sentence(self._book, rule.when) or also or "always"
        node = self.box(("by", rule.id), Shape.FACT, text, rule.id)
        self.line(node, end, alternative)

    def laid_out(self) -> Picture:
        picture, size = self._picture, self._size
        _layers(picture)
        layers = _ordered(picture)
        for number, layer in enumerate(layers):
            for i in layer:
                picture.boxes[i].x = number * (size.box + size.gap)
        heights = [sum(picture.boxes[i].height + BETWEEN for i in layer) for layer in layers]
        picture.height = max(heights, default=0) + BETWEEN
        picture.width = max(1, len(layers)) * (size.box + size.gap) - size.gap
        for layer, height in zip(layers, heights, strict=True):
            y = (picture.height - height) / 2 + BETWEEN / 2
            for i in layer:
                picture.boxes[i].y = y
                y += picture.boxes[i].height + BETWEEN
        return picture


def _marked(when: Condition, alternative: bool) -> Iterable[tuple[Test, bool]]:
    """Every test, and whether it is one way of several."""
    if isinstance(when, Test):
        yield when, alternative
        return
    inside = alternative or (isinstance(when, Any) and len(when.parts) > 1)
    for part in when.parts:
        yield from _marked(part, inside if isinstance(when, Any | All) else alternative)


def _makes(rule: ReadRule, test: Test) -> bool:
    """Whether a rule's conclusion can make a test hold or fail by its value."""
    made = {value for fact, value in rule.then if fact == test.attribute}
    if test.op in {Op.EQUAL, Op.ONE_OF}:
        wanted = test.value if isinstance(test.value, tuple) else (test.value,)
        return bool(made & set(wanted))
    return bool(made)


def _layers(picture: Picture) -> None:
    """Each box one layer before the nearest box that it leads to; advice is last."""
    after: dict[int, list[int]] = {}
    for line in picture.lines:
        after.setdefault(line.start, []).append(line.end)
    back: dict[int, int] = {}

    def depth(i: int) -> int:
        if i not in back:
            back[i] = 0
            back[i] = max((depth(j) + 1 for j in after.get(i, ())), default=0)
        return back[i]

    deepest = max((depth(i) for i in range(len(picture.boxes))), default=0)
    for i, box in enumerate(picture.boxes):
        box.layer = deepest - depth(i)


def _ordered(picture: Picture) -> list[list[int]]:
    last = max((box.layer for box in picture.boxes), default=0)
    layers: list[list[int]] = [[] for _ in range(last + 1)]
    for i, box in enumerate(picture.boxes):
        layers[box.layer].append(i)
    neighbours: dict[int, list[int]] = {}
    for line in picture.lines:
        neighbours.setdefault(line.start, []).append(line.end)
        neighbours.setdefault(line.end, []).append(line.start)
    for turn in range(ROUNDS):
        place = {i: p / max(1, len(layer)) for layer in layers for p, i in enumerate(layer)}
        for layer in reversed(layers) if turn % 2 == 0 else layers:
            layer.sort(key=lambda i: _mean(neighbours.get(i, ()), place, place[i]))
            for p, i in enumerate(layer):
                place[i] = p / max(1, len(layer))
    return layers


def _mean(neighbours: Sequence[int], place: Mapping[int, float], otherwise: float) -> float:
    return sum(place[i] for i in neighbours) / len(neighbours) if neighbours else otherwise


def svg(picture: Picture, href: Mapping[str, str], name: str) -> str:
    """The picture as an SVG element; ``href`` gives the page of a box's link.

    Shapes and dashes tell the kinds apart, so that it reads without colour.
    """
    width, height = picture.width + 4, picture.height + 4
    wide = "wide" if picture.size is WIDE else "narrow"
    parts = [
        f'<svg class="flow {wide}" role="img" aria-labelledby="flow-{name}" viewBox="-2 -2'
        f' {width:g} {height:g}" width="{width:g}" height="{height:g}"'
        ' xmlns="http://www.w3.org/2000/svg">',
        f'<title id="flow-{name}">{escape(picture.title)}</title>',
    ]
    for line in picture.lines:
        x1, y1, x2, y2 = ends(picture, line)
        middle = (x1 + x2) / 2
        kind = ' class="way"' if line.alternative else ""
        curve = f"M{x1:g},{y1:g} C{middle:g},{y1:g} {middle:g},{y2:g} {x2:g},{y2:g}"
        parts.append(f'<path{kind} d="{curve}"/>')
    for box in picture.boxes:
        parts.append(_box_svg(box, picture.size, href.get(box.link, "")))
    parts.append("</svg>")
    return "".join(parts)


def ends(picture: Picture, line: Line) -> tuple[float, float, float, float]:
    """Where a line starts and ends: x1, y1, x2, y2."""
    start, end = picture.boxes[line.start], picture.boxes[line.end]
    y1, y2 = start.y + start.height / 2, end.y + end.height / 2
    return start.x + picture.size.box, y1, end.x, y2


def _box_svg(box: Box, size: Size, href: str) -> str:
    radius = {Shape.MADE: 13, Shape.ADVICE: 4}.get(box.shape, 0)
    shape = (
        f'<rect class="{box.shape.value}" x="{box.x:g}" y="{box.y:g}" width="{size.box:g}"'
        f' height="{box.height:g}" rx="{radius}"/>'
    )
    rows = "".join(
        f'<tspan x="{box.x + PAD:g}" y="{box.y + PAD + LINE * (i + 0.78):g}">{escape(row)}</tspan>'
        for i, row in enumerate(box.lines)
    )
    text = f"{shape}<text>{rows}</text>"
    return f'<a href="{escape(href, quote=True)}">{text}</a>' if href else text
