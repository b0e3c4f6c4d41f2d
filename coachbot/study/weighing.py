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
    of a skill that is advised, ``other_topic`` when of one that is not.
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


WEIGHTS: dict[Verdict, tuple[float, tuple[float, ...]]] = {
    Verdict.WRONG: (
        -0.710,
        (
            -1.040,
            -0.564,
            -1.335,
            0.733,
            -0.655,
            -0.179,
            0.172,
            0.330,
            1.597,
            0.045,
            -0.229,
            0.617,
        ),
    ),
    Verdict.PARTLY: (
        3.666,
        (
            -0.524,
            0.116,
            0.868,
            -0.178,
            0.704,
            -0.878,
            -0.503,
            -0.050,
            -1.693,
            -0.281,
            0.311,
            -1.237,
        ),
    ),
    Verdict.RIGHT: (
        -2.956,
        (
            1.563,
            0.447,
            0.467,
            -0.555,
            -0.049,
            1.058,
            0.330,
            -0.281,
            0.096,
            0.236,
            -0.082,
            0.620,
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
