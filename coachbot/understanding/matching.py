"""Compiled phrases, found in a message through an index on each phrase's rarest word.

A message is a row of plain words (``Line``); a terminal is a lemma, ``=form``, ``<concept>``
or a number mark. Concepts are found first, level by level, and then stand as terminals.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from coachbot.knowledge.phrases import FIGURE, Element, Part, Phrase, concepts_in

GAP = 0
FAR = 5
AFTER = 3
BEFORE = 2
DOING = 16
MOST_STARTS = 60
ACTORS = f"<{FIGURE}>"

Occurrences = dict[str, list[tuple[int, int]]]


@dataclass(slots=True)
class Line:
    """A message as matched: plain words with the clause each stands in.

    ``weight`` is what a word costs in a gap (0 for small words). ``found`` holds where each
    terminal stands, as (first word, end) pairs in rising order.
    """

    words: list[str]
    clause: list[int]
    weight: list[int]
    found: Occurrences = field(default_factory=dict)
    _begun: dict[int, list[tuple[str, ...]]] = field(default_factory=dict)

    def begun(self, element: Element) -> list[tuple[str, ...]]:
        """The options of an element whose first word is somewhere in the message."""
        options = self._begun.get(id(element))
        if options is None:
            options = [o for o in element.options if o[0] in self.found]
            self._begun[id(element)] = options
        return options

    def enter(self, name: str, places: Iterable[tuple[int, int]]) -> None:
        """Say where a terminal stands."""
        self.found[name] = sorted(places)
        self._begun.clear()

    def actor(self, at: int) -> range:
        """The words of who does what stands at word ``at``: the last figure named before it.

        In its clause or the one before, and not too far off; empty when there is none.
        """
        best = range(0)
        for start, end in self.found.get(ACTORS, ()):
            if end > at:
                if start >= at:
                    break
                continue
            if self.clause[at] - self.clause[start] <= 1 and end > best.stop:
                best = range(start, end)
        return best if sum(self.weight[best.stop : at]) <= DOING else range(0)


@dataclass(frozen=True, slots=True)
class Hit:
    """One phrase found: its meaning, the words that it took, and whether a no was asked for.

    ``event`` is where it stands without the words of who does it (first word, end).
    """

    meaning: tuple[str, str]
    taken: tuple[int, ...]
    denied: bool
    blocks: bool
    phrase: str = ""
    event: tuple[int, int] | None = None

    @property
    def first(self) -> int:
        return self.taken[0]

    @property
    def last(self) -> int:
        return self.taken[-1]


Denied = Callable[[tuple[int, ...]], tuple[int, ...]]
"""The words of the negation that a run of words stands under; none when it does not."""


@dataclass(frozen=True, slots=True)
class _Entry:
    meaning: tuple[str, str]
    phrase: Phrase
    needs: tuple[frozenset[str], ...]


class PhraseIndex:
    """Phrases by their rarest required terminal."""

    def __init__(self, phrases: Iterable[tuple[tuple[str, str], Phrase]]) -> None:
        entries = [_Entry(m, p, _needs(p)) for m, p in phrases]
        counts = Counter(t for e in entries for need in e.needs for t in need)
        self._by: dict[str, list[_Entry]] = {}
        for entry in entries:
            anchor = min(entry.needs, key=lambda need: sum(counts[t] for t in need))
            for terminal in anchor:
                self._by.setdefault(terminal, []).append(entry)

    def hits(self, line: Line, denied: Denied) -> list[Hit]:
        """Every phrase that stands in the line, each at every place."""
        found: list[Hit] = []
        here = line.found
        tried: set[int] = set()
        for terminal in [t for t in here if t in self._by]:  # in the order of the text
            for entry in self._by[terminal]:
                if id(entry) in tried:
                    continue
                tried.add(id(entry))
                if all(not need.isdisjoint(here) for need in entry.needs):
                    found += _find(entry, line, denied)
        return found


class ConceptIndex:
    """Named sets of phrases that may use one another; found in the order of their use."""

    def __init__(self, phrases: Mapping[str, Sequence[Phrase]]) -> None:
        self._levels: list[PhraseIndex] = []
        depth = _depths(phrases)
        for level in range(max(depth.values(), default=-1) + 1):
            names = [n for n in phrases if depth[n] == level]
            self._levels.append(PhraseIndex((("", n), p) for n in names for p in phrases[n]))

    def mark(self, line: Line, denied: Denied) -> None:
        """Enter every concept that stands in the line into ``line.found``."""
        for index in self._levels:
            hits = index.hits(line, denied)
            blocked = [h for h in hits if h.blocks]
            spans: dict[str, set[tuple[int, int]]] = {}
            for hit in hits:
                if hit.blocks or any(
                    b.meaning == hit.meaning and not set(b.taken).isdisjoint(hit.taken)
                    for b in blocked
                ):
                    continue
                place = hit.event or (hit.first, hit.last + 1)
                spans.setdefault(f"<{hit.meaning[1]}>", set()).add(place)
            for name, places in spans.items():
                line.enter(name, places)


def _depths(phrases: Mapping[str, Sequence[Phrase]]) -> dict[str, int]:
    uses = {n: {c for p in group for c in concepts_in(p)} for n, group in phrases.items()}
    depth: dict[str, int] = {}

    def of(name: str, above: tuple[str, ...]) -> int:
        if name not in depth:
            inner = [of(c, (*above, name)) for c in uses.get(name, ()) if c not in (*above, name)]
            depth[name] = 1 + max(inner, default=-1)
        return depth[name]

    for name in phrases:
        of(name, ())
    return depth


def _needs(phrase: Phrase) -> tuple[frozenset[str], ...]:
    """The sets of terminals of which one must be there, for each required element."""
    return tuple(
        frozenset(option[0] for option in e.options)
        for part in phrase.parts
        if not part.absent
        for e in part.elements
        if not e.optional and not e.gap
    )


def _find(entry: _Entry, line: Line, denied: Denied) -> list[Hit]:
    phrase = entry.phrase
    wanted_no = any(p.denied and not p.absent for p in phrase.parts)
    per_part: list[list[tuple[int, ...]]] = []
    for part in phrase.parts:
        runs = _runs(part, line)
        if wanted_no or part.denied:
            runs = [r for run in runs if (r := _with_no(run, part.denied, denied))]
        if not runs and not part.absent:
            return []
        per_part.append(runs)
    if len(per_part) == 1:
        return [
            Hit(entry.meaning, run, wanted_no, phrase.blocks, phrase.text) for run in per_part[0]
        ]
    hits: list[Hit] = []
    for run in per_part[0]:
        found = _joined(run, per_part, phrase.parts, line)
        if found:
            what, who = found
            taken = tuple(sorted(what | who))
            span = (min(what), max(what) + 1)
            hits.append(Hit(entry.meaning, taken, wanted_no, phrase.blocks, phrase.text, span))
    return hits


def _with_no(run: tuple[int, ...], wanted: bool, denied: Denied) -> tuple[int, ...]:
    """The run with its negation when one is wanted; as it is when none is; else nothing."""
    no = denied(run)
    if not wanted:
        return () if no else run
    return tuple(sorted({*run, *no})) if no else ()


def _joined(
    first: tuple[int, ...],
    per_part: Sequence[Sequence[tuple[int, ...]]],
    parts: Sequence[Part],
    line: Line,
) -> tuple[frozenset[int], frozenset[int]] | None:
    """The first side with the nearest matches of the others that fit, or None.

    Gives the words of what happens, and those of who does it.
    """

    def rest(
        k: int, taken: frozenset[int], actors: frozenset[int], last: tuple[int, ...]
    ) -> tuple[frozenset[int], frozenset[int]] | None:
        while k < len(parts) and parts[k].absent:
            k += 1
        if k == len(parts):
            return taken, actors
        part, here, at = parts[k], line.clause[last[0]], last[-1]
        if part.done:
            actor = set(line.actor(last[0]))
            by = next((r for r in per_part[k] if not actor.isdisjoint(r)), None)
            return None if by is None else rest(k + 1, taken, actors.union(by), last)
        fitting = [
            r
            for r in per_part[k]
            if taken.isdisjoint(r)
            and (
                r[0] > at and line.clause[r[0]] - here <= AFTER
                if part.later
                else line.clause[r[0]] == here
            )
        ]
        for run in sorted(fitting, key=lambda r: abs(r[0] - at)):
            found = rest(k + 1, taken.union(run), actors, run)
            if found:
                return found
        return None

    found = rest(1, frozenset(first), frozenset(), first)
    if found is None:
        return None
    low, high = line.clause[min(found[0])] - BEFORE, line.clause[max(found[0])]
    for part, runs in zip(parts, per_part, strict=True):
        if part.absent and any(low <= line.clause[run[0]] <= high for run in runs):
            return None
    return found


def _runs(part: Part, line: Line) -> list[tuple[int, ...]]:
    """The shortest match of a part from each place where it can start."""
    elements = part.elements
    found: list[tuple[int, ...]] = []
    for at in _starts(elements, line)[:MOST_STARTS]:
        run = _match(elements, 0, at, at, line, line.clause[at], 0)
        if run:
            found.append(run)
    return found


def _starts(elements: Sequence[Element], line: Line) -> list[int]:
    places: set[int] = set()
    for element in elements:
        for option in line.begun(element):
            places.update(start for start, _ in line.found[option[0]])
        if not element.optional and not element.gap:
            break
    return sorted(places)


def _match(
    elements: Sequence[Element], k: int, at: int, low: int, line: Line, clause: int, room: int
) -> tuple[int, ...] | None:
    """Match ``elements[k:]`` with the next one starting between ``low`` and within ``room``."""
    while k < len(elements) and elements[k].gap:
        room, k = FAR, k + 1
    if k == len(elements):
        return ()
    element = elements[k]
    last_needed = all(e.optional or e.gap for e in elements[k + 1 :])
    for option in line.begun(element):
        for start, end in _option(option, low, line, clause, room):
            rest = _match(elements, k + 1, at, end, line, clause, GAP)
            if rest is not None:
                return (*range(start, end), *rest) if end - start < 12 else (start, end - 1, *rest)
    if element.optional:
        skipped = _match(elements, k + 1, at, low, line, clause, room)
        if skipped is not None and (skipped or last_needed):
            return skipped
    return None


def _option(
    option: tuple[str, ...], low: int, line: Line, clause: int, room: int
) -> list[tuple[int, int]]:
    """Places of a run of terminals that start within ``room`` of ``low``, nearest first."""
    places: list[tuple[int, int]] = []
    for start, end in line.found[option[0]]:
        if start < low:
            continue
        if line.clause[start] != clause or line.clause[end - 1] != clause:
            if line.clause[start] > clause:
                break
            continue
        if sum(line.weight[low:start]) > room:
            break
        full = end
        for terminal in option[1:]:
            follow = next(
                (e for s, e in line.found.get(terminal, ()) if full <= s
                 and line.clause[s] == clause and sum(line.weight[full:s]) == 0), None)  # fmt: skip
            if follow is None:
                break
            full = follow
        else:
            places.append((start, full))
    return places
