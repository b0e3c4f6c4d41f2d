"""Numbers, quantities with units, and grades in a token list.

Factors are exact by definition of the international yard (0.9144 m), so 1 inch = 2.54 cm;
a year is counted as 12 months and 52 weeks, as people do.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from coachbot.knowledge.grades import GradeLadder

from .tokens import Token

LENGTH = {"cm": 1.0, "centimetre": 1.0, "centimeter": 1.0, "m": 100.0, "metre": 100.0,
    "meter": 100.0, "mm": 0.1, "millimetre": 0.1, "millimeter": 0.1, "inch": 2.54, "in": 2.54,
    "inche": 2.54, '"': 2.54, "ft": 30.48, "foot": 30.48, "feet": 30.48, "'": 30.48}  # fmt: skip
TIME = {"minute": "minute", "min": "minute", "hour": "hour", "hr": "hour", "h": "hour",
    "second": "second", "sec": "second", "day": "day", "week": "week", "wk": "week",
    "month": "month", "mo": "month", "mth": "month", "year": "year", "yr": "year",
    "yo": "year", "y": "year", "season": "season", "night": "day", "fortnight": "fortnight",
    "decade": "decade"}  # fmt: skip
ANGLE = {"degree": 1.0, "deg": 1.0, "°": 1.0, "º": 1.0, "degre": 1.0}
_MONTHS = {"year": 12.0, "month": 1.0, "week": 12 / 52, "day": 12 / 365, "season": 6.0,
    "fortnight": 24 / 52, "decade": 120.0}  # fmt: skip
_WEEKS = {"year": 52.0, "month": 52 / 12, "week": 1.0, "day": 1 / 7, "fortnight": 2.0,
    "season": 26.0, "decade": 520.0, "hour": 1 / 168, "minute": 1 / 10080}  # fmt: skip
_MINUTES = {"hour": 60.0, "minute": 1.0, "second": 1 / 60}

_SMALL = {"zero": 0, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7,
    "eight": 8, "nine": 9, "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14,
    "fifteen": 15, "sixteen": 16, "seventeen": 17, "eighteen": 18, "nineteen": 19}  # fmt: skip
_TENS = {"twenty": 20, "thirty": 30, "forty": 40, "fourty": 40, "fifty": 50, "sixty": 60,
    "seventy": 70, "eighty": 80, "ninety": 90}  # fmt: skip
_VAGUE = {"couple": 2.0, "few": 3.0, "several": 4.0, "dozen": 12.0, "half": 0.5, "pair": 2.0}
_NTH = {"first": 1, "second": 2, "third": 3, "fourth": 4, "fifth": 5, "sixth": 6, "seventh": 7,
    "eighth": 8, "ninth": 9, "tenth": 10, "1st": 1, "2nd": 2, "3rd": 3}  # fmt: skip
_METRES = re.compile(r"^[12][.,][0-9]{2}$")
_BETWEEN = {"-", "–", "to", "or", "~"}

_GRADE = re.compile(
    r"(?<![a-z0-9])(?:"
    r"v\s?-?(?P<v>\d{1,2}|b(?![a-z]))(?P<vs>[+-](?!\s?v?\d))?"
    r"|(?P<f>[3-9])(?P<fl>[abc])(?P<fs>\+)?"
    r"|(?P<w>three|four|five|six|seven|eight)[ -](?P<wl>[abc])(?P<ws> ?\+| plus)?"
    r"(?=\s*(?:$|[.,;!?)]|and\b|or\b|but\b|boulder|problem|grade))"
    r"|vee ?(?P<vw>\d{1,2}|one|two|three|four|five|six|seven|eight|nine|ten)"
    r"|(?P<p>[3-5])(?P<ps>\+)(?!\d|\s?[a-z])"
    r")(?![a-z0-9])"
    r"(?:\s?(?P<sep>[-–/]|to|or)\s?v?(?P<hi>\d{1,2}|[abc]|[3-9][abc])(?P<his>\+)?(?![a-z0-9'°%]))?"
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number over tokens ``first`` to ``last`` (exclusive).

    ``kind`` is count, nth, time, length, angle or grade; ``unit`` the unit of a time;
    ``loose`` marks a range or a rough figure.
    """

    first: int
    last: int
    kind: str
    amount: float
    unit: str = ""
    loose: bool = False
    age: bool = False

    def to(self, unit: str | None) -> float | None:
        """The amount in a declared unit, or None when it does not measure the same thing."""
        if self.kind == "time":
            table = {"year": {u: f / 12 for u, f in _MONTHS.items()}, "month": _MONTHS,
                "week": _WEEKS, "minute": _MINUTES, "day": {"day": 1.0, "week": 7.0,
                "fortnight": 14.0}}.get(unit or "", {})  # fmt: skip
            factor = table.get(self.unit)
            if factor is None and unit == "session" and self.unit == "day":
                return self.amount
            amount = None if factor is None else self.amount * factor
            whole = amount is not None and unit == "week" and self.unit in {"month", "year"}
            return float(int(amount)) if amount is not None and whole else amount
        if self.kind == "length":
            return self.amount if unit == "cm" else None
        if self.kind == "angle":
            return self.amount if unit == "degree" else None
        if self.kind == "grade":
            return self.amount if unit == "grade" else None
        return self.amount


def grades(folded: str, ladder: GradeLadder) -> list[tuple[int, int, int, bool]]:
    """Grades in a folded text: start, end, ladder step (the lower of a range), and range or not."""
    if not any(c.isdigit() for c in folded) and "vb" not in folded and " " not in folded:
        return []
    found = []
    for m in _GRADE.finditer(folded):
        name = _name(m)
        order = ladder.order(name)
        if order is None and name.endswith(("+", "-")):
            order = ladder.order(name[:-1])
        if order is None:
            continue
        found.append((m.start(), m.end(), order, bool(m["hi"])))
    return found


def _name(m: re.Match[str]) -> str:
    if m["v"]:
        return f"V{m['v'].lstrip('0') or '0'}{m['vs'] or ''}"
    if m["vw"]:
        return f"V{_SMALL.get(m['vw'], m['vw'])}"
    if m["w"]:
        return f"{_SMALL[m['w']]}{m['wl']}{'+' if m['ws'] else ''}"
    if m["p"]:
        return f"{m['p']}+"
    return f"{m['f']}{m['fl']}{m['fs'] or ''}"


def quantities(tokens: list[Token], taken: set[int]) -> list[Quantity]:
    """Every quantity outside the tokens already ``taken`` (by grades), left to right."""
    found: list[Quantity] = []
    i = 0
    while i < len(tokens):
        one = None if i in taken else _number(tokens, i)
        if one is None:
            i += 1
            continue
        quantity = _measured(tokens, i, *one)
        found.append(quantity)
        i = max(quantity.last, i + 1)
    return found


def _text(tokens: list[Token], i: int) -> str:
    return tokens[i].text if 0 <= i < len(tokens) else ""


def _number(tokens: list[Token], i: int) -> tuple[int, float, bool, bool] | None:
    """At ``i``: where the number ends, its amount, whether it is rough, whether an ordinal."""
    word = tokens[i].text
    after = _text(tokens, i + 1)
    joined = i + 1 < len(tokens) and tokens[i + 1].start == tokens[i].end
    if word[0].isdigit():
        if not word.isascii():
            return None
        amount = _digits(word)
        if joined and after in {"st", "nd", "rd", "th"}:
            return i + 2, amount, False, True
        if after == "½" or (after == "and" and _text(tokens, i + 2) in {"half", "½"}):
            return i + (2 if after == "½" else 3), amount + 0.5, False, False
        return i + 1, amount, False, False
    if word in _TENS:
        if after in _SMALL and 0 < _SMALL[after] < 10:
            return i + 2, float(_TENS[word] + _SMALL[after]), False, False
        if after == "-" and _SMALL.get(_text(tokens, i + 2), 10) < 10:
            return i + 3, float(_TENS[word] + _SMALL[_text(tokens, i + 2)]), False, False
        return i + 1, float(_TENS[word]), False, False
    if word in _SMALL:
        if after == "hundred":
            return i + 2, _SMALL[word] * 100.0, False, False
        if after == "and" and _text(tokens, i + 2) == "a" and _text(tokens, i + 3) == "half":
            return i + 4, _SMALL[word] + 0.5, False, False
        return i + 1, float(_SMALL[word]), False, False
    if word in {"hundred", "hundreds"}:
        return i + 1, 100.0, word != "hundred", False
    if word in _VAGUE:
        amount = _VAGUE[word]
        end = i + 1
        if word == "half" and after in {"a", "an"}:
            end += 1
        elif word == "half" and after == "dozen":
            return i + 2, 6.0, False, False
        elif word == "half" and _text(tokens, end) not in TIME:
            return None
        if word in {"couple", "pair"} and after == "of":
            end += 1
        return end, amount, word != "half", False
    if word in _NTH and not (word == "second" and after in {"", "s"}):
        return i + 1, float(_NTH[word]), False, True
    if (
        word in {"a", "an"}
        and _unit(after) in TIME
        and after not in {"in", "m", "second", "h", "y"}
    ):
        unit_end = _text(tokens, i + 2)
        half = unit_end == "and" and _text(tokens, i + 4) == "half"
        return i + 1, 1.5 if half else 1.0, False, False
    return None


def _digits(word: str) -> float:
    if "," in word:
        whole, _, rest = word.partition(",")
        return float(whole + rest) if len(rest) == 3 else float(f"{whole}.{rest}")
    return float(word[:18])


def _unit(word: str) -> str:
    if word in TIME or word in LENGTH or word in ANGLE:
        return word
    return word[:-1] if word.endswith("s") else word


def _measured(
    tokens: list[Token], i: int, end: int, amount: float, rough: bool, nth: bool
) -> Quantity:
    """The number with its unit, and the other end of a range when there is one."""
    if nth:
        return Quantity(i, end, "nth", amount)
    low = amount
    glued = _text(tokens, end) in _BETWEEN
    if glued and end + 1 < len(tokens):
        other = _number(tokens, end + 1)
        if other is not None and not other[3] and (other[1] > low or _text(tokens, end) == "or"):
            end, high = other[0], other[1]
            amount, rough = (low + high) / 2, True
    start = end
    if _text(tokens, end) == "-" and _unit(_text(tokens, end + 1)) in {*TIME, *LENGTH, *ANGLE}:
        end += 1
    if _text(tokens, end) in {"odd", "ish", "something", "full", "good", "whole", "solid", "+"}:
        rough, end = True, end + 1
    unit = _unit(_text(tokens, end))
    touching = end < len(tokens) and end > 0 and tokens[end].start == tokens[end - 1].end
    if unit in {"in", "m", "h", "y", "mo", '"', "'"} and not touching:
        unit = "" if unit != "m" else unit
    if unit == "m" and not touching and not tokens[i].text[0].isdigit():
        unit = ""
    if unit in ANGLE:
        return Quantity(i, end + 1, "angle", amount, "degree", rough)
    if unit in LENGTH:
        total, last = amount * LENGTH[unit], end + 1
        if unit in {"ft", "foot", "feet", "'"}:
            more = _number(tokens, last) if last < len(tokens) else None
            if more is not None and not more[3] and more[1] < 12:
                total, last = total + more[1] * 2.54, more[0]
                if _unit(_text(tokens, last)) in {"inch", "in", '"', "inche", "'"}:
                    last += 1
        elif unit == "m" and touching and last < len(tokens):
            more = _number(tokens, last)
            if more is not None and tokens[last].text.isdigit() and more[1] < 100 and amount < 3:
                total, last = total + more[1], last + 1
        return Quantity(i, last, "length", total, "cm", rough)
    if unit in TIME:
        last, kind = end + 1, TIME[unit]
        if tokens[i].text in {"a", "an"} and amount == 1.5:
            last += 3
        elif (
            _text(tokens, last) == "and"
            and _text(tokens, last + 1) == "a"
            and (_text(tokens, last + 2) == "half")
        ):
            amount, last = amount + 0.5, last + 3
        return Quantity(i, last, "time", amount, kind, rough, unit in {"yo", "y"})
    if _METRES.match(tokens[i].text):
        return Quantity(i, start, "length", amount * 100, "cm", rough)
    return Quantity(i, start, "count", amount, "", rough)
