"""The audit of a rule book: every check run, accepted findings set aside with their reasons."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass

from coachbot.knowledge.book import ReadAccepted, RuleBook

from .cases import Cases
from .checks import CHECKS
from .findings import Audited, Check, Finding, Severity
from .proofs import conditions

STALE = "stale-acceptance"


@dataclass(frozen=True, slots=True)
class Proved:
    """How many claims of a kind were proved, of how many."""

    kind: str
    proved: int
    of: int


@dataclass(frozen=True, slots=True)
class Report:
    """What an audit found: open findings, worst first, and those that were accepted.

    ``left_out`` are rules that the exact checks could not look at, because they cannot run.
    """

    rules: int
    checks: tuple[str, ...]
    findings: tuple[Finding, ...]
    accepted: tuple[tuple[Finding, ReadAccepted], ...]
    proved: tuple[Proved, ...]
    left_out: tuple[str, ...]

    def of(self, severity: Severity) -> tuple[Finding, ...]:
        return tuple(f for f in self.findings if f.severity is severity)


def audit(
    book: RuleBook, only: Collection[str] = (), tell: Callable[[str], None] = lambda _: None
) -> Report:
    """Run every check; with ``only``, on these rules alone and on what they bear on."""
    tell(f"taking {len(book.rules)} rules over into the solver")
    cases = Cases(book, conditions(book))
    audited = Audited(book, cases, frozenset(only), tell)
    chosen = [check for check in CHECKS if not (only and check.whole)]
    found: list[Finding] = []
    for number, check in enumerate(chosen, 1):
        tell(f"check {number} of {len(chosen)}: {check.name}")
        found += check.run(audited)
    opened, accepted, used = _sorted_out(found, book.accepted)
    if not only:
        opened += _stale(book.accepted, used)
    rank = list(Severity)
    opened.sort(key=lambda f: rank.index(f.severity))
    proved = tuple(
        Proved(kind, sum(p.proved for p in proofs), len(proofs))
        for kind, proofs in audited.claims.items()
    )
    return Report(
        len(only) or len(book.rules),
        tuple(check.name for check in chosen),
        tuple(opened),
        tuple(accepted),
        proved,
        cases.left_out,
    )


def _sorted_out(
    found: Sequence[Finding], accepted: Sequence[ReadAccepted]
) -> tuple[list[Finding], list[tuple[Finding, ReadAccepted]], set[int]]:
    opened: list[Finding] = []
    aside: list[tuple[Finding, ReadAccepted]] = []
    used: set[int] = set()
    for finding in found:
        fits = [i for i, each in enumerate(accepted) if _accepts(each, finding)]
        used.update(fits)
        if fits:
            aside.append((finding, accepted[fits[0]]))
        else:
            opened.append(finding)
    return opened, aside, used


def _accepts(read: ReadAccepted, finding: Finding) -> bool:
    names = read.accepted.names
    return read.accepted.check == finding.check and (
        names == frozenset(finding.about) or names == frozenset([finding.within])
    )


def _stale(accepted: Sequence[ReadAccepted], used: set[int]) -> list[Finding]:
    known = {check.name for check in CHECKS}
    found = []
    for i, read in enumerate(accepted):
        entry = read.accepted
        if i in used:
            continue
        about = " and ".join(sorted(entry.names))
        why = (
            f"the audit finds no such thing about {about} any more"
            if entry.check in known
            else f'there is no check "{entry.check}"'
        )
        found.append(
            Finding(
                STALE, Severity.DOUBTFUL, tuple(sorted(entry.names)), read.place,
                f'the accepted finding "{entry.check}" does not apply: {why}.',
                "Take the entry out.",
            )
        )  # fmt: skip
    return found


def all_checks() -> tuple[Check, ...]:
    """Every check, with the one for acceptances that no longer apply."""
    stale = Check(
        STALE, Severity.DOUBTFUL, "does each accepted finding of audit.yaml still apply?", True,
        lambda _: iter(()), whole=True,
    )  # fmt: skip
    return (*CHECKS, stale)
