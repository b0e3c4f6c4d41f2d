"""What was promised: safety, advice that does not contradict itself, one value for one fact."""

from __future__ import annotations

from collections.abc import Iterator

from coachbot.engine.check import check
from coachbot.knowledge.book import Place
from coachbot.review.findings import Audited, Check, Finding, Severity
from coachbot.review.proofs import CONFLICT, CONTRADICTION, SAFETY, Proof


def cannot_run(audited: Audited) -> Iterator[Finding]:
    """Circles, sure clashes and conditions that the engine cannot run."""
    rules = [e for rule in audited.book.rules.values() for e in rule.for_engine()]
    for problem in check(rules, audited.book.single_valued)[0]:
        named = [r for r in audited.book.rules if f"'{r}'" in problem or f"'{r}@" in problem]
        if not audited.looks_at(*named):
            continue
        places = [audited.places.rule(rule) for rule in named]
        yield Finding(
            "cannot-run", Severity.WRONG, tuple(named), places[0] if places else Place("rules", 1),
            problem, "Nothing starts before this is mended.", also=tuple(places[1:]),
        )  # fmt: skip


def broken_promise(audited: Audited) -> Iterator[Finding]:
    for proof in audited.claims[SAFETY]:
        yield from _refuted("broken-promise", proof, "Let a safety rule hold it back or stop.")


def contradiction(audited: Audited) -> Iterator[Finding]:
    for proof in audited.claims[CONTRADICTION]:
        yield from _refuted(
            "contradiction", proof, "Give one of them a condition that tells the cases apart."
        )


def conflict(audited: Audited) -> Iterator[Finding]:
    for proof in audited.claims[CONFLICT]:
        yield from _refuted(
            "conflict", proof, "Make their conditions exclude each other, or their values agree."
        )


def empty_promise(audited: Audited) -> Iterator[Finding]:
    """Promises about no case, and sides of a contradiction that name nothing."""
    for proof in audited.claims[SAFETY]:
        if proof.vacuous:
            yield Finding(
                "empty-promise", Severity.DOUBTFUL, (proof.name,), proof.place,
                f'"{proof.name}" speaks of cases that cannot be, so that it promises nothing.',
                "Mend its conditions.",
            )  # fmt: skip
    book = audited.book
    for read in book.contradictions.values():
        for side in read.contradiction.sides:
            for name in side:
                if not audited.cases.side([name]):
                    yield Finding(
                        "empty-promise", Severity.DOUBTFUL, (read.name, name), read.place,
                        f'"{read.name}" names "{name}", which is no rule that advises, and no '
                        "skill that comes first in one.",
                        "Name the rule that is meant, or take it out.",
                    )  # fmt: skip
        for fact in read.contradiction.decided_by:
            if fact not in book.facts:
                yield Finding(
                    "empty-promise", Severity.DOUBTFUL, (read.name, fact), read.place,
                    f'"{read.name}" is decided by "{fact}", which is no fact.',
                    "Name a fact of the vocabulary.",
                )  # fmt: skip


def _refuted(check: str, proof: Proof, repair: str) -> Iterator[Finding]:
    if proof.proved or proof.vacuous:
        return
    about = (proof.name,) if proof.kind == SAFETY else proof.rules
    yield Finding(
        check, Severity.WRONG, about, proof.place,
        f"{proof.wrong}, though {proof.because}." if proof.kind != CONFLICT else f"{proof.wrong}.",
        repair, proof.case,
    )  # fmt: skip


CHECKS = (
    Check(
        "cannot-run", Severity.WRONG,
        "do rules wait for each other in a circle, or clash for sure?", True, cannot_run,
    ),
    Check(
        "broken-promise", Severity.WRONG,
        "does every safety property of safety.yaml hold in every case?", True, broken_promise,
    ),
    Check(
        "contradiction", Severity.WRONG,
        "is advice shown together that contradicts itself (contradictions.yaml)?", True,
        contradiction,
    ),
    Check(
        "conflict", Severity.WRONG,
        "do two rules conclude different values of one fact in some case?", True, conflict,
    ),
    Check(
        "empty-promise", Severity.DOUBTFUL,
        "does a property or contradiction speak of nothing?", True, empty_promise, whole=True,
    ),
)  # fmt: skip
