"""A rule and its test as files: written out new, in the form in which the shipped ones stand."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from coachbot.engine.model import Value
from coachbot.knowledge.book import COMMON_PRACTICE, RULE_ID, RuleBook
from coachbot.knowledge.conditions import told
from coachbot.knowledge.model import Fact

Given = dict[str, str | list[str]]
LONGEST_ID = 60


@dataclass(frozen=True, slots=True)
class Draft:
    """A rule as the coach gives it piece by piece: one that suggests, or one that concludes.

    ``when`` holds sentences; a tuple of sentences is an "any" group. ``then`` holds what is
    concluded; where there is some, nothing is suggested. ``source`` is a key of the sources or
    common practice; ``place`` is where in it.
    """

    id: str = ""
    family: str = ""
    author: str = ""
    when: tuple[str | tuple[str, ...], ...] = ()
    then: tuple[str, ...] = ()
    now: str = ""
    why: str = ""
    drill: str = ""
    works_when: str = ""
    dose: str = ""
    cautions: tuple[str, ...] = ()
    skills: tuple[str, ...] = ()
    loads: tuple[str, ...] = ()
    serves: tuple[str, ...] = ()
    source: str = COMMON_PRACTICE
    says: str = ""
    place: str = ""
    strength: float = 0.7
    sure: float = 0.7
    fires: tuple[Given, ...] = field(default_factory=tuple)
    silent: tuple[Given, ...] = field(default_factory=tuple)

    @property
    def file(self) -> str:
        """The rule's file in a rule folder."""
        return f"{self.family}/{self.id}.yaml"

    @property
    def test_file(self) -> str:
        """The test's file in a rule folder."""
        return f"tests/{self.family}/{self.id}.yaml"


def rule_text(draft: Draft, on: date) -> str:
    """The rule's file."""
    lines = [f"serves: [{', '.join(draft.serves)}]"] if draft.serves else []
    lines.append("when:")
    for part in draft.when:
        if isinstance(part, str):
            lines.append(f"  - {_plain(part)}")
        else:
            lines.append(f"  - any: [{', '.join(map(quoted, part))}]")
    if draft.then:
        lines.append(f"then: [{', '.join(map(_plain, draft.then))}]")
    else:
        lines += _suggestion_lines(draft)
    lines += [f"why: {quoted(draft.why)}", "ground:", f"  - key: {draft.source}"]
    lines.append(f"    says: {quoted(draft.says)}")
    if draft.source != COMMON_PRACTICE:
        lines += [f"    place: {quoted(draft.place)}", f"    checked: {on.isoformat()}"]
    lines += [f"author: {_plain(draft.author)}", f"reviewed: {on.isoformat()}"]
    return "\n".join(lines) + "\n"


def _suggestion_lines(draft: Draft) -> list[str]:
    lines = ["suggest:"]
    for key, text in (("now", draft.now), ("drill", draft.drill), ("works_when", draft.works_when)):
        lines.append(f"  {key}: {quoted(text)}")
    if draft.dose:
        lines.append(f"  dose: {quoted(draft.dose)}")
    if draft.cautions:
        lines.append("  cautions:")
        lines += [f"    - {quoted(caution)}" for caution in draft.cautions]
    lines.append(f"  skills: [{', '.join(draft.skills)}]")
    if draft.loads:
        lines.append(f"  loads: [{', '.join(draft.loads)}]")
    return [*lines, f"  strength: {draft.strength:g}", f"  sure: {draft.sure:g}"]


def test_text(practice: str, fires: Sequence[Given], silent: Sequence[Given]) -> str:
    """A rule test's file."""
    lines = [f"practice: {quoted(practice)}"]
    for key, cases in (("fires", fires), ("silent", silent)):
        lines.append(f"{key}:")
        lines += [f"  - {case_text(case)}" for case in cases]
    return "\n".join(lines) + "\n"


def practice_of(draft: Draft, book: RuleBook) -> str:
    """What the test names as the practice that it checks."""
    if draft.source == COMMON_PRACTICE:
        return f"common practice, no source: {draft.says}"
    return f"{book.sources[draft.source].cite}: {draft.says}"


def case_text(case: Given) -> str:
    """A test's case as a YAML line."""
    parts = []
    for name, texts in case.items():
        shown = _plain(texts) if isinstance(texts, str) else f"[{', '.join(map(_plain, texts))}]"
        parts.append(f"{name}: {shown}")
    return "{" + ", ".join(parts) + "}"


def quoted(text: str) -> str:
    """Text as a double-quoted YAML scalar."""
    return json.dumps(" ".join(text.split()), ensure_ascii=False)


_NEEDS_NONE = re.compile(r"(-(?=\d))?[A-Za-z0-9_][\w .+/-]*")


def _plain(text: str) -> str:
    """Text without quotes where YAML needs none."""
    return text if _NEEDS_NONE.fullmatch(text) and text == text.strip() else quoted(text)


def value_text(book: RuleBook, fact: str, value: Value) -> str:
    """A value as a coach writes it in a rule or a test."""
    declared: Fact = book.facts[fact]
    if declared.kind == "grade":
        return str(book.ladder.steps[int(value)].v)
    return told(value)


def given_of(book: RuleBook, said: Sequence[tuple[str, Value, bool]]) -> Given:
    """A test's case from said facts (fact, value, denied)."""
    given: Given = {}
    for fact, value, denied in said:
        word = f"{'not ' if denied else ''}{value_text(book, fact, value)}"
        before = given.get(fact)
        if before is None:
            given[fact] = word
        else:
            given[fact] = [*([before] if isinstance(before, str) else before), word]
    return given


def id_from(text: str, taken: Mapping[str, object]) -> str:
    """An id from the first words of a text, such as the cue, that no rule has yet."""
    words = re.findall(r"[a-z0-9]+", text.lower().replace("'", ""))
    base = ""
    for word in words[:6]:
        longer = f"{base}-{word}" if base else word
        if len(longer) > LONGEST_ID - 4:
            break
        base = longer
    base = base or "rule"
    name, number = base, 2
    while name in taken:
        name, number = f"{base}-{number}", number + 1
    assert RULE_ID.fullmatch(name)
    return name
