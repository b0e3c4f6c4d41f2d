"""The labelled answers, read and marked."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import yaml

from coachbot.advice import Coach
from coachbot.case import Case, Known
from coachbot.knowledge.book import RuleBook
from coachbot.study.marking import Mark, Marker
from coachbot.study.telling import tell
from coachbot.study.weighing import Verdict

FOLDER = Path(__file__).parent / "answers"
WORDS = {
    "right": Verdict.RIGHT, "partly": Verdict.PARTLY,
    "wrong": Verdict.WRONG, "unsafe": Verdict.UNSAFE,
}  # fmt: skip


@dataclass(frozen=True)
class Labelled:
    case: Case
    answer: str
    label: Verdict


def case_of(book: RuleBook, facts: dict[str, object]) -> Case:
    known = [
        Known(name, book.grammar.value(name, str(text)))
        for name, given in facts.items()
        for text in (given if isinstance(given, list) else [given])
    ]
    return Case().with_known(known, book.single_valued)


def read(book: RuleBook, path: Path) -> Iterator[Labelled]:
    files = sorted(path.glob("*.yaml")) if path.is_dir() else [path]
    for entry in (e for f in files for e in yaml.safe_load(f.read_text(encoding="utf-8"))):
        case = case_of(book, entry["facts"])
        for answer in entry["answers"]:
            ((label, text),) = answer.items()
            yield Labelled(case, text, WORDS[label])


def marked(coach: Coach, marker: Marker, path: Path) -> Iterator[tuple[Labelled, Mark]]:
    book = coach.book
    assert book.study is not None
    for number, labelled in enumerate(read(book, path)):
        told = tell(book, book.study, labelled.case.known, number, messy=False)
        yield labelled, marker.mark(labelled.case, told, labelled.answer)[0]
