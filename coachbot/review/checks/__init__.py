"""Every check of the audit, in the order in which findings are told.

The kinds follow the literature on verifying rule bases: unreachable conclusions, dead ends,
redundant, conflicting, subsumed and circular rules, needless conditions, unreferenced values
(Nguyen, Perkins, Laffey, Pecora, "Knowledge base verification", AI Magazine 8(2), 1987), and
missing rules (Suwa, Scott, Shortliffe, AI Magazine 3(4), 16-21, 1982).
"""

from __future__ import annotations

from coachbot.review.findings import Check

from . import claims, coverage, rules, vocabulary

CHECKS: tuple[Check, ...] = (
    *claims.CHECKS,
    *rules.CHECKS,
    *vocabulary.CHECKS,
    *coverage.CHECKS,
)
