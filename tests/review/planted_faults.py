"""Faults of each kind that an audit looks for, planted into random rule sets."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass, field
from random import Random
from typing import Any as Anything

from coachbot.knowledge.book import RuleBook
from tests.review.generated_books import FACTS, WORDS, Rules, random_rules
from tests.review.small import asked, choice, rule, situation, small_book, suggest, yes_no


@dataclass
class Parts:
    """A rule set to plant faults into."""

    rules: Rules
    facts: dict[str, Anything] = field(default_factory=lambda: deepcopy(FACTS))
    words: dict[str, tuple[str, ...]] = field(default_factory=lambda: dict(WORDS))
    properties: dict[str, Anything] = field(default_factory=dict)
    contradictions: dict[str, Anything] = field(default_factory=dict)
    situations: dict[str, Anything] = field(default_factory=lambda: {"S01": situation("one")})

    def book(self) -> RuleBook:
        return small_book(
            self.facts, self.rules, self.words, self.properties, self.contradictions,
            self.situations,
        )  # fmt: skip


About = tuple[str, ...]


def random_parts(rng: Random) -> Parts:
    """Rules with a few that stop or answer, a safety property and a contradiction at times."""
    parts = Parts(random_rules(rng, 6))
    for spec in parts.rules.values():
        if "suggest" in spec and rng.random() < 0.25:
            spec["safety"] = True
    if rng.random() < 0.4:
        parts.rules["halt"] = rule(
            f"angle is at least {rng.randint(2, 4)}", f"hold is {rng.choice(('jug', 'edge'))}",
            suggest=suggest("See someone."), stop=rng.choice(("clinician", "emergency")),
        )  # fmt: skip
    if rng.random() < 0.3:
        parts.rules["quiet"] = rule("hold is not edge", "tired is no", reply="Hello.", alone=True)
    if rng.random() < 0.5:
        parts.properties["held"] = {
            "when": [rng.choice(("tired is yes", "angle is at least 3", "marks is red"))],
            "never": rng.choice((["jump"], ["climbing", "swing"], ["any_load"])),
            "because": "it hurts",
        }
    if rng.random() < 0.5:
        parts.contradictions["opposed"] = {
            "sides": [["grip"], ["feet"]],
            "decided_by": rng.choice(([], ["hold"], ["tired"])),
            "because": "one way of two",
        }
    return parts


def _never_fires(parts: Parts, rng: Random) -> About:
    one, other = rng.sample(("jug", "edge", "sloper"), 2)
    parts.rules["planted"] = rule(f"hold is {one}", f"hold is {other}", then=["marks is red"])
    return ("planted",)


def _waits_for_nothing(parts: Parts, rng: Random) -> About:
    """What it reads is a value that no rule concludes: a dead end."""
    parts.facts["feel"] = choice("good", "bad", concluded=True)
    parts.rules["maker"] = rule("hold is jug", then=["feel is good"])
    parts.rules["planted"] = rule("feel is bad", then=["marks is red"])
    return ("planted",)


def _never_shown(parts: Parts, rng: Random) -> About:
    parts.rules["hold-back"] = rule("tired is yes", then=["not_allowed is jump"])
    parts.rules["planted"] = rule(
        "tired is yes", "hold is jug", suggest=suggest("Fly.", loads=["jump"])
    )
    return ("planted",)


def _dead_condition(parts: Parts, rng: Random) -> About:
    parts.facts["feel"] = choice("good", "bad", concluded=True)
    parts.rules["maker"] = rule("hold is jug", then=["feel is good"])
    ways = ["feel is bad", f"hold is {rng.choice(('edge', 'sloper'))}"]
    parts.rules["planted"] = rule({"any": ways}, then=["marks is red"])
    return "planted", "feel is bad"


def _needless(parts: Parts, rng: Random) -> About:
    needless = rng.choice(("hold is not edge", "hold is known", "hold is one of jug, sloper"))
    parts.rules["planted"] = rule("hold is jug", needless, then=["marks is red"])
    return "planted", needless


def _needless_way(parts: Parts, rng: Random) -> About:
    parts.rules["planted"] = rule(
        {"any": ["angle is at least 2", "angle is at least 3"]}, then=["marks is red"]
    )
    return "planted", "angle is at least 3"


def _pointless(parts: Parts, rng: Random) -> About:
    parts.rules["planted"] = rule("hold is jug", "tired is no", then=["marks is blue"])
    parts.rules["wider"] = rule("hold is one of jug, edge", then=["marks is blue", "marks is red"])
    return ("planted",)


def _same(parts: Parts, rng: Random) -> About:
    parts.rules["planted"] = rule("tired is no", "hold is one of edge, jug", then=["marks is blue"])
    parts.rules["planted-too"] = rule(
        {"any": ["hold is jug", "hold is edge"]}, "tired is no", then=["marks is blue"]
    )
    return ("planted",)


def _split(parts: Parts, rng: Random) -> About:
    for name, low in (("planted-a", "tired is yes"), ("planted-b", "tired is no")):
        parts.rules[name] = rule(low, "hold is jug", "angle is at least 1", then=["odd is yes"])
    parts.rules["planted-a"]["when"][0] = {"any": ["tired is yes", "tired is unknown"]}
    parts.rules["planted-b"]["when"][0] = {"any": ["tired is no", "tired is unknown"]}
    parts.facts["odd"] = yes_no(concluded=True)
    parts.rules["reads-odd"] = rule("odd is yes", suggest=suggest("Odd."))
    return "planted-a", "planted-b"


def _conflict(parts: Parts, rng: Random) -> About:
    parts.facts["odd"] = yes_no(concluded=True)
    parts.rules["planted"] = rule("hold is jug", then=["odd is yes"])
    parts.rules["planted-too"] = rule("angle is at least 2", then=["odd is no"])
    parts.rules["reads-odd"] = rule("odd is known", suggest=suggest("Odd."))
    return ("odd",)


def _broken_promise(parts: Parts, rng: Random) -> About:
    parts.properties["planted"] = {
        "when": ["angle is at least 3"], "never": ["jump"], "because": "it hurts",
    }  # fmt: skip
    parts.rules["fly"] = rule(
        "hold is sloper", suggest=suggest("Fly.", loads=["jump"]), safety=True
    )
    return ("planted",)


def _no_stop(parts: Parts, rng: Random) -> About:
    parts.properties["planted"] = {
        "when": ["angle is at least 1"], "stop": "emergency", "because": "it is urgent",
    }  # fmt: skip
    return ("planted/stop",)


def _contradiction(parts: Parts, rng: Random) -> About:
    parts.rules["up"] = rule("angle is at least 2", suggest=suggest("Up."), safety=True)
    parts.rules["down"] = rule("hold is jug", suggest=suggest("Down."), safety=True)
    parts.contradictions["planted"] = {"sides": [["up"], ["down"]], "because": "two ways"}
    return "up", "down"


def _empty_property(parts: Parts, rng: Random) -> About:
    parts.properties["planted"] = {
        "when": ["hold is jug", "hold is edge"], "never": ["jump"], "because": "-",
    }  # fmt: skip
    return ("planted",)


def _empty_side(parts: Parts, rng: Random) -> About:
    parts.contradictions["planted"] = {"sides": [["swing"], ["nobody"]], "because": "-"}
    return "planted", "nobody"


def _unread(parts: Parts, rng: Random) -> About:
    parts.facts["shoe"] = choice("soft", "stiff")
    parts.words["shoe"] = ("soft", "stiff")
    return ("shoe",)


def _missing(parts: Parts, rng: Random) -> About:
    parts.facts["shoe"] = choice("soft", "stiff", concluded=True)
    parts.rules["planted"] = rule({"any": ["shoe is soft", "hold is jug"]}, then=["marks is red"])
    return ("shoe",)


def _idle_value(parts: Parts, rng: Random) -> About:
    parts.facts["shoe"] = choice("soft", "stiff", "old", **asked())
    parts.rules["planted"] = rule("shoe is one of soft, stiff", then=["marks is red"])
    return ("shoe is old",)


def _idle_words(parts: Parts, rng: Random) -> About:
    about = _idle_value(parts, rng)
    parts.words["shoe"] = ("soft", "stiff", "old")
    return about


def _wordless(parts: Parts, rng: Random) -> About:
    parts.facts["shoe"] = choice("soft", "stiff")
    parts.words["shoe"] = ("soft",)
    parts.rules["planted"] = rule("shoe is not stiff", then=["marks is red"])
    return ("shoe is stiff",)


def _idle_conclusion(parts: Parts, rng: Random) -> About:
    parts.facts["feel"] = choice("good", "bad", concluded=True)
    parts.rules["maker"] = rule("hold is jug", then=["feel is good"])
    parts.rules["planted"] = rule("hold is edge", then=["feel is bad"])
    parts.rules["reads"] = rule("feel is good", suggest=suggest("Feel."))
    return ("feel is bad",)


def _idle_question(parts: Parts, rng: Random) -> About:
    """Its answer leads to something concluded from which nothing is said."""
    parts.facts["shoe"] = choice("soft", "stiff", **asked())
    parts.facts["feel"] = choice("good", "bad", concluded=True)
    parts.rules["planted"] = rule("shoe is soft", then=["feel is good"])
    parts.rules["further"] = rule("feel is good", "hold is jug", then=["odd is yes"])
    parts.facts["odd"] = yes_no(concluded=True)
    return ("shoe",)


def _never_asked(parts: Parts, rng: Random) -> About:
    parts.facts["shoe"] = yes_no(**asked(ask_when=["shoe is known"]))
    parts.rules["planted"] = rule("shoe is yes", suggest=suggest("Shoes."))
    return ("shoe",)


def _not_served(parts: Parts, rng: Random) -> About:
    parts.situations["S02"] = situation("two")
    return ("S02",)


def _thinly_served(parts: Parts, rng: Random) -> About:
    parts.situations["S02"] = situation("two")
    weakly = rng.random() < 0.5
    for name in ("planted", "planted-too")[: 2 if weakly else 1]:
        cue = suggest(f"Words of {name} alone.", strength=0.5 if weakly else 0.9)
        parts.rules[name] = rule("hold is jug", serves=["S02"], suggest=cue)
    return ("S02",)


def _unanswered(parts: Parts, rng: Random) -> About:
    parts.facts["trouble"]["values"]["stuck"] = {"say": "stuck"}
    parts.words["trouble"] = ("slips", "swings", "stuck")
    for spec in parts.rules.values():
        if "suggest" in spec or "reply" in spec:
            spec["when"].append("trouble is one of slips, swings")
    return ("trouble is stuck",)


def _late(parts: Parts, rng: Random) -> About:
    _unanswered(parts, rng)
    parts.facts["hold"]["ask_when"] = []
    parts.rules["asks"] = rule("trouble is stuck", "hold is jug", suggest=suggest("Jug."))
    return ("trouble is stuck",)


def _same_words(parts: Parts, rng: Random) -> About:
    cues = ("Push hard with both feet, then go.", "With both feet push hard, then go!")
    for name, cue in zip(("planted", "planted-too"), cues, strict=True):
        parts.rules[name] = rule("hold is jug", suggest=suggest(cue))
    return "planted", "planted-too"


def _circle(parts: Parts, rng: Random) -> About:
    parts.facts["feel"] = choice("good", "bad", concluded=True)
    parts.facts["odd"] = yes_no(concluded=True)
    parts.rules["planted"] = rule("feel is good", then=["odd is yes"])
    parts.rules["planted-too"] = rule("odd is known", "hold is jug", then=["feel is good"])
    return "planted", "planted-too"


FAULTS: tuple[tuple[str, Callable[[Parts, Random], About]], ...] = (
    ("never-fires", _never_fires),
    ("never-fires", _waits_for_nothing),
    ("never-shown", _never_shown),
    ("dead-condition", _dead_condition),
    ("needless-condition", _needless),
    ("needless-condition", _needless_way),
    ("pointless-rule", _pointless),
    ("same-rule", _same),
    ("split-rule", _split),
    ("conflict", _conflict),
    ("broken-promise", _broken_promise),
    ("broken-promise", _no_stop),
    ("contradiction", _contradiction),
    ("empty-promise", _empty_property),
    ("empty-promise", _empty_side),
    ("unread-fact", _unread),
    ("missing-fact", _missing),
    ("idle-value", _idle_value),
    ("idle-words", _idle_words),
    ("wordless-value", _wordless),
    ("idle-conclusion", _idle_conclusion),
    ("idle-question", _idle_question),
    ("idle-question", _never_asked),
    ("not-served", _not_served),
    ("thinly-served", _thinly_served),
    ("unanswered", _unanswered),
    ("late-advice", _late),
    ("same-words", _same_words),
    ("cannot-run", _circle),
)
