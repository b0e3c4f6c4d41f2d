"""A message as a row of plain words in clauses, and what stands under a negation.

Negation follows the trigger-and-scope method of NegEx (Chapman et al., J Biomed Inform
34, 301-310, 2001): triggers before and after, false triggers, words that end a scope, and
a window; the cues are data (rules/words/cues.yaml).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from coachbot.knowledge.lemmas import lemma
from coachbot.knowledge.phrases import CONTRACTIONS, expand

from .matching import Line
from .quantities import COUNTED, Quantity, grades, quantities
from .tokens import Token
from .tokens import tokens as split

WINDOW = 6
LIKENED = 3
AGES = 4, 95
LOW, HIGH = 105, 215
NEAR_GROUND, FAR_FROM_GROUND = 160, 230
REACH = 12
MOVERS = (
    "<lower>", "<foot>", "<both_feet>", "<heel>", "<toehook>", "<hand>", "<gripper>", "<bent_arm>",
    "<trunk>",
)  # fmt: skip
PARTS = ("<body_finger>", "<joint>", "<limb>", "<sinew>", "<tissue>", "<body>")
THINGS = ("<hold>", "<wall_noun>", "<on_wall>")
NEAR = 2
_BARS = dict.fromkeys(("i", "he", "she", "we", "they"), 3) | dict.fromkeys(
    ("and", "when", "if", "whenever", "while", "then", "until", "as"), 2
)
_STOPS = frozenset(".!?;:…\n()[]|*")
_JOINERS = {"/": "or", "&": "and", "+": "and", ",": ","}


@dataclass(frozen=True, slots=True)
class Scope:
    """A negation at words ``at`` to ``end`` that reaches from ``low`` to ``high`` (exclusive).

    ``weak``: "struggle to", "hard to": it makes a "can't" but denies nothing said.
    ``able``: the no of "can't": the thing is wanted, not absent.
    """

    at: int
    end: int
    low: int
    high: int
    weak: bool
    able: bool = False


@dataclass(slots=True)
class Words:
    """The row of words of a message with their tokens and quantities.

    ``feared`` holds the words of what is feared or to be prevented, not of what happened;
    ``likened`` those of what something is only compared to; ``meant`` the words that a pronoun
    stands for.
    """

    tokens: list[Token]
    line: Line
    token_of: list[int]
    forms: list[str]
    quantities: list[Quantity]
    scopes: list[Scope]
    fixed: dict[int, str]
    feared: list[range] = field(default_factory=list)
    likened: list[range] = field(default_factory=list)
    meant: dict[int, range] = field(default_factory=dict)

    def span(self, first: int, last: int) -> tuple[int, int]:
        """Where words ``first`` to ``last`` (inclusive) stand in the text."""
        return self.tokens[self.token_of[first]].start, self.tokens[self.token_of[last]].end


def words_of(
    text: str,
    folded: str,
    right: Callable[[str], str | None],
    small: frozenset[str],
    ladder: object,
) -> Words:
    """Tokens, plain words, quantities; clauses are sentences until ``split_clauses``."""
    toks = split(folded)
    row = Words(toks, Line([], [], []), [], [], [], [], {})
    line, found = row.line, row.line.found
    graded = _graded(toks, folded, ladder)
    inside = {t for first, last, _, _ in graded for t in range(first, last)}
    row.quantities = [Quantity(a, b, "grade", float(o), "grade", r) for a, b, o, r in graded]
    row.quantities += quantities(toks, inside)
    starts = {q.first: q for q in row.quantities}
    sentence, i, broken = 0, 0, False

    def add(word: str, form: str, token: int, weight: int) -> None:
        at = len(line.words)
        line.words.append(word)
        line.clause.append(sentence)
        line.weight.append(weight)
        row.token_of.append(token)
        row.forms.append(form)
        found.setdefault(word, []).append((at, at + 1))
        found.setdefault("=" + form, []).append((at, at + 1))

    while i < len(toks):
        token = toks[i]
        gap = folded[toks[i - 1].end : token.start] if i else ""
        if "\n" in gap and not broken:
            if gap.count("\n") > 1:
                sentence += 1
                broken = True
            else:
                add(",", ",", i, 2)
        quantity = starts.get(i)
        if quantity is not None:
            first = len(line.words)
            for t in range(quantity.first, quantity.last):
                for word in expand(toks[t].text):
                    add(lemma(word), word, t, 0 if word in small else 1)
            _mark(quantity, first, len(line.words), row, toks)
            i, broken = quantity.last, False
            continue
        if not token.is_word and not token.text[0].isdigit():
            spaced = token.text in "-–" and (gap != "" or token.text == "–")
            if token.text in _STOPS or spaced:
                dot_inside = token.text == "." and _inside_word(folded, token)
                if not broken and not dot_inside:
                    sentence += 1
                    broken = True
            elif token.text == "/" and toks[i - 1].text == "w":
                pass  # "w/ one hand"
            elif token.text in _JOINERS:
                add(_JOINERS[token.text], token.text, i, 2)
            i += 1
            continue
        broken = False
        bits, first = _written(token.text, i, row, right), len(line.words)
        for word in bits:
            plain = lemma(word)
            add(plain, word, i, _BARS.get(word, 0 if word in small or plain in small else 1))
        if len(bits) > 1 and i in row.fixed:
            found.setdefault(lemma(token.text), []).append((first, len(line.words)))
        i += 1
    return row


def _written(
    word: str,
    at: int,
    row: Words,
    right: Callable[[str], str | None],
) -> tuple[str, ...]:
    if word in CONTRACTIONS or "'" in word:
        return expand(word)
    fixed = right(word)
    if fixed is None:
        return (word,)
    row.fixed[at] = fixed
    return tuple(w for bit in fixed.split() for w in expand(bit))


def _inside_word(folded: str, token: Token) -> bool:
    before, after = folded[token.start - 1 : token.start], folded[token.end : token.end + 1]
    return before.isalnum() and after.isalnum()


def _graded(toks: list[Token], folded: str, ladder: object) -> list[tuple[int, int, int, bool]]:
    found = []
    for start, end, order, ranged in grades(folded, ladder):  # type: ignore[arg-type]
        inside = [i for i, t in enumerate(toks) if t.start < end and t.end > start]
        if inside:
            found.append((inside[0], inside[-1] + 1, order, ranged))
    return found


def _mark(quantity: Quantity, first: int, end: int, row: Words, toks: list[Token]) -> None:
    """Enter a quantity under its number marks, as words ``first`` to ``end``."""
    if end <= first:
        return
    found = row.line.found
    marks = [{"count": "#", "nth": "#nth"}.get(quantity.kind, f"#{quantity.kind}")]
    if quantity.age:
        marks.append("#age")
    before = toks[quantity.first - 1].text if quantity.first else ""
    if quantity.kind == "length" and LOW <= quantity.amount <= HIGH and quantity.amount % 100:
        marks.append("#stature")
    if quantity.kind == "length" and quantity.amount >= FAR_FROM_GROUND:
        marks.append("#high")
    elif quantity.kind == "length" and quantity.amount <= NEAR_GROUND:
        marks.append("#low")
    aside = quantity.kind == "count" and _in_brackets(quantity, toks)
    if aside and LOW < quantity.amount <= HIGH:
        marks.append("#stature")
    elif aside and AGES[0] <= quantity.amount <= AGES[1]:
        marks.append("#age")
    marks += _standing(quantity, toks)
    if quantity.kind == "count":
        after = toks[quantity.last] if quantity.last < len(toks) else None
        if after is not None and after.start - toks[quantity.last - 1].end > 1:
            after = None
        if toks[quantity.first].text == "one" and (
            before in _ONE_OF or after is None or not after.is_word or after.text in _AFTER_ALONE
        ):
            return
        if before in {"(", "["} and after is not None and after.text in {")", "]"}:
            marks.append("#aside")
        if after is None or not after.is_word or after.text in _AFTER_ALONE:
            marks.append("#alone")
    for mark in marks:
        found.setdefault(mark, []).append((first, end))


_ONE_OF = frozenset({
    "this", "that", "the", "next", "last", "first", "second", "which", "each", "every",
    "another", "any", "no", "other", "lower", "upper", "right", "left", "good", "bad", "big",
    "small", "red", "blue", "green", "yellow", "pink", "black", "white", "orange", "purple",
})  # fmt: skip


def _in_brackets(quantity: Quantity, toks: list[Token]) -> bool:
    """Whether a number stands alone in brackets behind a word, as ages do: "Pell (14)"."""
    before, after = quantity.first - 1, quantity.last
    return (
        before > 0
        and after < len(toks)
        and toks[before].text == "("
        and toks[after].text == ")"
        and toks[before - 1].is_word
        and float(quantity.amount).is_integer()
    )


def _standing(quantity: Quantity, toks: list[Token]) -> list[str]:
    """Marks of an age-like number that ends its say, and of what stands in a list on its own."""
    before = _beside(quantity.first - 1, quantity.first, toks)
    after = _beside(quantity.last, quantity.last, toks)
    if after == "-" and toks[quantity.last].start == toks[quantity.last - 1].end:
        return []  # "a twelve-move traverse"
    alone = not before[0].isalnum() or before == "and"
    marks = []
    ageing = float(quantity.amount).is_integer() and AGES[0] <= quantity.amount <= AGES[1]
    if quantity.kind == "count" and ageing and (after in _AFTER_AGE or after in _LIST_SIGNS):
        marks.append("#years")
        if alone and after in _LIST_SIGNS and not _beside_number(quantity, toks):
            marks.append("#apart")
    elif quantity.kind == "grade" and alone and after in _LIST_SIGNS | {"on", "or"}:
        marks.append("#level")
    return marks


def _beside(at: int, gap: int, toks: list[Token]) -> str:
    """The token at ``at``; a comma where the text ends or a new line lies in the ``gap``."""
    if not 0 <= at < len(toks) or toks[gap].start - toks[gap - 1].end > 1:
        return ","
    return toks[at].text


def _beside_number(quantity: Quantity, toks: list[Token]) -> bool:
    """Whether the list before or behind goes on with another plain number ("two, five, ten")."""

    def plain(at: int) -> bool:
        word = toks[at].text if 0 <= at < len(toks) else ""
        return word in COUNTED or (word.isdigit() and len(word) < 3)

    follows = quantity.last + 2 >= len(toks) or not toks[quantity.last + 2].is_word
    return plain(quantity.first - 2) or (plain(quantity.last + 1) and follows)


_LIST_SIGNS = frozenset({",", ".", ";", ":", "!", "?", ")", "-", "–", "…", "\n", "and"})
_AFTER_AGE = frozenset({
    "but", "so", "i", "my", "if", "or", "now", "here", "next", "last", "this", "who", "with",
    "when", "he", "she", "they", "we", "though", "lol", "btw", "nearly", "almost", "turning",
    "going", "which", "because", "cuz", "cos", "one", "am", "is", "that", "should", "can",
    "as", "too", "it", "the", "me", "in", "what", "how", "then", "just", "while", "u",
    "been", "climb", "climbing", "im", "ive", "by", "about", "starting", "started", "n", "w",
    "does", "has", "wants", "keeps", "says", "female", "male",
})  # fmt: skip
_AFTER_ALONE = frozenset({
    "and", "but", "so", "i", "my", "the", "a", "with", "where", "when", "while", "board", "wall",
    "or", "it", "is", "at", "in", "on", "he", "she", "because", "to", "for", "that", "keep",
    "who", "just", "btw", "lol", "now", "this", "though", "if", "then", "was", "has", "can",
    "as", "of", "overhang",
})  # fmt: skip


def split_clauses(row: Words) -> None:
    """Cut sentences at ``<clause_start>`` words, so that each clause has its own number."""
    line = row.line
    starts = {start for start, _ in line.found.get("<clause_start>", ())}
    extra = 0
    for i, sentence in enumerate(line.clause):
        if i in starts and i and line.clause[i - 1] - extra == sentence:
            extra += 1
        line.clause[i] = sentence + extra


def refer(row: Words) -> None:
    """Let "it slips" speak of what was named before: the last of ``MOVERS`` that was named.

    The pronoun then stands under that concept too, so that phrases find it there. "They" are
    more than one, and "it" is one. "The left" with nothing behind it is a hand unless feet
    were spoken of.
    """
    found, words = row.line.found, row.line.words
    named = sorted((end, start, m) for m in MOVERS for start, end in found.get(m, ()))
    sides = found.get("<side>", [])
    for at, after in sorted([*found.get("<refers>", ()), *sides]):
        if words[after : after + 2] in (["be", "the"], ["be", "my"]):
            continue  # "it's the hand that slips" speaks of the hand
        clause = row.line.clause[at]
        side = (at, after) in sides
        near = [n for n in named if n[0] <= at and clause - row.line.clause[n[1]] <= 1
                and sum(row.line.weight[n[0] : at]) <= REACH * (1 + side)
                and (side or _agree(row, at, n[0] - 1))]  # fmt: skip
        movers = {m for end, start, m in near if (end, start) == near[-1][:2]}
        if side and movers.isdisjoint({"<foot>", "<lower>"}):
            movers = {"<hand>", "<gripper>"}
        for mover in movers:
            row.line.enter(mover, {*found.get(mover, ()), (at, after)})
            named = sorted([*named, (after, at, mover)])


def refer_to_parts(row: Words) -> None:
    """Let "it is swollen" speak of the part of the body named last, if no thing was since.

    The pronoun then stands under ``PARTS`` too, and ``row.meant`` says for which words.
    """
    line = row.line
    named = sorted((end, start, m) for m in PARTS for start, end in line.found.get(m, ()))
    things = [place for m in THINGS for place in line.found.get(m, ())]
    for at, after in line.found.get("<refers>", ()):
        near = [n for n in named if n[0] <= at and line.clause[at] - line.clause[n[1]] <= 1]
        if not near or not _agree(row, at, near[-1][0] - 1):
            continue
        last_end, last_start, _ = near[-1]
        if any(last_end <= start and end <= at for start, end in things):
            continue
        row.meant[at] = range(last_start, last_end)
        for end, start, concept in near:
            if (end, start) == (last_end, last_start):
                line.found[concept] = sorted({*line.found[concept], (at, after)})


def _agree(row: Words, pronoun: int, named: int) -> bool:
    """Whether a pronoun can mean what ends at word ``named``: one for "it", more for "they"."""
    many = row.forms[named] == "feet" or row.forms[named].endswith("s")
    return many == (row.forms[pronoun] in _MANY) or row.forms[pronoun] not in {*_MANY, "it"}


_MANY = frozenset({"they", "them", "both"})


def find_scopes(row: Words) -> None:
    """The reach of every negation in the row."""
    line = row.line
    false = [set(range(*place)) for place in line.found.get("<no_false>", ())]
    ends = {start for start, _ in line.found.get("<no_end>", ())}
    for name, weak in (("<no_before>", False), ("<no_weak>", True)):
        for start, end in line.found.get(name, ()):
            span = set(range(start, end))
            if any(span < f or (span == f) for f in false) or (
                any(not span.isdisjoint(f) for f in false)
            ):
                continue
            able = start > 0 and line.words[start - 1] in {"can", "could"}
            row.scopes.append(Scope(start, end, end, _reach(line, end, ends), weak, able))
    for start, end in line.found.get("<no_event>", ()):
        row.feared.append(range(start, max(end, _reach(line, end, ends))))
    close = ends | {i for i, word in enumerate(line.words) if word in _AFTER_LIKENESS}
    for start, end in line.found.get("<likened>", ()):
        row.likened.append(range(start + 1, _reach(line, end, close, LIKENED)))
    for start, end in line.found.get("<no_after>", ()):
        low = start
        while low > 0 and line.clause[low - 1] == line.clause[start] and start - low < WINDOW + 2:
            if line.words[low - 1] in {",", "and"}:
                break
            low -= 1
        row.scopes.append(Scope(start, end, low, start, False))


def _reach(line: Line, end: int, ends: set[int], room: int = WINDOW) -> int:
    """Where the scope that opens at ``end`` closes: window, clause, ending word, new subject."""
    clause, at = line.clause[end - 1], end
    while at < len(line.words) and line.clause[at] == clause and room > 0:
        if at in ends:
            break
        if line.words[at] in {",", "and"} and not _list_goes_on(line, at, ends):
            break
        room -= line.weight[at]
        at += 1
    return at


def _list_goes_on(line: Line, at: int, ends: set[int]) -> bool:
    """Whether a comma or "and" joins names ("no pop, swelling or bruise"), not statements."""
    step = at + 1
    while step < len(line.words) and line.words[step] in {",", "and", "or"}:
        step += 1
    if step >= len(line.words) or step in ends or line.words[step] in _NEW_SUBJECT:
        return False
    if line.words[at] == "and":
        return step + 1 >= len(line.words) or line.clause[step + 1] != line.clause[step]
    return any(w in {"or", "nor"} for w in line.words[step : step + 4])


_LISTED = frozenset({",", "or", "nor"})
_NEW_SUBJECT = frozenset({
    "i", "my", "the", "he", "she", "it", "they", "we", "his", "her", "you", "your", "then",
    "just", "more", "only", "a", "an", "there", "this", "that", "be", "when", "if", "now",
})  # fmt: skip


def negation_of(row: Words, run: tuple[int, ...]) -> tuple[int, ...]:
    """The words of the nearest negation, weak ones too, under which a run of words ends."""
    last = run[-1]
    inside = set(run)
    over = [
        scope
        for scope in row.scopes
        if scope.low <= last < scope.high and not inside.issuperset(range(scope.at, scope.end))
    ]
    if not over:
        return ()
    nearest = max(over, key=lambda scope: scope.at)
    return tuple(range(nearest.at, nearest.end))


def is_feared(row: Words, run: tuple[int, ...]) -> bool:
    """Whether a run of words speaks of what is only feared or to be prevented."""
    return any(run[0] in place or run[-1] in place for place in row.feared)


_AFTER_LIKENESS = frozenset({"at", "on", "in", "when", "with", "to"})


def is_likened(row: Words, run: tuple[int, ...]) -> bool:
    """Whether a run of words stands in what something is only likened to ("like a wet fish")."""
    return any(run[0] in place for place in row.likened)


def is_denied_outright(row: Words, run: tuple[int, ...]) -> bool:
    """As ``is_denied``, but neither by "can't" nor from afar: "my feet don't slip", "no pop"."""
    inside = set(run)
    line = row.line
    for scope in row.scopes:
        if scope.weak or scope.able or inside.issuperset(range(scope.at, scope.end)):
            continue
        if scope.low <= run[-1] < scope.high and (
            scope.at > run[0]
            or sum(line.weight[scope.end : run[0]]) <= NEAR
            or not _LISTED.isdisjoint(line.words[scope.end : run[0]])
        ):
            return True
    return False


def is_denied_closely(row: Words, run: tuple[int, ...], passes: set[int]) -> bool:
    """As ``is_denied``, with nothing but passing words between the negation and the run."""
    inside = set(run)
    for scope in row.scopes:
        if scope.weak or scope.able or not inside.isdisjoint(range(scope.at, scope.end)):
            continue
        if scope.low <= run[0] < scope.high:
            if scope.at < run[0]:
                between = range(scope.end, run[0])
            else:
                between = range(run[-1] + 1, scope.at)
            if all(row.line.weight[i] == 0 or i in passes for i in between):
                return True
    return False
