"""What the coach says, as plain paragraphs; the doors wrap them to the width they have."""

from __future__ import annotations

import re
from collections.abc import Sequence

from rapidfuzz import fuzz

from coachbot.advice import Advice, Ask, Suggested, Understood
from coachbot.advice.explaining import Difference, Standing, Step, Verdict
from coachbot.case import Known
from coachbot.engine.model import Value
from coachbot.knowledge.book import ReadRule, RuleBook
from coachbot.knowledge.wording import fact_sentence, value_words
from coachbot.understanding import Reading

CHOICES = 8
EXAMPLE = 'For example: "my foot keeps slipping off a tiny foothold on the slab".'
NOTHING_YET = f"I have suggested nothing yet. Tell me what goes wrong. {EXAMPLE}"
GOODBYE = "Climb well. Come back when something does not go."
HELP = """\
Tell me what goes wrong, in your own words. I answer with what to try, and may ask.

You can also say:
  why, why 2           what a suggestion rests on
  why not a heel hook  what speaks against another way
  what if it were steep  what would change
  that worked / that did not help / can't do that
  2, more              a suggestion in full, the further ones
  what did you understand, undo
  another move, another problem
  card, save the card  the short version to take away
  how do you rank, help, bye"""


def what_i_heard(facts: Sequence[Understood]) -> str:
    """What was read in this message, with the words it came from."""
    parts = [f'{u.sentence} ("{_short(u.words)}")' for u in facts]
    return f"I heard: {'; '.join(parts)}."


def understood(facts: Sequence[Understood]) -> str:
    """Everything that stands, one line each."""
    if not facts:
        return f"I know nothing yet. {EXAMPLE}"
    lines = [f'  {u.sentence} (from "{_short(u.words)}", {u.known_by})' for u in facts]
    return "This is what I have:\n" + "\n".join(lines) + "\nPut right whatever is wrong."


def _short(words: str) -> str:
    words = " ".join(words.split())
    return words if len(words) <= 60 else words[:57] + "..."


def advice(
    given: Advice,
    *,
    heard: Sequence[Understood],
    first: int,
    before: tuple[str, ...],
    understood_nothing: bool,
    reading: Reading,
    plan: str | None,
    aside: Sequence[str],
) -> str:
    """The whole answer to a message."""
    parts: list[str] = []
    if aside:
        parts.append(
            "All right, another way."
            if "cannot_do" in aside
            else "Good to know. Something else, then."
        )
    told = [u for u in heard if u.fact != "off_topic"]
    if told:
        parts.append(what_i_heard(told))
    if given.stop:
        parts.append(
            "STOP climbing for now." if given.urgency == "clinician" else "STOP. This comes first."
        )
    parts += given.replies
    still = given.stop and understood_nothing and bool(given.suggestions)
    if still:
        parts.append(_still_first(given.suggestions[0]))
    elif understood_nothing:
        parts.append(_not_understood(reading))
    if reading.cut is not None:
        parts.append(f"(That was long; I read the first {reading.cut:,} characters.)")
    for clash in given.clashes:
        parts.append(
            f"(The rules {' and '.join(clash.rules)} disagree about {clash.fact};"
            " I leave it open. Please tell your coach.)"
        )
    if given.suggestions and understood_nothing:
        parts += [] if still else ["What I suggested stands."]
    elif given.suggestions and tuple(s.rule for s in given.suggestions[:first]) == before:
        parts.append(_as_before(given.suggestions[:first]))
    elif given.suggestions:
        parts.append(suggestions(given.suggestions, 0, first))
    if given.held_back and not given.stop:
        parts.append(_held_back(given))
    if plan:
        parts.append(plan)
    if given.ask:
        parts.append(question(given.ask))
    answered = given.suggestions or given.replies or given.ask or given.stop or plan
    if not answered and not understood_nothing:
        parts.append(f"Tell me a little more: what goes wrong first? {EXAMPLE}")
    return "\n\n".join(parts)


def _as_before(ranked: Sequence[Suggested]) -> str:
    cues = [f"{i}. {s.now}" for i, s in enumerate(ranked, 1)]
    return "\n".join(["My first suggestions stay as they were:", *cues])


def _still_first(first: Suggested) -> str:
    return (
        f"What I said comes first still: {first.now} If something has changed, or anything else"
        " hurts, tell me that."
    )


def _not_understood(reading: Reading) -> str:
    if reading.language not in {None, "en"}:
        return f"I understand English only, sorry. {EXAMPLE}"
    words = ", ".join(f'"{_short(s.words)}"' for s in reading.unread[:6])
    lost = f" I could do nothing with {words}." if words else ""
    return f"I did not understand that.{lost} {EXAMPLE}"


def suggestions(ranked: Sequence[Suggested], start: int = 0, end: int | None = None) -> str:
    """Suggestions by number: the first in full, the others with their cue and reason."""
    shown = [
        detail(s, i) if i == 1 else _short_form(s, i)
        for i, s in enumerate(ranked[start:end], start + 1)
    ]
    left = len(ranked) - (end or len(ranked))
    hints = []
    if len(shown) > 1 or start:
        hints.append(f"{max(2, start + 1)} for the drill of that one")
    if left > 0:
        hints.append(f"more for {left} further {'suggestion' if left == 1 else 'suggestions'}")
    if hints:
        shown.append(f"(Say {', or '.join(hints)}.)")
    return "\n\n".join(shown)


def detail(s: Suggested, number: int) -> str:
    """One suggestion with everything that belongs to it."""
    lines = [
        f"{number}. {s.now}",
        f"   Why: {s.why}",
        f"   Drill: {s.drill}",
        f"   It works when: {s.works_when}",
    ]
    if s.dose:
        lines.append(f"   How much: {s.dose}")
    lines += [f"   Take care: {c}" for c in s.cautions]
    lines.append(f"   Rules: {' > '.join(s.chain)}")
    return "\n".join(lines)


def _short_form(s: Suggested, number: int) -> str:
    lines = [f"{number}. {s.now}", f"   Why: {s.why}"]
    lines += [f"   Take care: {c}" for c in s.cautions]
    lines.append(f"   Rules: {' > '.join(s.chain)}")
    return "\n".join(lines)


def _held_back(given: Advice) -> str:
    loads = sorted({load.replace("_", " ") for h in given.held_back for load in h.loads})
    return f"Left out to keep you safe: advice that puts load on {', '.join(loads)}."


def question(ask: Ask) -> str:
    """A question with its choices; any words will do."""
    if not ask.choices:
        return f"{ask.question} (or: don't know)"
    shown = ask.choices[:CHOICES]
    more = "" if shown == ask.choices else ", ..."
    return f"{ask.question}\n   {' / '.join(shown)}{more} / don't know"


def choice(book: RuleBook, fact: str, value: Value) -> str:
    """One answer to a question, in plain words."""
    return value_words(book, fact, value)


def why(steps: Sequence[Step]) -> str:
    """A chain from the person's words to the cue."""
    lines = []
    for step in steps:
        if step.rule is None:
            words = f' ("{_short(step.words)}")' if step.words else ""
            lines.append(f"You said: {step.sentence}{words}.")
            continue
        lines.append(f"So: {step.sentence}\n   {step.because}\n   Rule {step.rule}.")
        lines += [f"   Rests on {g}." for g in step.grounds]
    return "\n".join(lines)


def why_not(read: ReadRule, verdicts: Sequence[Verdict]) -> str:
    """Each condition of another suggestion, and how it stands here."""
    now = read.rule.suggest.now if read.rule.suggest else read.id
    lines = [f'"{now}" (rule {read.id}) would need:']
    for v in verdicts:
        here = f" Here: {v.here}." if v.here and v.standing is Standing.FAILS else ""
        lines.append(f"   {v.standing.value}: {v.condition}.{here}")
    if all(v.standing is Standing.HOLDS for v in verdicts):
        lines.append("All of that holds, but other advice ranks higher, or safety holds it back.")
    elif not any(v.standing is Standing.FAILS for v in verdicts):
        lines.append("Tell me about what is not known yet, and it may come.")
    return "\n".join(lines)


def what_if(book: RuleBook, supposed: Sequence[Known], difference: Difference) -> str:
    """What a supposed case would change."""
    said = "; ".join(fact_sentence(book, k.fact, k.value, k.denied) for k in supposed)
    lines = [f"Supposing {said}:"]
    if difference.stop:
        lines.append("Then I would say stop.")
    if difference.same:
        lines.append("Nothing would change in what I suggest first.")
    for i, rule in enumerate(difference.after, 1):
        suggestion = book.rules[rule].rule.suggest
        mark = "as now" if rule in difference.before else "new"
        if suggestion and not difference.same:
            lines.append(f"   {i}. {suggestion.now} ({mark})")
    gone = [r for r in difference.before if r not in difference.after]
    for rule in gone:
        suggestion = book.rules[rule].rule.suggest
        if suggestion:
            lines.append(f"   no longer among the first: {suggestion.now}")
    lines.append("Your case stays as it is.")
    return "\n".join(lines)


def worked(cue: str) -> str:
    """A kind word when something helped."""
    kept = f" Keep the cue: {cue}" if cue else ""
    return (
        f"Good!{kept} Do it twice more while it is fresh, then rest."
        " Say card to take it away, or tell me about another move."
    )


_PLAIN = re.compile(r"[a-z]+")
_COMMON = {"why", "not", "a", "an", "the", "my", "your", "use", "do", "i", "it", "should", "just"}


def named(text: str, rules: Sequence[ReadRule]) -> str | None:
    """The rule that a message names best by its skills, id and cue, or None."""
    asked = [w for w in _PLAIN.findall(text.lower()) if w not in _COMMON]
    if not asked:
        return None
    best: tuple[float, str] | None = None
    for read in rules:
        suggestion = read.rule.suggest
        if suggestion is None:
            continue
        skills = " ".join(suggestion.skills).replace("-", " ")
        names = set(_PLAIN.findall(f"{read.id} {skills}"))
        cue = set(_PLAIN.findall(suggestion.now.lower()))
        hits = sum(2.0 * _near(w, names) + 1.0 * _near(w, cue) for w in asked)
        first = set(_PLAIN.findall(suggestion.skills[0]))
        hits += sum(1.0 for w in asked if w in first) + suggestion.strength * suggestion.sure * 0.1
        if hits >= 2 and (best is None or hits > best[0]):
            best = (hits, read.id)
    return best[1] if best else None


def _near(word: str, words: set[str]) -> bool:
    return word in words or any(fuzz.ratio(word, w) >= 85 for w in words)
