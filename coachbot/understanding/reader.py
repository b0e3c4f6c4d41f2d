"""The reader: a message in, a Reading out. Everything about words is in the rule book."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from itertools import pairwise

from coachbot.engine.model import Value
from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.phrases import ARTICLES, FIGURE, Phrase, concepts_in, parse

from . import language
from .answers import SHORT, Answers
from .clauses import (
    MOVERS,
    Words,
    find_scopes,
    is_denied_closely,
    is_denied_outright,
    is_feared,
    is_likened,
    negation_of,
    refer,
    refer_to_parts,
    split_clauses,
    words_of,
)
from .matching import ConceptIndex, Hit, PhraseIndex
from .nearly import Nearly
from .reading import Ambiguity, Heard, Reading, Span
from .roles import part_of
from .tokens import cut, fold
from .typos import Speller

HARM = frozenset({"pain_sign", "alarm"})
PAIN = frozenset({"hurts", "pain_place", "pain_sign", "alarm"})
OF_PAIN = frozenset({"pain_when", "pain_weeks", "eased_by_morning"})
FALL = "bad_fall"
PLACES_TOO = frozenset({FALL, "chest_pain"})
EVENTS = frozenset({"trouble", "tried", "pain_sign", "alarm", "asks_for", "learning", "limit"})
OF_LIKENESS = frozenset({"trouble", "move", "pain_sign"})
CUES = ("no_", "clause_", "small_word", "likened")
FIGURES = frozenset({FIGURE, "refers", "side", *(mover[1:-1] for mover in MOVERS)})
TARGET_OF = {"hold": "target", "hold_pull": "target_pull"}
HOLD_OF = {target: hold for hold, target in TARGET_OF.items()}
PLACED = TARGET_OF.keys() | HOLD_OF.keys()
UNDERFOOT = {"small_edge": "tiny", "volume": "volume", "pocket": "pocket", "sloper": "blank",
    "sloping_edge": "blank", "jug": "good", "edge": "good", "incut": "good"}  # fmt: skip
ELSEWHERE = frozenset({"general", "other_sport"})
MENTIONED = ELSEWHERE | {"gyms", "gear", "about_program"}
OF_CLIMBING = frozenset({"trouble", "move", "foot_move", "learning", "limit", "target",
    "moving_hand", "swing_known", "previews", "rest_taken"}) | PAIN  # fmt: skip
OF_CLIMBERS = frozenset({"asks_for", "hold", "foothold", "wall", "climber_grade", "warmed_up",
    "experience", "sessions_a_week", "hard_days", "old_injury", "training_tool"})  # fmt: skip
OLD_AFTER_WEEKS = 12
BACK = 2
A_MOMENT = 0.05
NEAR = 7
BESIDE = 3
OR_WITHIN = 5
_SURFACE = re.compile(r"<[^>]*>|[a-z]+")


@dataclass(frozen=True, slots=True)
class _Said:
    """One fact on its way: as Heard, with the words of the row that it took.

    ``open``: a hold of which no word says for sure whether it is held or gone to.
    """

    fact: str
    value: Value
    taken: tuple[int, ...]
    denied: bool = False
    hedged: bool = False
    open: bool = False


class Reader:
    """Reads messages against one rule book. Build once; ``read`` keeps no state."""

    def __init__(self, book: RuleBook) -> None:
        self._book = book
        concepts = {n: [parse(p) for p in phrases] for n, phrases in book.concepts.items()}
        cues = {n: p for n, p in concepts.items() if n.startswith(CUES)}
        acting = _needed(FIGURES, concepts)
        figures = {n: p for n, p in concepts.items() if n in acting and n not in cues}
        others = {n: p for n, p in concepts.items() if n not in cues and n not in figures}
        self._cues, self._figures, self._concepts = map(ConceptIndex, (cues, figures, others))
        facts = [((fact, value), parse(text)) for fact, values in book.words.items()
                 for value, texts in values.items() for text in texts]  # fmt: skip
        self._phrases = PhraseIndex(facts)
        every = [p for _, p in facts] + [p for group in concepts.values() for p in group]
        self._small = ARTICLES.union(
            o[0] for p in concepts.get("small_word", ()) for o in p.parts[0].elements[0].options
        )
        self._speller = Speller(_surface(every), _pairs(every), self._small)
        self._answers = Answers(book.facts, book.ladder)
        self._nearly: dict[str, Nearly] = {}

    def read(self, text: str, expecting: str | None = None) -> Reading:
        """Understand one message; ``expecting`` names the fact of the open question."""
        part = cut(text)
        row = self._row(part)
        cut_at = len(part) if len(part) < len(text) else None
        foreign = language.guess([f for f in row.forms if f.isalpha()], part[:2_000])
        if not row.line.words:
            return Reading(language=foreign, cut=cut_at)
        correction = bool(row.line.found.get("<correction>"))
        expected = expecting if expecting in self._book.facts else None
        if expected and self._answers.declines(row):
            return Reading(declined=True, language=foreign, cut=cut_at)
        said = list(self._said(row))
        if expected:
            said = self._with_answer(expected, row, said)
        if not expected:
            said = _of_pain(said)
        said = self._beside(said, expected)
        said = _on_topic(said)
        said = _corrected(said, row, self._book.single_valued)
        said = self._aimed(said, row)
        said, maybes = self._settled(said, row, part)
        said += self._said_too(said, maybes)
        heard = tuple(self._heard(s, row, part) for s in said)
        unread = _unread(row, part, said)
        return Reading(heard, unread, False, maybes, correction, foreign, cut_at)

    def nearly(self, text: str, fact: str) -> tuple[str, ...]:
        """The values of a fact that a message comes near to saying, the nearest first."""
        return self._near(fact).rank(self._row(cut(text)).line)

    def _near(self, fact: str) -> Nearly:
        if fact not in self._nearly:
            self._nearly[fact] = Nearly(self._book.words.get(fact, {}))
        return self._nearly[fact]

    def spelt(self, word: str) -> str:
        """A lower-case word as it is read: itself, or the known word that was meant."""
        return self._speller.right(word) or word

    def grade(self, text: Value) -> int | None:
        """The ladder's step of a grade."""
        return self._book.ladder.order(str(text))

    def _row(self, part: str) -> Words:
        """The words of a text with clauses, negations and every concept found."""
        row = words_of(part, fold(part), self._speller.right, self._small, self._book.ladder)
        line = row.line
        self._cues.mark(line, lambda _: ())
        split_clauses(row)
        find_scopes(row)
        self._figures.mark(line, lambda run: negation_of(row, run))
        refer(row)
        self._concepts.mark(line, lambda run: negation_of(row, run))
        refer_to_parts(row)
        return row

    def _said(self, row: Words) -> Iterator[_Said]:
        hits = _unblocked(self._phrases.hits(row.line, lambda run: negation_of(row, run)))
        hits = [h for h in hits if h.meaning[0] in OF_LIKENESS or not is_likened(row, h.taken)]
        passes = {i for s, e in row.line.found.get("<no_passes>", ()) for i in range(s, e)}
        named = frozenset(i for h in hits if h.meaning[0] in TARGET_OF for i in h.taken)
        body: list[Hit] = []
        signs: list[_Said] = []
        alarms: list[_Said] = []
        for hit in hits:
            fact, value = hit.meaning
            kind = self._book.facts[fact].kind
            if fact == "pain_place":
                body.append(hit)
            elif fact in HARM and not hit.denied and is_feared(row, hit.taken):
                continue
            elif fact == "act":
                if _steers(row, hit):
                    yield self._made(fact, value, hit, row)
            elif value == "number" and kind in {"number", "grade"}:
                yield from self._amount(fact, hit, row)
            elif kind == "yes-no":
                denied = not hit.denied and is_denied_outright(row, hit.taken)
                yield self._made(fact, (value == "yes") != denied, hit, row)
            else:
                events = fact in EVENTS
                denied = hit.phrase.startswith("=no ") or (
                    not hit.denied
                    and (
                        is_denied_outright(row, hit.taken)
                        if events
                        else is_denied_closely(row, hit.taken, passes)
                    )
                )
                one = self._made(fact, value, hit, row, denied)
                if fact == "pain_sign":
                    signs.append(one)
                elif fact == "alarm":
                    alarms.append(one)
                elif fact in TARGET_OF:
                    yield from self._placed(one, row, named)
                else:
                    yield one
        painless = any(hit.meaning == ("hurts", "no") for hit in hits)
        yield from self._pains(row, body, signs, painless)
        yield from self._alarms(row, body, alarms, _of_old_falls(row, hits, signs))

    def _made(self, fact: str, value: Value, hit: Hit, row: Words, denied: bool = False) -> _Said:
        return _Said(fact, value, hit.taken, denied, _is_hedged(row, hit.taken))

    def _amount(self, fact: str, hit: Hit, row: Words) -> Iterator[_Said]:
        declared = self._book.facts[fact]
        tokens = {row.token_of[i] for i in hit.taken}
        for q in row.quantities:
            if not tokens.issuperset(range(q.first, q.last)):
                continue
            amount = q.to(declared.unit)
            if amount is None or (q.kind == "time" and 0 < amount < A_MOMENT):
                continue
            clause = row.line.clause[hit.first]
            if declared.unit == "degree" and any(
                row.line.clause[s] == clause for s, _ in row.line.found.get("<leans_away>", ())
            ):
                amount = -abs(amount)
            value = self._answers.fitted(declared, amount)
            if value is not None:
                one = self._made(fact, value, hit, row)
                yield replace(one, hedged=one.hedged or q.loose)
                return

    def _placed(self, one: _Said, row: Words, named: frozenset[int]) -> Iterator[_Said]:
        part = part_of(row, one.taken, named)
        if part.name == "foot":
            yield from self._underfoot(one)
        elif part.name == "target":
            yield replace(one, fact=TARGET_OF[one.fact], open=not part.sure)
        elif part.name == "hold":
            yield replace(one, open=not part.sure)

    def _underfoot(self, one: _Said) -> Iterator[_Said]:
        if one.fact == "hold" and str(one.value) in UNDERFOOT:
            yield replace(one, fact="foothold", value=UNDERFOOT[str(one.value)], open=False)

    def _pains(
        self, row: Words, body: list[Hit], signs: list[_Said], painless: bool
    ) -> Iterator[_Said]:
        """Pain cues with the body parts that they belong to, now or long ago.

        What is only uneasy ("my knee complains") is no pain when the message says that nothing
        hurts.
        """
        line = row.line
        eased, past = _is_over(row, body)
        injured = [set(range(*place)) for place in line.found.get("<old_injury>", ())]
        cues = [tuple(range(*place)) for place in line.found.get("<pain>", ())]
        denied = [cue for cue in cues if is_denied_outright(row, cue)]
        yield from (_Said("hurts", False, cue) for cue in denied if not is_feared(row, cue))
        if not denied and not painless:
            cues += [tuple(range(*place)) for place in line.found.get("<uneasy>", ())]
        for cue in cues:
            if cue in denied or is_feared(row, cue):
                continue
            parts = _nearest_parts(row, cue, body)
            if line.clause[cue[0]] in eased | past:
                yield from (self._old(hit, cue, row) for hit in parts)
            else:
                yield _Said("hurts", True, cue)
                yield from (self._made("pain_place", h.meaning[1], h, row) for h in parts)
        for sign in signs:
            parts = _nearest_parts(row, sign.taken, body)
            if not sign.denied and (
                line.clause[sign.taken[0]] in past
                or any(not words.isdisjoint(sign.taken) for words in injured)
            ):
                yield from (self._old(hit, sign.taken, row) for hit in parts)
                continue
            yield sign
            if not sign.denied:
                yield from (self._made("pain_place", h.meaning[1], h, row) for h in parts)
        for start, end in line.found.get("<old_injury>", ()):
            taken = tuple(range(start, end))
            for hit in _nearest_parts(row, taken, body):
                yield self._old(hit, taken, row)

    def _alarms(
        self, row: Words, body: list[Hit], alarms: list[_Said], old: Set[int]
    ) -> Iterator[_Said]:
        """Alarms that are not long past, and the part of which they speak; no fall in ``old``."""
        past = _is_over(row, body)[1]
        for alarm in alarms:
            over = row.line.clause[alarm.taken[0]] in past
            told = alarm.value == FALL and not old.isdisjoint(alarm.taken)
            if (over or told) and not alarm.denied:
                continue
            yield alarm
            if alarm.value in PLACES_TOO and not alarm.denied:
                words = set(alarm.taken)
                for hit in body:
                    if words.issuperset(hit.taken) or hit.first in words:
                        yield self._made("pain_place", hit.meaning[1], hit, row)

    def _old(self, hit: Hit, cue: tuple[int, ...], row: Words) -> _Said:
        value = hit.meaning[1]
        if value not in self._book.facts["old_injury"].values:
            return self._made("pain_place", value, hit, row)
        return _Said("old_injury", value, tuple(sorted({*hit.taken, *cue})))

    def _with_answer(self, expected: str, row: Words, said: list[_Said]) -> list[_Said]:
        """Read a short answer for the open question's fact, when nothing was heard for it."""
        if any(s.fact == expected for s in said):
            return said
        fact = self._book.facts[expected]
        whole = tuple(range(len(row.line.words)))
        if fact.kind == "yes-no":
            answer = self._answers.yes_or_no(row)
            return said if answer is None else [*said, _Said(expected, answer, whole[:1])]
        if fact.kind in {"number", "grade"}:
            number = self._answers.number(expected, row)
            if number is None:
                return said
            value, first, last = number
            return [*said, _Said(expected, value, tuple(range(first, last + 1)))]
        if len(row.line.words) > 3 * SHORT:
            return said
        twin = HOLD_OF.get(expected)
        named = [s for s in said if s.fact in {twin, TARGET_OF.get(expected, "")}]
        if named and len(row.line.words) <= SHORT:
            return [replace(s, fact=expected) if s in named else s for s in said]
        if len(row.line.words) > 2 * SHORT:
            return said
        offered = self._answers.offered(expected, row)
        if fact.kind == "choice" and not offered and not said and len(row.line.words) <= SHORT:
            near = self._near(expected).answer(row.line)
            return [_Said(expected, near, whole, hedged=True)] if near else said
        if fact.kind == "choice" and len(offered) > 1:
            return said
        return [*said, *(_Said(expected, v, tuple(range(a, b + 1))) for v, a, b in offered)]

    def _settled(
        self, said: list[_Said], row: Words, text: str
    ) -> tuple[list[_Said], tuple[Ambiguity, ...]]:
        """One value for each single-valued fact, or an ambiguity; no repeats."""
        kept: list[_Said] = []
        maybes: list[Ambiguity] = []
        by_fact: dict[str, list[_Said]] = {}
        for one in sorted(said, key=lambda s: (s.taken[0], -len(s.taken), s.fact, str(s.value))):
            by_fact.setdefault(one.fact, []).append(one)
        troubled = {row.line.clause[s.taken[0]] for s in by_fact.get("trouble", ())}
        for fact, group in by_fact.items():
            group = _longest(group)
            affirmed = [s for s in group if not s.denied]
            values = {s.value for s in affirmed}
            if fact in self._book.single_valued and len(values) > 1:
                affirmed = _one_value(affirmed, row, troubled)
                if len({s.value for s in affirmed}) > 1:
                    maybes.append(self._maybe(fact, affirmed, row, text))
                    affirmed = []
            values = {s.value for s in affirmed}
            kept += affirmed
            kept += [s for s in group if s.denied and s.value not in values]
        seen: set[tuple[str, Value, bool]] = set()
        unique = []
        for one in sorted(kept, key=lambda s: (s.taken[0], s.fact, str(s.value))):
            key = (one.fact, one.value, one.denied)
            if key not in seen:
                seen.add(key)
                unique.append(one)
        return unique, tuple(maybes)

    def _said_too(self, said: list[_Said], maybes: tuple[Ambiguity, ...]) -> list[_Said]:
        """What a value nearly says too, unless the text says something itself."""
        known = {s.fact for s in said} | {m.fact for m in maybes}
        found: list[_Said] = []
        for one in said:
            if one.denied:
                continue
            for fact, value in self._book.said_too.get((one.fact, one.value), ()):
                if fact in known and self._book.facts[fact].kind != "several":
                    continue
                if all(s.fact != fact or s.value != value for s in (*said, *found)):
                    found.append(replace(one, fact=fact, value=value))
                    known.add(fact)
        return found

    def _aimed(self, said: list[_Said], row: Words) -> list[_Said]:
        """Holds whose part is open, placed by what else is said ("dyno, pocket").

        One that is spoken of so later on is gone to: "there's a pocket, I throw for it".
        """
        told = {
            part: any((s.fact, s.value) in sure and not s.denied for s in said)
            for part, sure in self._book.aimed_at.items()
        }
        named = {s.fact for s in said}
        aims, holds = told["target"] and not told["hold"], told["hold"] and not told["target"]
        stands = told["foot"] and not told["hold"] and not told["target"]
        later = max((start for start, _ in row.line.found.get("<role_it>", ())), default=-1)
        found: list[_Said] = []
        for s in said:
            if not s.open or s.fact not in PLACED:
                found.append(s)
            elif s.fact in TARGET_OF:
                if "target" not in named and (aims or s.taken[-1] < later):
                    found.append(replace(s, fact=TARGET_OF[s.fact]))
                elif stands:
                    found += self._underfoot(s)
                else:
                    found.append(s)
            elif holds and "hold" not in named:
                found.append(replace(s, fact=HOLD_OF[s.fact]))
            else:
                found.append(s)
        return found

    def _beside(self, said: list[_Said], expected: str | None) -> list[_Said]:
        """Without facts that mean nothing alone: when a foot goes, when no foot is said to go."""
        told = {(s.fact, s.value) for s in said if not s.denied}
        beside = self._book.heard_beside
        return [
            s
            for s in said
            if s.fact not in beside or s.fact == expected or not told.isdisjoint(beside[s.fact])
        ]

    def _maybe(self, fact: str, group: list[_Said], row: Words, text: str) -> Ambiguity:
        first = min(s.taken[0] for s in group)
        last = max(s.taken[-1] for s in group)
        start, end = row.span(first, last)
        values = tuple(dict.fromkeys(s.value for s in group))
        return Ambiguity(fact, values, Span(start, end, text[start:end]))

    def _heard(self, one: _Said, row: Words, text: str) -> Heard:
        start, end = row.span(one.taken[0], one.taken[-1])
        return Heard(one.fact, one.value, one.denied, start, end, one.hedged, text[start:end])


def _of_old_falls(row: Words, hits: list[Hit], signs: list[_Said]) -> Set[int]:
    """The words of a fall that is told for the fear that it left; none where something hurts."""
    cues = (tuple(range(*place)) for place in row.line.found.get("<pain>", ()))
    hurts = any(not is_denied_outright(row, cue) for cue in cues)
    if hurts or any(not sign.denied for sign in signs):
        return frozenset()
    return {i for hit in hits if hit.meaning == ("old_fall", "yes") for i in hit.taken}


def _steers(row: Words, hit: Hit) -> bool:
    """Whether words that steer the talk are what the message is about, or how it begins."""
    weight = row.line.weight
    rest = sum(w for i, w in enumerate(weight) if i not in hit.taken and row.line.words[i] != ",")
    return rest <= BESIDE or (hit.first <= 1 and len(hit.taken) > 1)


def _needed(names: Iterable[str], concepts: Mapping[str, Sequence[Phrase]]) -> set[str]:
    """Those of the named concepts that there are, with all that they are made of."""
    found: set[str] = set()
    waiting = [n for n in names if n in concepts]
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting += (n for p in concepts[name] for n in concepts_in(p) if n in concepts)
    return found


def _surface(phrases: Iterable[Phrase]) -> Counter[str]:
    """How often the phrases have each word."""
    found: Counter[str] = Counter()
    for phrase in phrases:
        found.update(w for w in _SURFACE.findall(phrase.text.lower()) if w[0] != "<")
    return found


def _pairs(phrases: Iterable[Phrase]) -> set[tuple[str, str]]:
    """Neighbouring words of phrases, which people also write as one."""
    found: set[tuple[str, str]] = set()
    for phrase in phrases:
        for word in re.findall(r"[a-z]{3,}(?:[ -][a-z]{2,})+", re.sub(r"<[^>]*>", "", phrase.text)):
            bits = re.split("[ -]", word)
            found.update(pairwise(bits))
    return found


def _unblocked(hits: list[Hit]) -> list[Hit]:
    blocks = [h for h in hits if h.blocks]
    return [
        h
        for h in hits
        if not h.blocks
        and not any(b.meaning == h.meaning and not set(b.taken).isdisjoint(h.taken) for b in blocks)
    ]


def _longest(group: list[_Said]) -> list[_Said]:
    """Without those whose words lie inside those of another value of the same fact."""
    sets = [(s, set(s.taken)) for s in group]
    return [
        s
        for s, words in sets
        if not any(words < others and (o.value != s.value) for o, others in sets)
    ]


def _one_value(group: list[_Said], row: Words, troubled: set[int]) -> list[_Said]:
    """The value that a single-valued fact is about; several only when "or" joins them.

    What is said outright stands before guesses, what goes with the trouble before the
    rest, and what is named first before what only describes it ("an incut crimp").
    """
    if group[0].fact == "hurts":
        return [s for s in group if s.value is True]
    for narrower in (
        [s for s in group if not s.hedged],
        [s for s in group if row.line.clause[s.taken[0]] in troubled],
    ):
        if len({s.value for s in narrower}) == 1:
            return narrower
    first, last = group[0], group[-1]
    between = row.line.words[first.taken[-1] + 1 : last.taken[0]]
    if "or" in between and len(between) <= OR_WITHIN:
        return group
    return [s for s in group if s.value == first.value]


def _is_hedged(row: Words, taken: tuple[int, ...]) -> bool:
    line = row.line
    for start, end in line.found.get("<hedge>", ()):
        if line.clause[start] == line.clause[taken[0]]:
            if end <= taken[0] and sum(line.weight[end : taken[0]]) <= 3:
                return True
            if taken[-1] < start <= taken[-1] + 3:
                return True
    return False


def _is_over(row: Words, body: list[Hit]) -> tuple[set[int], set[int]]:
    """Clauses of pain that has eased, and clauses of what is healed or long ago.

    Not those with "still" or "again". A clause that is over and names no body part ("it's
    healed", "that was years ago") speaks of the one before it that does.
    """
    line = row.line
    now = {line.clause[s] for s, _ in line.found.get("<still>", ())}
    eased = {line.clause[s] for s, _ in line.found.get("<eased>", ())}
    past = {line.clause[s] for name in ("<healed>", "<old_injury>")
            for s, _ in line.found.get(name, ())}  # fmt: skip
    for start, end in line.found.get("<long_ago>", ()):
        tokens = {row.token_of[i] for i in range(start, end)}
        amounts = [q.to("week") for q in row.quantities if q.first in tokens and q.kind == "time"]
        if all(a is None or a >= OLD_AFTER_WEEKS for a in amounts):
            past.add(line.clause[start])
    named = {line.clause[hit.first] for hit in body}
    for group in (eased, past):
        group -= now
        for clause in sorted(group - named):
            before = [c for c in named if clause - BACK <= c < clause]
            if before and not any(c in now for c in range(max(before), clause)):
                group.add(max(before))
    return eased, past


def _nearest_parts(row: Words, cue: tuple[int, ...], body: list[Hit]) -> list[Hit]:
    """The body part that a cue speaks of, and those joined to it by "and" or a comma."""
    line = row.line
    here = line.clause[cue[0]]

    def far(first: int, last: int) -> int:
        if last < cue[0]:
            return sum(line.weight[last + 1 : cue[0]])
        return sum(line.weight[cue[-1] + 1 : first]) if first > cue[-1] else 0

    near = [(far(h.first, h.last), h) for h in body if line.clause[h.first] == here]
    reach = NEAR if len({h.meaning for _, h in near}) > 1 else 2 * NEAR
    near = [(away, h) for away, h in near if away <= reach]
    near = near or [
        (far(at, at), h)
        for at, words in row.meant.items()
        if line.clause[at] == here and far(at, at) <= NEAR
        for h in body
        if h.first in words
    ]
    if not near:
        before = [h for h in body if 0 < here - line.clause[h.first] <= BACK]
        near = [(-h.last, h) for h in before]
    if not near:
        return []
    chosen = [min(near, key=lambda pair: (pair[0], pair[1].first))[1]]
    for _, hit in sorted(near, key=lambda pair: pair[1].first):
        for one in list(chosen):
            low, high = sorted((hit, one), key=lambda h: h.first)
            between = line.words[low.last + 1 : high.first]
            if hit not in chosen and between and set(between) <= _LIST_WORDS:
                chosen.append(hit)
    for _, hit in near:
        if hit not in chosen and set(hit.taken) & {t for h in chosen for t in h.taken}:
            chosen.append(hit)
    widest = {h: set(h.taken) for h in chosen}
    return [h for h in chosen if not any(widest[h] < w for w in widest.values())]


_LIST_WORDS = frozenset(
    {"and", "or", ",", "my", "the", "left", "right", "both", "also", "his", "her"}
)


def _of_pain(said: list[_Said]) -> list[_Said]:
    """Without when and how long it hurts when nothing is said to hurt."""
    if any(s.fact in PAIN and not s.denied and s.value is not False for s in said):
        return said
    return [s for s in said if s.fact not in OF_PAIN]


def _on_topic(said: list[_Said]) -> list[_Said]:
    """Without what is only mentioned ("music too loud") in a message about climbing."""
    told = {s.fact for s in said if not s.denied and s.value is not False}
    aside = MENTIONED if told & OF_CLIMBING else ELSEWHERE if told & OF_CLIMBERS else frozenset()
    return [s for s in said if s.fact != "off_topic" or s.value not in aside]


def _corrected(said: list[_Said], row: Words, single: frozenset[str]) -> list[_Said]:
    """Drop what a later "no, I meant" in the same message takes back."""
    for start, end in row.line.found.get("<correction>", ()):
        after = {s.fact for s in said if s.taken[0] >= end and not s.denied}
        said = [s for s in said
                if not (s.fact in after & single and s.taken[-1] < start)]  # fmt: skip
    return said


def _unread(row: Words, text: str, said: list[_Said]) -> tuple[Span, ...]:
    taken = {row.token_of[i] for s in said for i in s.taken}
    spans: list[Span] = []
    done: set[int] = set()
    for i, token in enumerate(row.token_of):
        if token in taken or token in done or row.line.weight[i] == 0:
            continue
        done.add(token)
        one = row.tokens[token]
        if len(one.text) > 2 and one.is_word:
            spans.append(Span(one.start, one.end, text[one.start : one.end]))
    return tuple(spans)
