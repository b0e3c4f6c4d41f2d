"""Small rule books, made in memory or written as a rule folder."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any as Anything

import yaml

from coachbot.engine.model import All
from coachbot.knowledge.book import (
    Place,
    ReadAccepted,
    ReadContradiction,
    ReadProperty,
    ReadRule,
    RuleBook,
)
from coachbot.knowledge.conditions import Grammar
from coachbot.knowledge.grades import GradeLadder, GradeStep
from coachbot.knowledge.model import (
    Accepted,
    Contradiction,
    Fact,
    Rule,
    SafetyProperty,
    Situation,
)

Spec = Mapping[str, Anything]
LADDER = GradeLadder((GradeStep(v="V0", font_low="4", font_high="4", seen=False),), ("4",))
SKILLS = {"grip": "holding", "feet": "standing", "swing": "swinging"}
NOTES = {
    "why": "Because it helps.",
    "ground": [{"key": "common-practice", "says": "so it is taught"}],
    "author": "Ines",
    "reviewed": "2026-11-01",
}


def choice(*values: str, **more: Anything) -> Spec:
    named = {v: {"say": v} for v in values}
    return {"kind": "choice", "say": "is {value}", "values": named, **more}


def several(*values: str, **more: Anything) -> Spec:
    return {**choice(*values, **more), "kind": "several"}


def yes_no(**more: Anything) -> Spec:
    return {"kind": "yes-no", "say": "it is so", **more}


def number(low: int, high: int, **more: Anything) -> Spec:
    return {"kind": "number", "say": "is {value}", "unit": "cm", "low": low, "high": high, **more}


def asked(**more: Anything) -> dict[str, Anything]:
    return {"asked": True, "question": "What is it?", **more}


def suggest(now: str, skills: Sequence[str] = ("grip",), loads: Sequence[str] = (),
            strength: float = 0.8, sure: float = 0.8) -> Spec:  # fmt: skip
    return {
        "now": now, "drill": "Five slow goes.", "works_when": "It is quiet.",
        "skills": list(skills), "loads": list(loads), "strength": strength, "sure": sure,
    }  # fmt: skip


def rule(*when: Anything, **more: Anything) -> dict[str, Anything]:
    """A rule as in its file; one that suggests serves S01 unless it says otherwise."""
    spec = {"when": list(when), **more, **NOTES}
    if "suggest" in more:
        spec.setdefault("serves", ["S01"])
    return spec


def small_book(
    facts: Mapping[str, Spec],
    rules: Mapping[str, Spec],
    words: Mapping[str, Sequence[str]] | None = None,
    properties: Mapping[str, Spec] | None = None,
    contradictions: Mapping[str, Spec] | None = None,
    situations: Mapping[str, Spec] | None = None,
    accepted: Sequence[Spec] = (),
) -> RuleBook:
    """A book in memory. ``words`` names the values that have words, by fact."""
    read_facts = {name: Fact.model_validate(spec) for name, spec in facts.items()}
    grammar = Grammar(read_facts, LADDER)

    def all_of(parts: Sequence[Anything]) -> All:
        return All(tuple(grammar.condition(part) for part in parts))

    def read_rule(name: str, spec: Spec) -> ReadRule:
        copies = [c for text in spec.get("then", ()) if (c := grammar.copied(text))]
        then = [grammar.conclusion(t) for t in spec.get("then", ()) if not grammar.copied(t)]
        parsed = Rule.model_validate(spec)
        place = Place(f"rules/feet/{name}.yaml", 1)
        when = all_of(spec["when"])
        return ReadRule(name, "feet", place, parsed, when, tuple(then), tuple(copies))

    def read_property(name: str, spec: Spec) -> ReadProperty:
        parsed = SafetyProperty.model_validate(spec)
        return ReadProperty(name, Place("rules/safety.yaml", 1), parsed, all_of(parsed.when))

    return RuleBook(
        facts=read_facts,
        ask_when={name: all_of(fact.ask_when) for name, fact in read_facts.items()},
        words={
            name: {value: (f"say {value}",) for value in values}
            for name, values in (words or {}).items()
        },
        concepts={},
        rules={name: read_rule(name, spec) for name, spec in rules.items()},
        situations={
            name: Situation.model_validate(spec)
            for name, spec in (situations or {"S01": situation("one")}).items()
        },
        sources={},
        skills=SKILLS,
        ladder=LADDER,
        folders=(),
        properties={n: read_property(n, spec) for n, spec in (properties or {}).items()},
        contradictions={
            name: ReadContradiction(
                name, Place("rules/contradictions.yaml", 1), Contradiction.model_validate(spec)
            )
            for name, spec in (contradictions or {}).items()
        },
        accepted=tuple(
            ReadAccepted(Place("rules/audit.yaml", i), Accepted.model_validate(spec))
            for i, spec in enumerate(accepted, 1)
        ),
    )


def situation(text: str) -> Spec:
    return {"family": "feet", "situation": text, "aim": "help"}


def write_folder(
    folder: Path,
    facts: Mapping[str, Spec],
    rules: Mapping[str, Spec],
    words: Mapping[str, Mapping[str, Sequence[str]]] | None = None,
    **top: Anything,
) -> Path:
    """The same as a rule folder; ``top`` are further files, such as ``safety``."""
    (folder / "vocabulary").mkdir(parents=True)
    _write(folder / "vocabulary" / "all.yaml", facts)
    if words:
        (folder / "words").mkdir()
        _write(folder / "words" / "all.yaml", words)
    grades = {"font": list(LADDER.font), "steps": [s.model_dump() for s in LADDER.steps]}
    _write(folder / "grades.yaml", grades)
    _write(folder / "skills.yaml", SKILLS)
    _write(folder / "situations.yaml", top.pop("situations", {"S01": situation("one")}))
    for name, tree in top.items():
        _write(folder / f"{name}.yaml", tree)
    (folder / "feet").mkdir()
    for name, spec in rules.items():
        _write(folder / "feet" / f"{name}.yaml", spec)
    return folder


class _NoAnchors(yaml.SafeDumper):
    def ignore_aliases(self, data: object) -> bool:
        return True


def _write(file: Path, tree: Anything) -> None:
    text = yaml.dump(tree, Dumper=_NoAnchors, sort_keys=False, allow_unicode=True)
    file.write_text(text.replace(": true", ": yes").replace(": false", ": no"), "utf-8")
