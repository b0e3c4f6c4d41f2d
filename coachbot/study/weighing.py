"""Right, partly right or neither: measures of an answer, weighed.

The weights are those of a logistic regression of the marks that a coach gave by hand on the
measures below (multinomial, ridge penalty, C = 1, measures standardised). They are fitted by
``python -m tests.study.fit_weights`` to the open part of the labelled answers and to cues
that are foreign to their cases, and written down here, so that marking needs no statistics
library and gives the same mark everywhere.
"""

from __future__ import annotations

from dataclasses import astuple, dataclass
from enum import StrEnum


class Verdict(StrEnum):
    """What an answer comes to."""

    RIGHT = "right"
    PARTLY = "partly right"
    WRONG = "not it"
    UNSAFE = "unsafe"


@dataclass(frozen=True, slots=True)
class Measures:
    """What of an answer is weighed; worth is what `Marker` gives to a meaning.

    ``fit`` is how well the best advised suggestion is fitted (0 to 1), ``said`` the worth said
    of it, ``most`` the worth said of the suggestion of the whole rule book that most is said
    of, ``said_of_most`` the one by the other. ``shared_worth`` and ``shared_words`` are the
    shares of the answer that the advised suggestions speak of, ``meanings`` and ``words`` its
    length, ``better`` the logarithm of one and how many suggestions are better fitted, and
    ``against`` the worth said the other way round. ``topic`` is one when the answer speaks
    of a skill that is advised, ``other_topic`` when of one that is not. ``other_cue`` is how
    much more of a foreign cue is said than of any advised one, ``new`` how many meanings the
    story did not tell. ``force`` and ``vague`` count what is said of these two kinds.
    """

    fit: float
    said: float
    said_of_most: float
    most: float
    shared_worth: float
    shared_words: float
    meanings: float
    better: float
    against: float
    words: float
    topic: float
    other_topic: float
    other_cue: float
    new: float
    force: float
    vague: float


WEIGHTS: dict[Verdict, tuple[float, tuple[float, ...]]] = {
    Verdict.WRONG: (
        -0.249,
        (
            -1.444,
            -0.248,
            -1.319,
            0.458,
            0.417,
            -0.744,
            0.065,
            0.137,
            1.367,
            -0.108,
            -1.439,
            0.914,
            3.744,
            0.333,
            2.719,
            -0.637,
        ),
    ),
    Verdict.PARTLY: (
        3.559,
        (
            -0.342,
            -0.204,
            0.324,
            0.009,
            0.129,
            -0.187,
            -0.357,
            0.056,
            -1.661,
            -0.270,
            0.880,
            -0.630,
            -1.323,
            -0.243,
            -2.110,
            1.723,
        ),
    ),
    Verdict.RIGHT: (
        -3.309,
        (
            1.787,
            0.452,
            0.996,
            -0.467,
            -0.547,
            0.931,
            0.291,
            -0.194,
            0.294,
            0.377,
            0.558,
            -0.284,
            -2.422,
            -0.089,
            -0.608,
            -1.086,
        ),
    ),
}


def weigh(measures: Measures) -> Verdict:
    """The likeliest mark of an answer in which nothing is unsafe."""
    values = astuple(measures)

    def score(verdict: Verdict) -> float:
        constant, weights = WEIGHTS[verdict]
        weighed: list[float] = [w * v for w, v in zip(weights, values, strict=True)]
        return constant + sum(weighed)

    return max(WEIGHTS, key=score)
