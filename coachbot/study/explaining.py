"""A mark put into words: what was right, what is missing, what is unsafe, and why."""

from __future__ import annotations

from collections.abc import Sequence

from coachbot.advice import Advice
from coachbot.advice.explaining import grounds
from coachbot.knowledge.book import RuleBook

from .marking import Danger, Mark
from .weighing import Verdict

_HEADS = {
    Verdict.RIGHT: "Right.",
    Verdict.PARTLY: "Partly right.",
    Verdict.WRONG: "Not it, this time.",
    Verdict.UNSAFE: "UNSAFE. Put this right before anything else.",
}
_SHOWN = 2


def mark(book: RuleBook, advice: Advice, given: Mark) -> str:
    """The mark of an answer to a case, each point with its rule, reason and source."""
    parts = [_HEADS[given.verdict]]
    parts += [_danger(book, advice, d) for d in given.dangers]
    for rule in given.named[:_SHOWN]:
        parts.append(f"You said it: {_cue(book, rule)}\n   {_because(book, rule)}")
    if given.near and not given.named and given.verdict is not Verdict.UNSAFE:
        parts.append("You are near it; say it so that somebody could do it on the wall.")
    elif given.verdict is Verdict.PARTLY and not given.named and not given.near:
        parts.append("True, but too general: say what the body should do.")
    if given.verdict is Verdict.PARTLY and advice.stop:
        missing = "say who looks at it" if not given.refers else "say that the climbing ends now"
        parts.append(f"Still missing: {missing}.")
    for rule in given.missing[:_SHOWN]:
        parts.append(f"{_missing(book, advice, rule)}\n   {_because(book, rule)}")
    return "\n".join(parts)


def _missing(book: RuleBook, advice: Advice, rule: str) -> str:
    word = "Safety first here" if book.rules[rule].rule.safety else "What I would say first"
    if book.rules[rule].rule.stop:
        word = "Here the climbing stops"
    return f"{word}: {_cue(book, rule)}"


def _danger(book: RuleBook, advice: Advice, danger: Danger) -> str:
    words = f'"{danger.words}"' if danger.words else "Your answer"
    if danger.load is not None:
        load = book.facts["not_allowed"].values[danger.load].say
        text = f"{words}: held back here is {load}."
    elif advice.stop and danger.words:
        text = f"{words}: that goes on where the climbing must stop."
    elif advice.stop:
        text = "Your answer does not end the climbing, and here it must end."
    else:
        text = f"{words}: that is advised to nobody."
    because = [f"   {_because(book, rule)}" for rule in danger.because[:_SHOWN]]
    return "\n".join([text, *because])


def _cue(book: RuleBook, rule: str) -> str:
    suggestion = book.rules[rule].rule.suggest
    return suggestion.now if suggestion else book.rules[rule].rule.why


def _because(book: RuleBook, rule: str) -> str:
    """Why, by which rule, and what that rests on."""
    read = book.rules[rule]
    return f"{read.rule.why} (Rule {rule}; rests on {'; '.join(grounds(book, read)[:_SHOWN])}.)"


def facts(sentences: Sequence[str]) -> str:
    """Facts as one line."""
    return "; ".join(sentences)
