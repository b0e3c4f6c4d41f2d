"""Where the shipped rule folder is: inside the installed package, or beside it in a checkout."""

from __future__ import annotations

from pathlib import Path


def shipped_rules() -> Path:
    """The folder of the shipped rules. Raises FileNotFoundError when the install is incomplete."""
    package = Path(__file__).resolve().parent.parent
    for folder in (package / "rules", package.parent / "rules"):
        if (folder / "vocabulary").is_dir():
            return folder
    raise FileNotFoundError(
        f"The rule folder that ships with coachbot is missing beside {package}. Install it again."
    )
