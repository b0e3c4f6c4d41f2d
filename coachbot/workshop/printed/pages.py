"""The book as linked HTML pages. No script, no network, grey only."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from markupsafe import Markup

from coachbot.knowledge.book import ReadRule, RuleBook

from .content import Contents, Served
from .flow import NARROW, WIDE, Picture, Size, advice_flow, concept_flow, svg

Draw = Callable[[RuleBook, str, Sequence[ReadRule], Size], Picture]


def pages(contents: Contents, title: str) -> dict[str, str]:
    """The pages by file name, the style sheet among them."""
    return _Pages(contents, title).all()


class _Pages:
    def __init__(self, contents: Contents, title: str) -> None:
        self._contents = contents
        self._href = {
            entry.id: f"rules-{entry.family}.html#{entry.id}" for entry in contents.entries.values()
        }
        self._href |= {f"fact:{name}": f"facts.html#fact-{name}" for name in contents.book.facts}
        self._env = Environment(
            loader=PackageLoader("coachbot.workshop.printed"),
            autoescape=select_autoescape(default=True, default_for_string=True),
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self._env.filters["words"] = lambda name: name.replace("_", " ").replace("-", " ")
        self._env.globals.update(
            contents=contents,
            book=contents.book,
            title=title,
            href=lambda rule_id: self._href[rule_id],
            situation_href=self._situation_href,
        )

    def _situation_href(self, situation: str) -> str:
        family = self._contents.book.situations[situation].family
        return f"situations-{family}.html#{situation}"

    def all(self) -> dict[str, str]:
        made = {"style.css": self._source("style.css"), "index.html": self._page("index")}
        for family, entries in self._contents.families.items():
            made[f"rules-{family}.html"] = self._page("rules", family=family, entries=entries)
        for family, served in self._contents.situations.items():
            made[f"situations-{family}.html"] = self._page(
                "situations", family=family, situations=[(s, self._advice(s)) for s in served]
            )
        concepts = [(name, fact, self._concept(name)) for name, fact in self._contents.concluded()]
        said = [(n, f) for n, f in self._contents.book.facts.items() if not f.concluded]
        made["facts.html"] = self._page("facts", concepts=concepts, said=said)
        made["sources.html"] = self._page("sources")
        made["skills.html"] = self._page("skills")
        return made

    def _advice(self, served: Served) -> Markup:
        rules = [entry.read for entry in served.rules]
        title = f"How facts lead to advice for {served.id}: {served.situation.situation}"
        return self._pictures(advice_flow, title, rules, served.id)

    def _concept(self, name: str) -> Markup:
        rules = [entry.read for entry in self._contents.making.get(name, ())]
        return self._pictures(concept_flow, f"What makes the fact {name}", rules, name)

    def _pictures(self, draw: Draw, title: str, rules: Sequence[ReadRule], name: str) -> Markup:
        """A wide picture for wide windows and print, a narrow one for phones."""
        if not rules:
            return Markup()
        sizes = ((WIDE, f"{name}-wide"), (NARROW, f"{name}-narrow"))
        drawn = (svg(draw(self._contents.book, title, rules, s), self._href, n) for s, n in sizes)
        # The pictures escape every text themselves.
        return Markup("".join(drawn))

    def _page(self, template: str, **given: Any) -> str:
        return self._env.get_template(f"{template}.html.j2").render(**given)

    def _source(self, name: str) -> str:
        loader = self._env.loader
        assert loader is not None
        return loader.get_source(self._env, name)[0]


def write_pages(made: dict[str, str], out: Path) -> None:
    """Write the pages into a folder, which is made when it is not there."""
    out.mkdir(parents=True, exist_ok=True)
    for name, text in made.items():
        (out / name).write_text(text, encoding="utf-8")
