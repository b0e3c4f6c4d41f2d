"""Shares as bars: in plain text, and as an SVG picture (SVG 1.1, no scripts)."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree import ElementTree

from .mastery import Share

_ROW, _LABEL, _BAR, _NOTE, _EDGE = 26, 170, 420, 150, 14


def bars(shares: Sequence[Share], columns: int = 80) -> str:
    """One line a share: ``=`` up to the lower limit, ``-`` up to the upper, ``|`` the share."""
    if not shares:
        return ""
    label = min(20, max(len(s.name) for s in shares))
    width = max(10, columns - label - 24)
    lines = []
    for s in shares:
        low, high, at = (round(x * (width - 1)) for x in (s.low, s.high, s.share))
        cells = ["=" if i < low else "-" if i <= high else " " for i in range(width)]
        cells[at] = "|"
        note = f"{s.right:>3} of {s.of:<3} {s.low * 100:3.0f}-{s.high * 100:.0f}%"
        lines.append(f"{s.name[:label]:<{label}} [{''.join(cells)}] {note}")
    return "\n".join(lines)


def svg(title: str, shares: Sequence[Share]) -> str:
    """The same as a picture. What it shows is also there as text, for readers without eyes."""
    height = 3 * _EDGE + 20 + _ROW * len(shares)
    width = _LABEL + _BAR + _NOTE + 2 * _EDGE
    root = ElementTree.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "viewBox": f"0 0 {width} {height}",
            "width": str(width),
            "height": str(height),
            "role": "img",
            "font-family": "sans-serif",
            "font-size": "13",
        },
    )
    ElementTree.SubElement(root, "title").text = title
    ElementTree.SubElement(root, "desc").text = "; ".join(
        f"{s.name}: {s.right} of {s.of} right, {s.low:.0%} to {s.high:.0%}" for s in shares
    )
    _write(root, _EDGE, _EDGE + 12, title, {"font-weight": "bold"})
    for i, s in enumerate(shares):
        y = 2 * _EDGE + 20 + i * _ROW
        x = _EDGE + _LABEL
        _write(root, _EDGE, y + 13, s.name, {})
        _box(root, x, y, _BAR, "none", {"stroke": "#777"})
        _box(root, x, y, s.share * _BAR, "#4a7a8c", {})
        middle = str(y + 9)
        ElementTree.SubElement(
            root,
            "line",
            {
                "x1": f"{x + s.low * _BAR:.1f}",
                "x2": f"{x + s.high * _BAR:.1f}",
                "y1": middle,
                "y2": middle,
                "stroke": "#111",
                "stroke-width": "3",
            },
        )
        note = f"{s.right} of {s.of}, {s.low:.0%} to {s.high:.0%}"
        _write(root, x + _BAR + 8, y + 13, note, {})
    return ElementTree.tostring(root, encoding="unicode", xml_declaration=True)


def _write(root: ElementTree.Element, x: float, y: float, text: str, more: dict[str, str]) -> None:
    ElementTree.SubElement(root, "text", {"x": str(x), "y": str(y), **more}).text = text


def _box(
    root: ElementTree.Element, x: float, y: float, width: float, fill: str, more: dict[str, str]
) -> None:
    place = {"x": str(x), "y": str(y), "width": f"{width:.1f}", "height": "18"}
    ElementTree.SubElement(root, "rect", {**place, "fill": fill, **more})
