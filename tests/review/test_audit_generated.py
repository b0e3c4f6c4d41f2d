"""200 rule sets with a planted fault each: every fault is found, and nothing false is claimed.

The second opinion goes through every case of the small vocabulary. The kinds of fault are those
of the literature on verifying rule bases, cited from memory: Suwa, Scott and Shortliffe, "An
approach to verifying completeness and consistency in a rule-based expert system", AI Magazine
3(4), 1982 (conflict, redundancy, subsumption, missing rules); Nguyen, Perkins, Laffey and Pecora,
"Knowledge base verification", AI Magazine 8(2), 1987 (unnecessary conditions, circular rules,
unreferenced values, unreachable conclusions, dead ends); Preece and Shinghal, "Foundation and
application of knowledge base verification", International Journal of Intelligent Systems 9(8),
1994 (redundancy, ambivalence, circularity, deficiency).
"""

from __future__ import annotations

from random import Random

import pytest

from coachbot.review.audit import Report, audit
from coachbot.review.findings import Finding
from tests.review.planted_faults import FAULTS, random_parts
from tests.review.second_opinion import SecondOpinion

SETS = 200


@pytest.mark.parametrize("seed", range(SETS))
def test_the_planted_fault_is_found_and_nothing_false_is_claimed(seed: int) -> None:
    rng = Random(seed)
    parts = random_parts(rng)
    check, plant = FAULTS[seed % len(FAULTS)]
    about = plant(parts, rng)
    book = parts.book()
    report = audit(book)
    if check == "cannot-run":
        circles = [f for f in report.findings if f.check == check and set(f.about) >= set(about)]
        assert circles
        assert set(about) <= set(report.left_out)
        return
    opinion = SecondOpinion(book)
    assert not report.left_out
    assert_planted(report, check, about)
    assert_agreed(report, opinion)
    assert_smallest(report, opinion)


def test_every_kind_of_fault_is_planted_several_times() -> None:
    checks = [FAULTS[seed % len(FAULTS)][0] for seed in range(SETS)]
    assert min(checks.count(check) for check in dict(FAULTS)) >= 6


def assert_planted(report: Report, check: str, about: tuple[str, ...]) -> None:
    found = [f for f in report.findings if f.check == check]
    if check == "conflict":
        assert any(f.message.endswith(f"different values of {about[0]}.") for f in found)
    elif check in {"pointless-rule", "same-rule"}:
        kinds = {"pointless-rule", "same-rule"}
        assert any(about[0] in f.about for f in report.findings if f.check in kinds)
    else:
        assert any(f.about == about for f in found), [f.about for f in found]


def assert_agreed(report: Report, opinion: SecondOpinion) -> None:
    """Exact kinds: exactly what going through every case finds."""
    for check, abouts in opinion.found().items():
        assert {f.about for f in report.findings if f.check == check} == abouts, check
    assert {_fact(f) for f in _of(report, "conflict")} == set(opinion.conflicts())
    # Of rules that are redundant because of each other one may stand for all.
    redundant = opinion.redundant()
    told = {f.about[0] for f in report.findings if f.check in {"pointless-rule", "same-rule"}}
    assert told <= redundant.keys()
    for rule, same in redundant.items():
        assert rule in told or same & told
    for finding in _of(report, "same-rule"):
        assert finding.about[1] in redundant[finding.about[0]]
    idle = {f.about[0] for f in _of(report, "idle-question") if "never asked" in f.message}
    assert idle <= opinion.never_asked()
    for name in opinion.never_asked() - idle:
        assert any(f.about == (name,) for f in _of(report, "idle-question"))


def assert_smallest(report: Report, opinion: SecondOpinion) -> None:
    """Each told case is one, and none is smaller."""
    table = opinion.table
    promises, opposed = dict(opinion.promises()), dict(opinion.contradictions())
    quiet = dict(opinion.unanswered())
    told_before: set[tuple[str, ...]] = set()
    for finding in report.findings:
        if finding.case is None:
            continue
        if finding.check == "broken-promise":
            where = promises[finding.about[0]]
        elif finding.check == "contradiction":
            where = opposed[finding.about[0], finding.about[1]]
        elif finding.check == "conflict":
            where = opinion.conflicts()[_fact(finding)]
        else:
            assert finding.check == "unanswered"
            where = quiet[finding.about[0].removeprefix("trouble is ")]
        assert table.only(finding.case.case) & where
        if finding.check != "unanswered" or finding.about not in told_before:
            assert finding.case.size == table.smallest(where)
        told_before.add(finding.about)


def _of(report: Report, check: str) -> list[Finding]:
    return [f for f in report.findings if f.check == check]


def _fact(finding: Finding) -> str:
    return finding.message.rpartition(" of ")[2].rstrip(".")
