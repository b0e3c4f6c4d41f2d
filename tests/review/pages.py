"""What must hold for every page that the review writes."""

from __future__ import annotations

from html.parser import HTMLParser


def assert_alone(text: str) -> None:
    """The page is well formed, and needs no script, no network and no colour."""
    checker = _Checker()
    checker.feed(text)
    checker.close()
    assert not checker.open_tags
    assert not checker.outside
    assert set(checker.targets) <= checker.ids


class _Checker(HTMLParser):
    VOID = frozenset({"meta", "br", "hr", "link", "img", "input"})

    def __init__(self) -> None:
        super().__init__()
        self.open_tags: list[str] = []
        self.outside: list[str] = []
        self.targets: list[str] = []
        self.ids: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag in {"script", "link", "img", "iframe"} or "src" in given:
            self.outside.append(tag)
        if target := given.get("href"):
            (self.targets if target.startswith("#") else self.outside).append(target.lstrip("#"))
        if name := given.get("id"):
            assert name not in self.ids, f"the id {name} stands twice"
            self.ids.add(name)
        if tag not in self.VOID:
            self.open_tags.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open_tags.pop() == tag
