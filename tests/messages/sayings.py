"""How many short sayings are heard: ``python -m tests.messages.sayings``.

A saying names one value; whatever else is heard in it counts neither way. Of the held-back
ones (every third of a list of troubles and other facts) only figures are shown.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from coachbot.knowledge import reading
from coachbot.knowledge.book import load
from coachbot.knowledge.places import shipped_rules
from coachbot.understanding import Reader

from .model import HERE

FOLDER = HERE / "sayings"
ANY = "any"
HELD_IN = frozenset({"troubles", "facts"})


@dataclass(frozen=True, slots=True)
class Saying:
    """One saying: its file, the fact and value it is about, and whether it says or denies them."""

    file: str
    fact: str
    value: str
    says: bool
    held_back: bool
    text: str


@dataclass(slots=True)
class Share:
    """Sayings heard as they should be, of how many."""

    right: int = 0
    of: int = 0

    def add(self, right: bool) -> None:
        self.right += right
        self.of += 1

    @property
    def share(self) -> float:
        return self.right / self.of if self.of else 1.0


def every() -> Iterator[Saying]:
    """All sayings of the folder."""
    for path in sorted(FOLDER.glob("*.yaml")):
        for fact, values in _mapping(reading.read(path, path.name, FOLDER).tree).items():
            for value, lists in _mapping(values).items():
                for kind, texts in _mapping(lists).items():
                    assert isinstance(texts, list)
                    for i, text in enumerate(texts):
                        held = path.stem in HELD_IN and i % 3 == 2
                        yield Saying(path.stem, fact, value, kind == "said", held, str(text))


def _mapping(tree: object) -> Mapping[str, object]:
    assert isinstance(tree, Mapping)
    return {str(name): value for name, value in tree.items()}


def heard(reader: Reader, one: Saying) -> bool:
    """Whether a saying's value is heard, or for a near miss: not heard."""
    found = {(h.fact, str(h.value)) for h in reader.read(one.text).heard if not h.denied}
    if one.value == ANY:
        return not any(fact in {"alarm", "pain_sign"} for fact, _ in found)
    return ((one.fact, one.value) in found) == one.says


def scored(reader: Reader, sayings: Iterable[Saying]) -> dict[tuple[str, str], Share]:
    """The share heard rightly, by file and kind: open, held back, and near misses."""
    found: dict[tuple[str, str], Share] = defaultdict(Share)
    for one in sayings:
        kind = ("held back" if one.held_back else "open") if one.says else "near misses"
        found[one.file, kind].add(heard(reader, one))
    return dict(found)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.messages.sayings", description=__doc__)
    parser.add_argument("--missed", metavar="FACT", help="show the open ones of a fact not heard")
    chosen = parser.parse_args()
    reader = Reader(load(shipped_rules()))
    for (file, kind), share in sorted(scored(reader, every()).items()):
        print(f"{file:10} {kind:12} {share.right}/{share.of} = {share.share:.3f}")
    for one in every():
        if one.fact == chosen.missed and not one.held_back and not heard(reader, one):
            print(f"  {one.value}: {'' if one.says else 'NOT '}{one.text}")


if __name__ == "__main__":
    main()
