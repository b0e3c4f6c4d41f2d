"""The audit on rule sets worked by hand, one for each kind of finding, and how it is told.

The kinds are those of the literature on verifying rule bases, cited from memory:

* Suwa, Scott and Shortliffe, "An approach to verifying completeness and consistency in a
  rule-based expert system", AI Magazine 3(4), 1982: conflict, redundancy, subsumption, missing
  rules (combinations of values that no rule covers).
* Nguyen, Perkins, Laffey and Pecora, "Knowledge base verification", AI Magazine 8(2), 1987:
  redundant, conflicting, subsumed and circular rules, unnecessary conditions; unreferenced
  attribute values, unreachable conclusions, dead-end conditions.
* Preece and Shinghal, "Foundation and application of knowledge base verification",
  International Journal of Intelligent Systems 9(8), 1994: redundancy, ambivalence, circularity,
  deficiency.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any as Anything

import pytest

from coachbot.knowledge.book import load
from coachbot.review.audit import STALE, Report, all_checks, audit
from coachbot.review.findings import Finding, Severity
from tests.review.small import (
    asked,
    choice,
    rule,
    several,
    situation,
    suggest,
    write_folder,
    yes_no,
)

FACTS = {
    "trouble": choice("slips", "swings"),
    "hold": choice("jug", "edge", "sloper", **asked(question="Which hold?")),
    "tired": yes_no(say_no="the climber is fresh", **asked(question="Tired?")),
    "means": choice("weak", "far", concluded=True),
    "not_allowed": several("climbing", "jump", concluded=True),
}
WORDS = {
    "trouble": {"slips": ["slips off"], "swings": ["swings out"]},
    "hold": {"jug": ["jug"], "edge": ["edge"], "sloper": ["sloper"]},
}
READS = rule("means is weak", suggest=suggest("Rest a while before the next go."))
READS_FAR = rule("means is far", suggest=suggest("Step the feet up first."))


def audited(tmp_path: Path, rules: dict[str, Anything], **more: Anything) -> Report:
    facts = more.pop("facts", FACTS)
    words = more.pop("words", WORDS)
    return audit(load(write_folder(tmp_path / "saltmarsh", facts, rules, words, **more)))


def only(report: Report, check: str) -> Finding:
    (finding,) = (f for f in report.findings if f.check == check)
    return finding


def test_unreachable_a_rule_whose_conditions_exclude_each_other(tmp_path: Path) -> None:
    rules = {"odd": rule("tired is yes", "hold is jug", "hold is edge", suggest=suggest("Go."))}
    finding = only(audited(tmp_path, rules), "never-fires")
    assert finding.severity is Severity.WRONG
    assert '"hold is jug" and "hold is edge" never hold together' in finding.message
    assert finding.place.path == "saltmarsh/feet/odd.yaml"


def test_unreachable_a_value_that_nothing_concludes(tmp_path: Path) -> None:
    rules = {"weak": READS, "makes": rule("tired is yes", then=["means is far"])}
    finding = only(audited(tmp_path, rules), "never-fires")
    assert finding.about == ("weak",)
    assert '"means is weak" holds in no case' in finding.message


def test_unnecessary_a_condition_that_is_always_true_where_it_stands(tmp_path: Path) -> None:
    rules = {"a": rule("hold is jug", "hold is not edge", suggest=suggest("Go."))}
    finding = only(audited(tmp_path, rules), "needless-condition")
    assert finding.about == ("a", "hold is not edge")
    assert "fires in the same cases without it" in finding.message
    text = (tmp_path / "saltmarsh" / "feet" / "a.yaml").read_text("utf-8").splitlines()
    assert "hold is not edge" in text[finding.place.line - 1]


def test_a_condition_that_another_rule_already_implies_is_unnecessary(tmp_path: Path) -> None:
    """Found across rules: what makes "weak" asks for a tired climber."""
    rules = {
        "makes": rule("tired is yes", "hold is jug", then=["means is weak"]),
        "a": rule("means is weak", "tired is yes", suggest=suggest("Go.")),
    }
    assert only(audited(tmp_path, rules), "needless-condition").about == ("a", "tired is yes")


def test_dead_end_an_alternative_that_holds_in_no_case(tmp_path: Path) -> None:
    ways = {"any": ["means is far", "hold is jug"]}
    rules = {"a": rule(ways, suggest=suggest("Go.")), "weak": READS,
             "makes": rule("tired is yes", then=["means is weak"])}  # fmt: skip
    finding = only(audited(tmp_path, rules), "dead-condition")
    assert finding.about == ("a", "means is far")


def test_subsumed_a_rule_that_concludes_nothing_of_its_own(tmp_path: Path) -> None:
    rules = {
        "wide": rule("hold is one of jug, edge", then=["means is weak"]),
        "narrow": rule("hold is jug", "tired is yes", then=["means is weak"]),
        "weak": READS,
    }
    finding = only(audited(tmp_path, rules), "pointless-rule")
    assert finding.about == ("narrow", "wide")
    assert finding.message.startswith("narrow is pointless: wide fires in all its cases")


def test_redundant_two_rules_that_say_the_same_in_other_words(tmp_path: Path) -> None:
    rules = {
        "one": rule("hold is one of jug, edge", "tired is yes", then=["means is weak"]),
        "two": rule(
            "tired is yes", {"any": ["hold is edge", "hold is jug"]}, then=["means is weak"]
        ),
        "weak": READS,
    }
    finding = only(audited(tmp_path, rules), "same-rule")
    assert finding.about == ("one", "two")
    assert [p.path for p in finding.also] == ["saltmarsh/feet/two.yaml"]


def test_two_rules_that_part_on_a_condition_neither_needs(tmp_path: Path) -> None:
    rules = {
        "yes": rule("tired is yes", "hold is jug", then=["means is weak"]),
        "other": rule("tired is not yes", "hold is jug", then=["means is weak"]),
        "unsaid": rule("tired is unknown", "hold is jug", then=["means is weak"]),
        "weak": READS,
    }
    found = audited(tmp_path, rules).findings
    assert not [f for f in found if f.check == "split-rule"]  # three parts, no two of which do
    rules["other"]["when"][0] = {"any": ["tired is not yes", "tired is unknown"]}
    del rules["unsaid"]
    finding = only(audited(tmp_path / "again", rules), "split-rule")
    assert set(finding.about) == {"yes", "other"}


def test_conflict_two_values_in_one_case_with_the_smallest_case_in_words(tmp_path: Path) -> None:
    rules = {
        "a": rule("hold is jug", then=["means is weak"]),
        "b": rule(
            "tired is no", {"any": ["trouble is slips", "hold is jug"]}, then=["means is far"]
        ),
        "weak": READS,
        "far": READS_FAR,
    }
    finding = only(audited(tmp_path, rules), "conflict")
    assert finding.about == ("a", "b")
    assert finding.case is not None
    assert finding.case.written == ("hold is jug", "tired is no")
    assert "the climber is fresh" in str(finding.case)


def test_circular_rules(tmp_path: Path) -> None:
    facts = {**FACTS, "odd": yes_no(concluded=True)}
    rules = {
        "a": rule("odd is yes", then=["means is weak"]),
        "b": rule("means is weak", then=["odd is yes"]),
        "c": rule("hold is jug", suggest=suggest("Go.")),
    }
    report = audited(tmp_path, rules, facts=facts)
    finding = only(report, "cannot-run")
    assert set(finding.about) == {"a", "b"}
    assert "in a circle" in finding.message
    assert set(report.left_out) == {"a", "b"}
    assert "never-fires" not in {f.check for f in report.findings}


def test_contradicting_advice_with_the_smallest_case(tmp_path: Path) -> None:
    rules = {
        "up": rule("trouble is slips", suggest=suggest("Push up.", ["feet"])),
        "down": rule("hold is sloper", suggest=suggest("Hang low.", ["grip"])),
    }
    sides = {"low-or-high": {"sides": [["up"], ["grip"]], "because": "one way of two"}}
    finding = only(audited(tmp_path, rules, contradictions=sides), "contradiction")
    assert finding.about == ("up", "down")
    assert finding.case is not None
    assert sorted(finding.case.written) == ["hold is sloper", "trouble is slips"]
    sides["low-or-high"]["decided_by"] = ["tired"]
    finding = only(audited(tmp_path / "asked", rules, contradictions=sides), "contradiction")
    assert finding.case is not None
    assert finding.case.size == 3  # only once the deciding fact is known


def test_a_safety_property_refuted_with_its_case(tmp_path: Path) -> None:
    rules = {
        "leap": rule("trouble is swings", suggest=suggest("Leap.", loads=["jump"])),
        "back": rule("tired is yes", "hold is jug", then=["not_allowed is jump"]),
    }
    safety = {"tired-do-not-jump": {"when": ["tired is yes"], "never": ["jump"], "because": "-"}}
    report = audited(tmp_path, rules, safety=safety)
    finding = only(report, "broken-promise")
    assert finding.case is not None
    assert finding.case.written == ("trouble is swings", "tired is yes")
    assert "leap (jump)" in finding.message
    rules["back"]["when"] = ["tired is yes"]
    report = audited(tmp_path / "mended", rules, safety=safety)
    assert not [f for f in report.findings if f.check == "broken-promise"]
    assert ("safety", 1, 1) in [(p.kind, p.proved, p.of) for p in report.proved]


def test_a_property_about_no_case_promises_nothing(tmp_path: Path) -> None:
    safety = {"never": {"when": ["hold is jug", "hold is edge"], "never": ["jump"], "because": "-"}}
    rules = {"a": rule("hold is jug", suggest=suggest("Go."))}
    assert only(audited(tmp_path, rules, safety=safety), "empty-promise").about == ("never",)


def test_facts_that_nothing_asks_reads_or_concludes(tmp_path: Path) -> None:
    facts = {
        **FACTS,
        "shoe": choice("soft", "stiff", **asked(question="Which shoe?")),
        "mood": choice("good", "bad"),
    }
    rules = {
        "a": rule("mood is good", suggest=suggest("Go.")),
        "weak": READS,
        "makes": rule("tired is yes", then=["means is weak"]),
    }
    report = audited(tmp_path, rules, facts=facts)
    assert ("mood",) in {f.about for f in report.findings if f.check == "missing-fact"}
    unread = {f.about: f for f in report.findings if f.check == "unread-fact"}
    assert "though it is asked" in unread[("shoe",)].message
    assert unread[("shoe",)].place.path == "saltmarsh/vocabulary/all.yaml"
    assert ("shoe",) in {f.about for f in report.findings if f.check == "idle-question"}


def test_values_that_no_rule_uses(tmp_path: Path) -> None:
    facts = {**FACTS, "shoe": choice("soft", "stiff", "old", "new", **asked(question="Which?"))}
    words = {**WORDS, "shoe": {"soft": ["soft shoe"], "old": ["old shoe", "worn shoe"]}}
    rules = {"a": rule("shoe is one of soft, stiff", suggest=suggest("Go."))}
    report = audited(tmp_path, rules, facts=facts, words=words)
    idle = [f for f in report.findings if f.check == "idle-value" and f.within == "shoe"]
    assert [f.about for f in idle] == [("shoe is new",)]
    (read,) = [f for f in report.findings if f.check == "idle-words" and f.within == "shoe"]
    assert read.about == ("shoe is old",)
    assert "from 2 phrases" in read.message
    assert read.place.path == "saltmarsh/words/all.yaml"


def test_a_conclusion_that_nothing_reads(tmp_path: Path) -> None:
    rules = {"weak": READS, "a": rule("hold is jug", then=["means is weak"]),
             "b": rule("hold is edge", then=["means is far"])}  # fmt: skip
    assert only(audited(tmp_path, rules), "idle-conclusion").about == ("means is far",)


def test_a_question_that_can_never_matter(tmp_path: Path) -> None:
    facts = {**FACTS, "shoe": yes_no(**asked(question="Shoes?", ask_when=["shoe is known"]))}
    rules = {"a": rule("shoe is yes", suggest=suggest("Go."))}
    report = audited(tmp_path, rules, facts=facts)
    told = {f.about[0]: f.message for f in report.findings if f.check == "idle-question"}
    assert "never asked" in told["shoe"]
    assert "no answer changes any advice" in told["tired"]


@pytest.mark.parametrize(
    ("strengths", "check", "told"),
    [
        ([], "not-served", "is served by no rule"),
        ([0.9], "thinly-served", "one suggestion only"),
        ([0.4, 0.4], "thinly-served", "only weak advice"),
        ([0.9, 0.4], None, ""),
    ],
)
def test_situations_with_no_advice_one_or_weak(
    tmp_path: Path, strengths: list[float], check: str | None, told: str
) -> None:
    cues = ["Push with the feet.", "Look where the hand goes."]
    rules = {
        f"r{i}": rule("hold is jug", serves=["S02"], suggest=suggest(cues[i], strength=s, sure=0.9))
        for i, s in enumerate(strengths)
    }
    rules |= {
        f"s{i}": rule("hold is edge", suggest=suggest(f"Cue {i} of the edge.")) for i in (1, 2)
    }
    both = {"S01": situation("an edge"), "S02": situation("a jug")}
    report = audited(tmp_path, rules, situations=both)
    found = [f for f in report.findings if f.check in {"not-served", "thinly-served"}]
    assert [f.check for f in found] == ([check] if check else [])
    if found:
        assert found[0].about == ("S02",)
        assert told in found[0].message
        assert found[0].place.path == "saltmarsh/situations.yaml"


def test_missing_rules_the_smallest_cases_without_advice(tmp_path: Path) -> None:
    facts = {
        **FACTS,
        "hold": choice("jug", "edge", "sloper", **asked(question="Which hold?")),
        "tired": yes_no(),
    }
    rules = {
        "a": rule("trouble is slips", suggest=suggest("Push.")),
        "b": rule("trouble is swings", "hold is one of jug, edge", suggest=suggest("Hold.")),
    }
    report = audited(tmp_path, rules, facts=facts)
    finding = only(report, "unanswered")
    assert finding.case is not None
    assert finding.case.written == ("trouble is swings", "hold is sloper")
    assert only(report, "late-advice").about == ("trouble is swings",)


def test_a_suggestion_that_is_always_held_back(tmp_path: Path) -> None:
    rules = {
        "back": rule("tired is yes", then=["not_allowed is jump"]),
        "leap": rule("tired is yes", "hold is jug", suggest=suggest("Leap.", loads=["jump"])),
    }
    assert only(audited(tmp_path, rules), "never-shown").about == ("leap",)


def test_cues_that_say_the_same(tmp_path: Path) -> None:
    rules = {
        "a": rule("hold is jug", suggest=suggest("Push with both feet, then go.")),
        "b": rule("hold is edge", suggest=suggest("With both feet push; then go!")),
        "c": rule("hold is sloper", suggest=suggest("Hang low under it.")),
    }
    assert only(audited(tmp_path, rules), "same-words").about == ("a", "b")


def test_a_value_that_no_words_mean(tmp_path: Path) -> None:
    facts = {**FACTS, "shoe": choice("soft", "stiff")}
    words = {**WORDS, "shoe": {"soft": ["soft shoe"]}}
    rules = {"a": rule("shoe is stiff", suggest=suggest("Go.")),
             "b": rule("shoe is soft", suggest=suggest("Wait."))}  # fmt: skip
    report = audited(tmp_path, rules, facts=facts, words=words)
    assert only(report, "wordless-value").about == ("shoe is stiff",)


def test_an_accepted_finding_is_set_aside_with_its_reason(tmp_path: Path) -> None:
    rules = {"weak": READS, "a": rule("hold is jug", then=["means is weak"]),
             "b": rule("hold is edge", then=["means is far"])}  # fmt: skip
    accepted = [
        {"check": "idle-conclusion", "about": "means is far", "reason": "kept for later",
         "date": "2026-11-02"},
        {"check": "same-words", "about": ["a", "b"], "reason": "mirrored", "date": "2026-11-02"},
        {"check": "no-such-check", "about": "a", "reason": "-", "date": "2026-11-02"},
    ]  # fmt: skip
    report = audited(tmp_path, rules, audit=accepted)
    ((finding, entry),) = report.accepted
    assert finding.about == ("means is far",)
    assert entry.accepted.reason == "kept for later"
    assert "idle-conclusion" not in {f.check for f in report.findings}
    stale = [f for f in report.findings if f.check == STALE]
    assert ["no such thing" in f.message for f in stale] == [True, False]
    assert 'no check "no-such-check"' in stale[1].message
    assert stale[0].place.path == "saltmarsh/audit.yaml"


def test_one_entry_accepts_all_values_of_a_fact(tmp_path: Path) -> None:
    facts = {**FACTS, "shoe": choice("soft", "stiff", "old", "new", **asked(question="Which?"))}
    rules = {"a": rule("shoe is one of soft, stiff", suggest=suggest("Go."))}
    entry = {"check": "idle-value", "about": "shoe", "reason": "-", "date": "2026-11-02"}
    report = audited(tmp_path, rules, facts=facts, audit=[entry])
    assert {f.about for f, _ in report.accepted} == {("shoe is old",), ("shoe is new",)}
    assert not [f for f in report.findings if f.within == "shoe"]


def test_with_only_some_rules_the_checks_of_the_whole_are_left_out(tmp_path: Path) -> None:
    rules = {
        "a": rule("hold is jug", "hold is not edge", suggest=suggest("Go.")),
        "b": rule("hold is edge", "hold is not jug", suggest=suggest("Wait here.")),
    }
    book = load(write_folder(tmp_path / "saltmarsh", FACTS, rules, WORDS))
    report = audit(book, ["b"])
    assert report.rules == 1
    assert {f.about for f in report.findings} == {("b", "hold is not jug")}
    whole = {c.name for c in all_checks() if c.whole}
    assert whole.isdisjoint(report.checks)


def test_a_rule_set_without_faults_has_no_findings(tmp_path: Path) -> None:
    """The same set in which the other tests plant their faults."""
    facts = {
        "trouble": choice("slips", "swings"),
        "hold": choice("jug", "edge", **asked(question="Which hold?")),
        "means": choice("weak", "far", concluded=True),
    }
    words = {"trouble": WORDS["trouble"]}
    rules = {
        "a": rule("hold is jug", then=["means is weak"]),
        "b": rule("hold is edge", then=["means is far"]),
        "weak": READS,
        "far": READS_FAR,
        "slips": rule("trouble is slips", suggest=suggest("Press the toe down hard.")),
        "swings": rule("trouble is swings", suggest=suggest("Look at the hold and breathe.")),
    }
    assert audited(tmp_path, rules, facts=facts, words=words).findings == ()
