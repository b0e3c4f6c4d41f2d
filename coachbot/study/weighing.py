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
    story did not tell.
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


WEIGHTS: dict[Verdict, tuple[float, tuple[float, ...]]] = {
    Verdict.WRONG: (
        -0.965,
        (
            -1.047,
            -0.492,
            -1.482,
            0.403,
            -0.377,
            0.140,
            -0.004,
            0.205,
            2.010,
            -0.033,
            -0.348,
            0.558,
            3.599,
            0.345,
        ),
    ),
    Verdict.PARTLY: (
        3.584,
        (
            -0.461,
            0.186,
            0.817,
            -0.095,
            0.752,
            -0.764,
            -0.370,
            0.045,
            -1.861,
            -0.268,
            0.276,
            -1.093,
            -1.623,
            -0.214,
        ),
    ),
    Verdict.RIGHT: (
        -2.619,
        (
            1.508,
            0.306,
            0.665,
            -0.308,
            -0.375,
            0.625,
            0.374,
            -0.250,
            -0.149,
            0.301,
            0.072,
            0.535,
            -1.976,
            -0.131,
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
