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
        0.233,
        (
            -1.922,
            -0.217,
            -0.718,
            0.598,
            0.151,
            -0.996,
            -0.023,
            0.158,
            1.264,
            -0.062,
            -1.342,
            0.914,
            3.364,
            0.184,
            2.181,
            -0.611,
        ),
    ),
    Verdict.PARTLY: (
        3.515,
        (
            -0.213,
            -0.313,
            -0.065,
            0.061,
            0.474,
            -0.187,
            -0.291,
            -0.055,
            -1.173,
            -0.297,
            0.770,
            -0.447,
            -0.875,
            -0.250,
            -2.136,
            1.787,
        ),
    ),
    Verdict.RIGHT: (
        -3.748,
        (
            2.135,
            0.530,
            0.782,
            -0.659,
            -0.625,
            1.183,
            0.314,
            -0.103,
            -0.091,
            0.358,
            0.573,
            -0.467,
            -2.489,
            0.066,
            -0.045,
            -1.176,
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
