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
_OFTEN = {"once": 1, "twice": 2, "thrice": 3}
_DAYS = frozenset({"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday",
    "mon", "tue", "tues", "wed", "weds", "thu", "thur", "thurs", "fri", "sat", "sun"})  # fmt: skip
_RATED = frozenset({"time", "session", "day", "evening", "night", "visit", "hour", "training",
    "x", "minute", "go", "once", "twice", "thrice", "climb", "weekend", "lesson"})  # fmt: skip
_SMALLER = {"hour": ("minute", 60.0), "year": ("month", 12.0), "month": ("week", 52 / 12)}
_STOPPED = frozenset({"", ",", ".", ";", "!", "?", ")", ":", "and", "but", "so", "i", "with",
    "tall", "here", "if", "in", "me", "which", "on", "to", "too", "or", "my", "he", "she",
    "though", "because", "the", "exactly", "when", "at", "body", "who"})  # fmt: skip
_VAGUE = {"quarter": 0.25, "couple": 2.0, "few": 3.0, "several": 4.0, "dozen": 12.0,
    "half": 0.5, "pair": 2.0}  # fmt: skip
_NTH = {"first": 1, "second": 2, "third": 3, "fourth": 4, "fifth": 5, "sixth": 6, "seventh": 7,
    "eighth": 8, "ninth": 9, "tenth": 10, "1st": 1, "2nd": 2, "3rd": 3}  # fmt: skip
COUNTED = frozenset({*_SMALL, *_TENS}) - {"one", "zero"}
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
    r")(?:(?:'?s|\s?-?ish)(?![a-z0-9])|(?![a-z0-9]))"
    r"(?:\s?(?P<sep>[-–/]|to|or)\s?v?(?P<hi>\d{1,2}|[abc]|[3-9][abc])(?P<his>\+)?(?:'?s)?(?![a-z0-9'°%]))?"
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number over tokens ``first`` to ``last`` (exclusive).

    ``kind`` is count, nth, often, time, length, angle or grade; ``unit`` the unit of a time;
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
        whole = None if i in taken else _often(tokens, i) or _stature(tokens, i)
        if whole is not None:
            found.append(whole)
            i = whole.last
            continue
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
    word, after = tokens[i].text, _text(tokens, i + 1)
    if word[0].isdigit():
        if not word.isascii():
            return None
        amount = _digits(word)
        joined = i + 1 < len(tokens) and tokens[i + 1].start == tokens[i].end
        if joined and after in {"st", "nd", "rd", "th"}:
            return i + 2, amount, False, True
        end, amount = _and_part(tokens, i + 1, amount)
        return end, amount, False, False
    spelled = _spelled(tokens, i)
    if spelled is not None:
        end, amount = _and_part(tokens, *spelled)
        return end, amount, word == "hundreds", False
    if word in _VAGUE:
        return _vague(tokens, i)
    if word in _NTH and not (word == "second" and after in {"", "s"}):
        return i + 1, float(_NTH[word]), False, True
    if word in {"a", "an"} and _unit(after) in TIME and after not in {"second", "h", "y"}:
        return None if _is_rate(tokens, i) else (i + 1, 1.0, False, False)
    if word == "a" and _unit(after) in {"metre", "meter"}:
        more = _spelled(tokens, i + 2) or (i, 0.0)
        return (i + 1, 1.0, False, False) if more[1] >= 10 else None
    if word in {"hour", "year"} and _and_part(tokens, i + 1, 0.0)[1]:
        return i, 1.0, False, False
    return None


def _vague(tokens: list[Token], i: int) -> tuple[int, float, bool, bool] | None:
    """A rough number, or a half or a quarter before its unit."""
    word, after = tokens[i].text, _text(tokens, i + 1)
    end = i + 1
    if word == "half" and after in {"a", "an"}:
        end += 1
    elif word == "half" and after == "dozen":
        return i + 2, 6.0, False, False
    elif word == "half" and _text(tokens, end) not in TIME:
        return None
    elif word == "quarter":
        end = _quarters(tokens, i) or 0
        return (end, 0.25, False, False) if end else None
    if word in {"couple", "pair"} and after == "of":
        end += 1
    return end, _VAGUE[word], word != "half", False


def _spelled(tokens: list[Token], i: int) -> tuple[int, float] | None:
    """A whole number in words at ``i``, or so many quarters of an hour; where it ends."""
    word, at, amount = _text(tokens, i), i, 0.0
    article = word in {"a", "an"} and _text(tokens, i + 1) == "hundred"
    if word in {"hundred", "hundreds"} or article or _text(tokens, i + 1) == "hundred":
        if not article and word not in _SMALL and word not in {"hundred", "hundreds"}:
            return None
        amount = 100.0 * (_SMALL.get(word, 1) or 1)
        at = i + (1 if word in {"hundred", "hundreds"} else 2)
        more = at + 1 if _text(tokens, at) == "and" else at
        rest = _below_hundred(tokens, more)
        if rest is not None and (more > at or rest[1] >= 10):
            return rest[0], amount + rest[1]
        return at, amount
    low = _below_hundred(tokens, i)
    if low is None:
        return None
    joined = low[0] + (_text(tokens, low[0]) == "-")
    if _text(tokens, joined) in {"quarter", "quarters"}:
        end = _quarters(tokens, joined)
        if end:
            return end, low[1] / 4
    return low


def _below_hundred(tokens: list[Token], i: int) -> tuple[int, float] | None:
    word, after = _text(tokens, i), _text(tokens, i + 1)
    if word in _TENS:
        if after in _SMALL and 0 < _SMALL[after] < 10:
            return i + 2, float(_TENS[word] + _SMALL[after])
        if after == "-" and 0 < _SMALL.get(_text(tokens, i + 2), 10) < 10:
            return i + 3, float(_TENS[word] + _SMALL[_text(tokens, i + 2)])
        return i + 1, float(_TENS[word])
    return (i + 1, float(_SMALL[word])) if word in _SMALL else None


def _quarters(tokens: list[Token], i: int) -> int | None:
    """Where "quarter(s) of an" before a unit of time ends."""
    end = i + 1
    end += _text(tokens, end) == "of"
    end += _text(tokens, end) in {"a", "an"}
    return end if _unit(_text(tokens, end)) in {"hour", "year"} else None


def _and_part(tokens: list[Token], end: int, amount: float) -> tuple[int, float]:
    """The amount with "½", "and a half", "and a quarter" or "and three quarters" behind it."""
    if _text(tokens, end) == "½":
        return end + 1, amount + 0.5
    if [_text(tokens, end + k) for k in range(3)] == ["1", "/", "2"]:
        return end + 3, amount + 0.5
    if _text(tokens, end) != "and":
        return end, amount
    at = end + 1 + (_text(tokens, end + 1) == "a")
    part = {"half": 0.5, "½": 0.5, "quarter": 0.25}.get(_text(tokens, at), 0.0)
    if not part and [_text(tokens, at + k) for k in (0, 1)] == ["three", "quarters"]:
        at, part = at + 1, 0.75
    return (at + 1, amount + part) if part else (end, amount)


def _is_rate(tokens: list[Token], i: int) -> bool:
    """Whether "a week" at ``i`` tells how often, as in "three evenings a week"."""
    before = _text(tokens, i - 1)
    return before in _RATED or (before.endswith("s") and before[:-1] in _RATED)


def _digits(word: str) -> float:
    if "," in word:
        whole, _, rest = word.partition(",")
        return float(whole + rest) if len(rest) == 3 else float(f"{whole}.{rest}")
    return float(word[:18])


def _unit(word: str) -> str:
    if word in TIME or word in LENGTH or word in ANGLE:
        return word
    return word[:-1] if word.endswith("s") else word


def _often(tokens: list[Token], i: int) -> Quantity | None:
    """How often, at ``i``: "twice", or several days of the week named in a row."""
    if tokens[i].text in _OFTEN:
        return Quantity(i, i + 1, "often", float(_OFTEN[tokens[i].text]))
    days, at, end = set[str](), i, i
    while _text(tokens, at).removesuffix("s") in _DAYS or _text(tokens, at) in _DAYS:
        days.add(tokens[at].text[:3])
        at = end = at + 1
        while _text(tokens, at) in {",", "and", "&", "/", "+", "-", "–"}:
            at += 1
    return Quantity(i, end, "often", float(len(days))) if len(days) > 1 else None


def _stature(tokens: list[Token], i: int) -> Quantity | None:
    """A person's height as it is spoken: "one sixty-six" metres, "five eleven" in feet."""
    word, at = tokens[i].text, i + 1 + (_text(tokens, i + 1) == "-")
    rest = _below_hundred(tokens, at)
    if rest is None:
        return None
    end, more = rest
    centimetres = _text(tokens, end) == "cm"
    if _text(tokens, end) not in _STOPPED and not centimetres:
        return None
    if word == "one" and 30 <= more <= 99:
        return Quantity(i, end + centimetres, "length", 100 + more, "cm")
    if word in {"five", "six"} and more <= 11 and at == i + 1:
        return Quantity(i, end, "length", (_SMALL[word] * 12 + more) * 2.54, "cm")
    return None


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
        last, amount = _length(tokens, end + 1, unit, amount, touching)
        return Quantity(i, last, "length", amount, "cm", rough)
    if unit in TIME:
        kind = TIME[unit]
        last, amount = _time(tokens, end + 1, kind, amount)
        return Quantity(i, last, "time", amount, kind, rough, unit in {"yo", "y"})
    if _METRES.match(tokens[i].text):
        return Quantity(i, start, "length", amount * 100, "cm", rough)
    return Quantity(i, start, "count", amount, "", rough)


def _length(
    tokens: list[Token], last: int, unit: str, amount: float, touching: bool
) -> tuple[int, float]:
    """A length in cm with the inches or centimetres named behind it, and where it ends."""
    total = amount * LENGTH[unit]
    at = last + (_text(tokens, last) == "and")
    more = _number(tokens, at) if at < len(tokens) else None
    if more is None or more[3]:
        return last, total
    end, rest = more[0], more[1]
    named = _unit(_text(tokens, end))
    if unit in {"ft", "foot", "feet", "'"} and rest < 12:
        inches = named in {"inch", "in", '"', "inche", "'"}
        if at == last or inches:
            return end + inches, total + rest * 2.54
    elif LENGTH[unit] == 100 and amount < 3 and rest < 100:
        centimetres = named in {"cm", "centimetre", "centimeter"}
        if centimetres or (at == last and rest >= 10 and named not in {*TIME, *ANGLE}):
            return end + centimetres, total + rest
    return last, total


def _time(tokens: list[Token], last: int, kind: str, amount: float) -> tuple[int, float]:
    """A time with the part or the smaller unit named behind it ("2 years 3 months")."""
    end, whole = _and_part(tokens, last, amount)
    if end > last:
        return end, whole
    smaller, many = _SMALLER.get(kind, ("", 0.0))
    at = last + (_text(tokens, last) == "and")
    more = _number(tokens, at) if smaller and at < len(tokens) else None
    if more is None or more[3]:
        return last, amount
    named = TIME.get(_unit(_text(tokens, more[0])))
    glued = kind == "hour" and tokens[at].start == tokens[at - 1].end and tokens[at].text.isdigit()
    if named == smaller:
        return more[0] + 1, amount + more[1] / many
    if glued and named is None and more[1] < many:
        return more[0], amount + more[1] / many
    return last, amount
