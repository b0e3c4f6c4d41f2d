"""Where the shipped rules and their tests are: inside the installed package, or in a checkout."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent.parent


def shipped_rules() -> Path:
    """The folder of the shipped rules. Raises FileNotFoundError when the install is incomplete."""
    for folder in (_PACKAGE / "rules", _PACKAGE.parent / "rules"):
        if (folder / "vocabulary").is_dir():
            return folder
    raise FileNotFoundError(
        f"The rule folder that ships with coachbot is missing beside {_PACKAGE}. Install it again."
    )


def shipped_rule_tests() -> Path:
    """The folder of the shipped rules' tests. Raises FileNotFoundError when it is missing."""
    for folder in (_PACKAGE / "rule_tests", _PACKAGE.parent / "tests" / "rules"):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(
        f"The rule tests that ship with coachbot are missing beside {_PACKAGE}. Install it again."
    )
