"""What is missing: situations without enough advice, and cases that get none.

Missing rules are found as combinations of values that no rule covers (Suwa, Scott and
Shortliffe, AI Magazine 3(4), 16-21, 1982).
"""

from __future__ import annotations

from collections.abc import Iterator

from coachbot.engine.model import Op, Test
from coachbot.review.cases import ToldCase
from coachbot.review.findings import Audited, Check, Finding, Severity
from coachbot.review.situation_map import WEAK, Served, situation_map

TROUBLE = "trouble"
# Cases told for one trouble, smallest first.
MOST_CASES = 2


def not_served(audited: Audited) -> Iterator[Finding]:
    for row in situation_map(audited.book).with_state(Served.NOT):
        yield Finding(
            "not-served", Severity.WRONG, (row.id,), audited.places.situation(row.id),
            f"{row.id} ({row.situation}) is served by no rule.",
            f"Write two rules for it. Aim: {row.aim}.",
        )  # fmt: skip


def thinly_served(audited: Audited) -> Iterator[Finding]:
    for row in situation_map(audited.book).with_state(Served.ONCE, Served.WEAKLY):
        names = ", ".join(r.rule for r in row.rules)
        yield Finding(
            "thinly-served", Severity.DOUBTFUL, (row.id,), audited.places.situation(row.id),
            f"{row.id} ({row.situation}) has {row.served.value}: {names}.",
            f"Write another way for it. Aim: {row.aim}.",
            also=tuple(audited.places.rule(r.rule) for r in row.rules),
        )  # fmt: skip


def unanswered(audited: Audited) -> Iterator[Finding]:
    """Cases with a trouble that get no advice and no question, smallest first."""
    solver = audited.cases.solver
    quiet = (-_advice(audited), -_open_question(audited))
    found: list[tuple[str, ToldCase]] = []
    for value in _troubles(audited):
        blocked: list[int] = []
        while len(blocked) < MOST_CASES:
            case = audited.cases.smallest(solver.said(TROUBLE, value), *quiet, *blocked)
            if case is None:
                break
            found.append((value, case))
            facts = [name for name in (*case.case.said, *case.case.denied) if name != TROUBLE]
            if not facts:
                break  # every larger case holds this one
            # The next one talks about other facts.
            blocked.append(-solver.all_of(_spoken_of(audited, name) for name in facts))
    for value, case in sorted(found, key=lambda f: f[1].size):
        yield Finding(
            "unanswered", Severity.DOUBTFUL, (f"{TROUBLE} is {value}",),
            audited.places.fact(TROUBLE, value),
            f'"{TROUBLE} is {value}" can get neither advice nor a question.',
            "Widen a rule, or write one for this case.", case, within=TROUBLE,
        )  # fmt: skip


def late_advice(audited: Audited) -> Iterator[Finding]:
    """Troubles that alone get a question but no advice."""
    solver = audited.cases.solver
    for value in _troubles(audited):
        alone = [
            -n
            for name, domain in audited.cases.space.items()
            for v in domain.values
            if (n := solver.said(name, v)) != solver.said(TROUBLE, value)
        ]
        if solver.possible(
            solver.said(TROUBLE, value), -_advice(audited), _open_question(audited), *alone
        ):
            yield Finding(
                "late-advice", Severity.UNTIDY, (f"{TROUBLE} is {value}",),
                audited.places.fact(TROUBLE, value),
                f'"{TROUBLE} is {value}" alone gets a question but no advice.',
                "Write a suggestion that helps before the answer is known.", within=TROUBLE,
            )  # fmt: skip


def _troubles(audited: Audited) -> tuple[str, ...]:
    fact = audited.book.facts.get(TROUBLE)
    return tuple(fact.values) if fact else ()


def _advice(audited: Audited) -> int:
    """Holds when something is suggested, held back for safety, or answered."""
    return audited.cases.solver.any_of(
        audited.cases.fired(rule.id)
        for rule in audited.book.rules.values()
        if rule.rule.suggest or rule.rule.reply
    )


def _open_question(audited: Audited) -> int:
    """Holds when there is something to ask that was not talked about yet."""
    solver, cases = audited.cases.solver, audited.cases
    return solver.any_of(
        solver.all_of(
            [
                cases.asking(name),
                solver.literal(Test(name, Op.UNKNOWN)),
                *(-solver.denied(name, v) for v in cases.space[name].deniable),
            ]
        )
        for name, fact in audited.book.facts.items()
        if fact.asked and name != TROUBLE
    )


def _spoken_of(audited: Audited, name: str) -> int:
    """Holds when a value of the fact was said or denied."""
    solver, domain = audited.cases.solver, audited.cases.space[name]
    return solver.any_of(
        [*(solver.said(name, v) for v in domain.values),
         *(solver.denied(name, v) for v in domain.deniable)]
    )  # fmt: skip


CHECKS = (
    Check(
        "not-served", Severity.WRONG, "is each situation served by a rule?", True, not_served,
        whole=True,
    ),
    Check(
        "thinly-served", Severity.DOUBTFUL,
        f"has each situation a second way, and one stronger than {WEAK}?", True, thinly_served,
        whole=True,
    ),
    Check(
        "unanswered", Severity.DOUBTFUL,
        "is there advice or a question in every case with a trouble?", True, unanswered, whole=True,
    ),
    Check(
        "late-advice", Severity.UNTIDY,
        "is there advice for each trouble before anything is asked?", True, late_advice, whole=True,
    ),
)  # fmt: skip
