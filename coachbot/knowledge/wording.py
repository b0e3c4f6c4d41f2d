"""Facts as sentences. The wording itself stands with each fact in the vocabulary."""

from __future__ import annotations

from coachbot.engine.model import All, Any, Condition, Op, Value

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


def condition_sentence(book: RuleBook, part: Condition) -> str:
    """A condition in plain words."""
    if isinstance(part, All | Any):
        told = [condition_sentence(book, p) for p in part.parts]
        if isinstance(part, Any):
            return " or ".join(told)
        several = (isinstance(p, Any) and len(p.parts) > 1 for p in part.parts)
        return " and ".join(f"either {t}" if s else t for t, s in zip(told, several, strict=True))
    fact = book.facts[part.attribute]
    if part.value is None:
        known = part.op is Op.KNOWN
        if fact.question:
            return f'"{fact.question}" {"is known" if known else "was not said"}'
        about = fact.say.replace("{value}", "").strip(" :")
        return f"{'known' if known else 'not known'}: {about}"
    values = part.value if isinstance(part.value, tuple) else (part.value,)
    if part.op in {Op.EQUAL, Op.ONE_OF}:
        if fact.kind in {"choice", "several"} and "{value}" in fact.say:
            words = [value_words(book, part.attribute, v) for v in values]
            either = " or ".join(filter(None, [", ".join(words[:-1]), words[-1]]))
            return fact.say.replace("{value}", either)
        return " or ".join(fact_sentence(book, part.attribute, v) for v in values)
    if part.op is Op.NOT_EQUAL:
        return fact_sentence(book, part.attribute, values[0], denied=True)
    bound = "at least" if part.op is Op.AT_LEAST else "at most"
    return fact.say.replace("{value}", f"{bound} {value_words(book, part.attribute, values[0])}")
