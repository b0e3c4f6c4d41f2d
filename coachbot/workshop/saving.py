"""A draft made ready to save: its files, its near misses, its test, tried on a copy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.model import RuleCheck
from coachbot.review.rule_tests import Report, run

from .drafting import Draft, Given, practice_of, rule_text, test_text
from .folder import OwnFolder
from .near_misses import Proposal, propose
from .trying import as_if


@dataclass(frozen=True, slots=True)
class Ready:
    """A draft with its cases, the book with it in, and how its test comes out."""

    draft: Draft
    files: dict[str, str | None]
    proposal: Proposal
    after: RuleBook
    tests: dict[str, RuleCheck]
    report: Report


def make_ready(
    below: Sequence[Path], own: OwnFolder, draft: Draft, on: date, without: Sequence[Given] = ()
) -> Ready:
    """Find the near misses of a draft and test it on a copy of the own folder.

    ``without`` are near misses that the coach does not want. Raises BrokenRules when the
    rule book would not be sound with it.
    """
    bare = replace(draft, fires=draft.fires[:1], silent=())
    with as_if(below, own, {draft.file: rule_text(draft, on)}) as (book, _):
        proposal = propose(book, book.rules[draft.id], bare.fires)
        cases = [c for c in proposal.cases if c.given not in without]
        whole = replace(
            bare,
            fires=(*bare.fires, *(c.given for c in cases if c.fires)),
            silent=tuple(c.given for c in cases if not c.fires),
        )
        practice = practice_of(whole, book)
        # A test needs a near miss; where none was found the empty case stands for silence.
        silent = whole.silent or ({},)
        files: dict[str, str | None] = {
            draft.file: rule_text(whole, on),
            draft.test_file: test_text(practice, whole.fires, silent),
        }
    with as_if(below, own, files) as (book, tests):
        report = run(book, tests, [draft.id])
        return Ready(whole, files, proposal, book, tests, report)
