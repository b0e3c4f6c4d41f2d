"""A guess whether a message is in English, from its small words."""

from __future__ import annotations

from collections.abc import Sequence

SMALL_WORDS = {
    "de": "ich der die das und nicht ist mein meine mit auf bei wie kann immer ein eine dem den"
    " wenn aber mir mich zu von rutsche griff fuss hand",
    "fr": "je le la les et pas est mon ma mes avec sur dans comment peux un une du des quand mais"
    " ne que pour au ai suis glisse",
    "es": "yo el la los las y no es mi mis con en como puedo un una del cuando pero que para al me"
    " se por tengo estoy muy",
    "it": "io il lo la gli e non mio mia con su come posso un una del quando ma che per mi si ho"
    " sono sempre il della",
    "nl": "ik de het een en niet mijn met op hoe kan altijd als maar mij van is dat naar bij te",
    "pt": "eu o os as e nao meu minha com em como posso um uma do da quando mas que para se por"
    " estou muito",
    "sv": "jag och inte min mitt med pa hur kan alltid en ett nar men mig av ar det som till",
    "pl": "ja nie moja moj sie na jak moge zawsze jest ale mnie z do co to i w",
}
_SETS = {code: frozenset(words.split()) for code, words in SMALL_WORDS.items()}
_ENGLISH = frozenset(
    {
        "the",
        "a",
        "an",
        "i",
        "my",
        "me",
        "you",
        "it",
        "is",
        "are",
        "was",
        "be",
        "to",
        "of",
        "in",
        "on",
        "and",
        "or",
        "not",
        "no",
        "for",
        "with",
        "at",
        "from",
        "this",
        "that",
        "when",
        "how",
        "what",
        "can",
        "do",
        "does",
        "did",
        "have",
        "has",
        "keep",
        "but",
        "so",
        "if",
        "just",
        "off",
        "up",
        "out",
        "get",
        "go",
        "am",
        "they",
        "he",
        "she",
        "his",
        "her",
        "we",
        "all",
        "any",
        "your",
        "hi",
        "hello",
        "thanks",
        "help",
        "need",
        "want",
        "always",
    }
)


def guess(words: Sequence[str], letters: str) -> str | None:
    """ISO 639-1 code of the likely language of folded words, or None with nothing to go by.

    ``und`` stands for a script that is not Latin.
    """
    foreign = sum(1 for c in letters if c.isalpha() and not c.isascii())
    if foreign > 3 and foreign > sum(c.isascii() and c.isalpha() for c in letters):
        return "und"
    if not words:
        return None
    english = sum(w in _ENGLISH for w in words)
    scores = {code: sum(w in small for w in words) for code, small in _SETS.items()}
    best = max(scores, key=lambda code: scores[code])
    if scores[best] >= 3 and scores[best] > english * 1.5:
        return best
    return "en"
