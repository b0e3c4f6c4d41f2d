"""What the coach's review finds, as one page that needs nothing else: no script, no network.

Nothing on a page depends on colour, and it reads from 360 to 1280 pixels wide.
"""

from __future__ import annotations

from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape


def page(name: str, **given: Any) -> str:
    """The page of ``templates/<name>.html.j2`` filled in."""
    environment = Environment(
        loader=PackageLoader("coachbot.review"),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["words"] = lambda text: str(text).replace("_", " ").replace("-", " ")
    return environment.get_template(f"{name}.html.j2").render(**given)
