"""A gym's folder laid over the shipped one: what it replaces, and what an update changed.

``replaces.yaml`` in the own folder notes for each shipped rule that the gym has replaced
or switched off the fingerprint of the shipped text at that time. The text itself is kept
below ``.shipped``, so that a later change of it can be shown.
"""

from __future__ import annotations

import difflib
import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from coachbot.knowledge import reading
from coachbot.knowledge.book import REPLACES, TESTS, plainly
from coachbot.knowledge.problems import BrokenRules, Refused

from .folder import OwnFolder

FILE = f"{REPLACES}.yaml"
BASES = ".shipped"
OFF = "off.yaml"
_HEAD = "# The shipped text that each own rule was made from. coachbot writes this file.\n"
NO_RULES = {"vocabulary", "words", TESTS}


class Note(BaseModel):
    """The shipped text that an own rule was made from: its fingerprint, and when."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)

    of: str = Field(pattern=r"^[0-9a-f]{16}$")
    on: date


class Kind(StrEnum):
    """How an own folder and the shipped rules disagree."""

    CHANGED = "the shipped rule has changed since yours was made from it"
    OFF_CHANGED = "you switched it off, and the shipped rule has changed since"
    SAME_ID = "a shipped rule has the same id, and yours was not made from it"
    OFF_UNNOTED = "you switched it off, but it is not noted from which text"
    GONE = "the shipped rule is gone; yours stands alone now"
    OFF_GONE = "you switched it off, and it is gone; take it out of off.yaml"


@dataclass(frozen=True, slots=True)
class Conflict:
    """One rule about which the two folders disagree, with what changed in the shipped text."""

    rule: str
    kind: Kind
    difference: tuple[str, ...] = ()


def fingerprint(text: str) -> str:
    """The fingerprint of a rule's text; line ends do not count."""
    plain = "\n".join(line.rstrip() for line in text.strip().splitlines())
    return hashlib.sha256(plain.encode()).hexdigest()[:16]


def rule_files(folder: Path) -> dict[str, str]:
    """The rule files of a folder by id, as names inside it."""
    found: dict[str, str] = {}
    for file in sorted(folder.glob("*/*.yaml")):
        family = file.parent.name
        if family not in NO_RULES and not family.startswith("."):
            found[file.stem] = f"{family}/{file.name}"
    return found


def notes(own: OwnFolder) -> dict[str, Note]:
    """What ``replaces.yaml`` says. Raises BrokenRules."""
    file = own.path / FILE
    if not file.exists():
        return {}
    doc = reading.read(file, f"{own.path.name}/{FILE}", own.path)
    if doc.problems:
        raise BrokenRules(doc.problems)
    try:
        return TypeAdapter(dict[str, Note]).validate_python(doc.tree)
    except ValidationError as error:
        raise BrokenRules(plainly(e, Note, doc, ()) for e in error.errors()) from None


def switched_off(own: OwnFolder) -> tuple[str, ...]:
    """The ids in ``off.yaml``. Raises BrokenRules."""
    file = own.path / OFF
    if not file.exists():
        return ()
    doc = reading.read(file, f"{own.path.name}/{OFF}", own.path)
    if doc.problems:
        raise BrokenRules(doc.problems)
    if not isinstance(doc.tree, list) or not all(isinstance(i, str) for i in doc.tree):
        raise BrokenRules([doc.problem((), "a list of rule ids is wanted here")])
    return tuple(str(i) for i in doc.tree)


def noting(own: OwnFolder, rule_id: str, shipped_text: str, on: date) -> dict[str, str | None]:
    """The files to write so that the shipped text behind an own rule is noted."""
    noted = notes(own) | {rule_id: Note(of=fingerprint(shipped_text), on=on)}
    return {FILE: notes_text(noted), f"{BASES}/{rule_id}.yaml": shipped_text}


def forgetting(own: OwnFolder, rule_id: str) -> dict[str, str | None]:
    """The files to write so that nothing is noted of a rule."""
    noted = notes(own)
    if rule_id not in noted:
        return {}
    del noted[rule_id]
    return {FILE: notes_text(noted) if noted else None, f"{BASES}/{rule_id}.yaml": None}


def notes_text(noted: Mapping[str, Note]) -> str:
    """``replaces.yaml`` as text."""
    lines = (f"{i}: {{of: {n.of}, on: {n.on.isoformat()}}}\n" for i, n in sorted(noted.items()))
    return _HEAD + "".join(lines)


def switch_off(shipped: Path, own: OwnFolder, rule_id: str, on: date) -> dict[str, str | None]:
    """The files to write so that a shipped rule is off. Raises Refused."""
    off = switched_off(own)
    files = rule_files(shipped)
    if rule_id not in files:
        raise Refused(f'there is no shipped rule "{rule_id}" to switch off')
    if rule_id in off:
        raise Refused(f'"{rule_id}" is off already')
    text = (shipped / files[rule_id]).read_text("utf-8")
    before = own.text(OFF) or ""
    return {OFF: f"{before.rstrip()}\n- {rule_id}\n".lstrip(), **noting(own, rule_id, text, on)}


def switch_on(own: OwnFolder, rule_id: str) -> dict[str, str | None]:
    """The files to write so that a rule that is off is on again. Raises Refused."""
    if rule_id not in switched_off(own):
        raise Refused(f'"{rule_id}" is not off')
    lines = (own.text(OFF) or "").splitlines()
    kept = [line for line in lines if line.split("#")[0].strip(" -\"'") != rule_id]
    left = any(line.strip() and not line.lstrip().startswith("#") for line in kept)
    return {OFF: "\n".join(kept) + "\n" if left else None, **forgetting(own, rule_id)}


def conflicts(shipped: Path, own: OwnFolder) -> Iterator[Conflict]:
    """Where an own folder rests on shipped text that is another one now. Raises BrokenRules.

    It reads files only, so that it works while the rules cannot be loaded together.
    """
    theirs, mine = rule_files(shipped), rule_files(own.path)
    noted, off = notes(own), switched_off(own)
    for rule_id in sorted({*mine, *off}):
        note = noted.get(rule_id)
        is_off = rule_id in off
        if rule_id not in theirs:
            if note or is_off:
                yield Conflict(rule_id, Kind.OFF_GONE if is_off else Kind.GONE)
            continue
        text = (shipped / theirs[rule_id]).read_text("utf-8")
        if note is None:
            yield Conflict(rule_id, Kind.OFF_UNNOTED if is_off else Kind.SAME_ID)
        elif note.of != fingerprint(text):
            kind = Kind.OFF_CHANGED if is_off else Kind.CHANGED
            yield Conflict(rule_id, kind, tuple(_difference(own, rule_id, text)))


def _difference(own: OwnFolder, rule_id: str, now: str) -> Iterator[str]:
    base = own.text(f"{BASES}/{rule_id}.yaml")
    if base is None:
        return
    before, after = base.splitlines(), now.splitlines()
    yield from difflib.unified_diff(before, after, "shipped then", "shipped now", lineterm="", n=0)
