"""Facts as sentences. The wording itself stands with each fact in the vocabulary."""

from __future__ import annotations

from coachbot.engine.model import Value

from .book import RuleBook


def value_words(book: RuleBook, name: str, value: Value) -> str:
    """A value in plain words: ``a sloper (round, no edge)``, ``40``, ``V4 (6B to 6B+)``."""
    fact = book.facts[name]
    if fact.kind in {"choice", "several"}:
        return fact.values[str(value)].say
    if fact.kind == "grade":
        return book.ladder.name(int(value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def fact_sentence(book: RuleBook, name: str, value: Value, denied: bool = False) -> str:
    """A fact in plain words, for true, for false and for denied values."""
    fact = book.facts[name]
    if fact.kind == "yes-no":
        no = fact.say_no or f"not so: {fact.say}"
        return no if value is False or denied else fact.say
    said = fact.say.replace("{value}", value_words(book, name, value))
    return f"not so: {said}" if denied else said
