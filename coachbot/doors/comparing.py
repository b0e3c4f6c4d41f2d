"""``coachbot compare``: two rule sets, what differs in meaning, and what that changes."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from pathlib import Path

import click

from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.places import shipped_rule_tests, shipped_rules
from coachbot.knowledge.problems import BrokenRules, Refused
from coachbot.review.cases import ToldCase
from coachbot.review.comparing import Asked, Changed, Comparison, Fires, Other, compare
from coachbot.review.rule_tests import read_tests
from coachbot.workshop.effects import Different, Effects, Minds
from coachbot.workshop.own_tests import rule_tests_of

from . import screen
from .opening import open_folders
from .reviewing import case_data, progress
from .workshop_rules import effects_on
from .workshop_shown import told_effects

# Rules that changed only through others, told in full; the rest are named.
SHOWN = 12


def run_compare(
    own: tuple[Path, ...],
    folders: tuple[Path, ...],
    as_json: bool,
    pages: tuple[Path, ...],
    lists: tuple[Path, ...],
) -> int:
    """Print the comparison. Raises BrokenRules and Refused."""
    one, other = layers(own, folders)
    progress("reading both rule sets")
    before, after = _minds("before", one), _minds("after", other)
    try:
        found = compare(before.book, after.book, progress)
        progress("running kept conversations and cases through both")
        tests = {**rule_tests_of(before.book), **rule_tests_of(after.book)}
        tests = tests or read_tests(shipped_rule_tests())
        effects = effects_on(before, after, tests, pages, lists)
        progress("")
    finally:
        before.close()
        after.close()
    if as_json:
        data = comparison_data(before.book, after.book, found, effects)
        click.echo(json.dumps(data, indent=2))
    else:
        screen.write("\n".join(told_comparison(before.book, after.book, found)))
        screen.write("\n".join(["", "WHAT THAT CHANGES", *told_effects(effects, screen.width())]))
    return 0


def layers(
    own: tuple[Path, ...], folders: Sequence[Path]
) -> tuple[tuple[Path, ...], tuple[Path, ...]]:
    """The folders of both sides. Raises Refused and click.UsageError."""
    shipped = (shipped_rules(),)
    for folder in folders:
        if not folder.is_dir():
            raise Refused(f"there is no rule folder {folder}")
    if len(folders) > 2:
        raise click.UsageError("compare takes two rule folders at most: BEFORE and AFTER")
    if len(folders) == 2:
        one, other = ((f,) if _whole(f) else (*shipped, *own, f) for f in folders)
        return one, other
    if folders:
        (folder,) = folders
        if _whole(folder):
            return (folder,), (*shipped, *own)
        return (*shipped, *own), (*shipped, *own, folder)
    if not own:
        raise click.UsageError(
            "name your rule folder (coachbot compare FOLDER), or two folders: BEFORE and AFTER"
        )
    return shipped, (*shipped, *own)


def _whole(folder: Path) -> bool:
    """Whether a folder is a whole rule set and not a layer over the shipped one."""
    return (folder / "vocabulary").is_dir() and (folder / "grades.yaml").is_file()


def _minds(side: str, folders: tuple[Path, ...]) -> Minds:
    try:
        house = open_folders(folders)
    except BrokenRules as error:
        progress("")
        click.echo(f'The rules of "{side}" ({folders[-1]}) cannot be used.', err=True)
        raise error from None
    return Minds(house.book, house.coach, house.reader)


def told_comparison(before: RuleBook, after: RuleBook, found: Comparison) -> Iterator[str]:
    """The comparison in lines."""
    yield f"before: {_told_folders(before)}, {_count(len(before.rules), 'rule')}"
    yield f"after:  {_told_folders(after)}, {_count(len(after.rules), 'rule')}"
    for head, others, book in (
        ("NEW", found.added, after), ("GONE", found.removed, before),
    ):  # fmt: skip
        if others:
            yield f"\n{head} ({len(others)})"
            for each in others:
                yield from _told_other(each, book)
    if found.renamed:
        yield f"\nOTHER NAME, SAME MEANING ({len(found.renamed)})"
        yield from (f"  {old} is {new} now" for old, new in found.renamed)
    own = [c for c in found.changed if not c.through]
    if own:
        yield f"\nCHANGED IN MEANING ({len(own)})"
        for change in own:
            yield from _told_changed(change)
    led = [c for c in found.changed if c.through]
    if led:
        yield f"\nCHANGED THROUGH OTHERS ({len(led)}): their own conditions are as they were"
        for change in led[:SHOWN]:
            yield from _told_changed(change)
        if len(led) > SHOWN:
            yield f"  and {len(led) - SHOWN} more: {', '.join(c.rule for c in led[SHOWN:])}"
    if found.questions:
        yield f"\nQUESTIONS ({len(found.questions)})"
        for asked in found.questions:
            yield from _told_question(asked)
    if found.rewritten:
        yield f"\nREWRITTEN, SAME MEANING ({len(found.rewritten)}): {', '.join(found.rewritten)}"
    if found.noted:
        yield (
            f"\nONLY NOTES (author, date, source, situations) ({len(found.noted)}): "
            + ", ".join(found.noted)
        )
    if found.beside:
        yield "\nBESIDE THE RULES"
        for kind in found.beside:
            for word, names in (
                ("new", kind.added), ("gone", kind.removed), ("other", kind.changed),
            ):  # fmt: skip
                if names:
                    yield f"  {kind.kind}, {word}: {_some(names)}"
    if found.apart:
        yield (
            f"\nOf another kind now, so that nothing said of them is compared: "
            f"{', '.join(found.apart)}"
        )
    if found.same:
        yield "\nNo rule differs in meaning: all fire in the same cases and say the same."


def _told_folders(book: RuleBook) -> str:
    shipped = shipped_rules().resolve()
    return " + ".join("shipped" if f.resolve() == shipped else str(f) for f in book.folders)


def _told_other(other: Other, book: RuleBook) -> Iterator[str]:
    rule = book.rules[other.rule].rule
    says = rule.suggest.now if rule.suggest else rule.reply or rule.caution or ""
    yield f"  {other.rule}"
    yield f"    {says or 'concludes ' + ', '.join(rule.then)}"
    yield from _told_case("fires in", other.case)
    if other.case is None:
        yield "    fires in no case"


def _told_changed(change: Changed) -> Iterator[str]:
    yield f"  {change.rule}"
    if change.through:
        yield f"    through {_some(change.through, 3)}"
    yield from _told_fires(change.fires, "fires")
    for word, names in (("no longer concludes", change.lost), ("now concludes", change.won)):
        if names:
            yield f"    {word}: {', '.join(names)}"
    if change.lost or change.won:
        yield from _told_case("smallest case", change.concludes)
    for field in change.fields:
        yield f"    other {field.name}"
        yield f"      before: {field.before or 'nothing'}"
        yield f"      after:  {field.after or 'nothing'}"
    if change.fields:
        yield from _told_case("smallest case", change.spoken)


def _told_fires(fires: Fires, verb: str) -> Iterator[str]:
    if fires.no_longer is not None and fires.now_also is not None:
        yield f"    {verb} in other cases"
    elif fires:
        yield f"    {verb} in {'fewer' if fires.no_longer is not None else 'more'} cases"
    yield from _told_case("no longer", fires.no_longer)
    yield from _told_case("now also", fires.now_also)


def _told_case(label: str, case: ToldCase | None) -> Iterator[str]:
    if case is not None:
        yield f"    {label}: {case}"
        if case.written:
            yield f"      ({', '.join(case.written)})"


def _told_question(asked: Asked) -> Iterator[str]:
    yield f"  {asked.fact}"
    if asked.before != asked.after:
        yield f"    before: {asked.before or 'not asked'}"
        yield f"    after:  {asked.after or 'not asked'}"
    yield from _told_fires(asked.fires, "asked")


def _some(names: Sequence[str], most: int = 8) -> str:
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def comparison_data(
    before: RuleBook, after: RuleBook, found: Comparison, effects: Effects
) -> dict[str, object]:
    """The comparison as plain data for JSON."""
    return {
        "before": {"folders": [str(f) for f in before.folders], "rules": len(before.rules)},
        "after": {"folders": [str(f) for f in after.folders], "rules": len(after.rules)},
        "same_meaning": found.same,
        "added": [{"rule": o.rule, "case": case_data(o.case)} for o in found.added],
        "removed": [{"rule": o.rule, "case": case_data(o.case)} for o in found.removed],
        "renamed": [{"before": old, "after": new} for old, new in found.renamed],
        "changed": [
            {
                "rule": c.rule,
                "through": list(c.through),
                "case": case_data(c.case),
                "no_longer_fires": case_data(c.fires.no_longer),
                "now_also_fires": case_data(c.fires.now_also),
                "no_longer_concludes": list(c.lost),
                "now_concludes": list(c.won),
                "concludes_case": case_data(c.concludes),
                "fields": [{"field": f.name, "before": f.before, "after": f.after}
                           for f in c.fields],
            }
            for c in found.changed
        ],
        "questions": [
            {
                "fact": q.fact,
                "before": q.before or None,
                "after": q.after or None,
                "no_longer_asked": case_data(q.fires.no_longer),
                "now_also_asked": case_data(q.fires.now_also),
            }
            for q in found.questions
        ],
        "rewritten": list(found.rewritten),
        "only_notes": list(found.noted),
        "beside": [
            {"kind": b.kind, "added": list(b.added), "removed": list(b.removed),
             "changed": list(b.changed)}
            for b in found.beside
        ],
        "not_compared": list(found.apart),
        "effects": {
            name: {"looked_at": looked, "different": [_difference_data(d) for d in differences]}
            for name, looked, differences in zip(
                ("conversations", "messages", "cases"),
                effects.looked_at,
                (effects.conversations, effects.messages, effects.cases),
                strict=True,
            )
        },
    }  # fmt: skip


def _difference_data(different: Different) -> dict[str, str]:
    return {
        "place": different.place,
        "said": different.said,
        "before": different.before,
        "after": different.after,
    }
