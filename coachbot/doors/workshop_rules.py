"""The workshop's commands that read or change a gym's own folder."""

from __future__ import annotations

import difflib
import json
import time
from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime
from pathlib import Path

import click

from coachbot.kept_talks import talks_folder
from coachbot.knowledge.book import TESTS
from coachbot.knowledge.cache import load_cached
from coachbot.knowledge.model import RuleCheck
from coachbot.knowledge.places import shipped_rule_tests, shipped_rules
from coachbot.knowledge.problems import Refused
from coachbot.workshop.drafting import case_text
from coachbot.workshop.editing import Edited, edit, fields, standing_text
from coachbot.workshop.effects import (
    Effects,
    Minds,
    effects,
    kept_conversations,
    sampled_cases,
    stored_messages,
)
from coachbot.workshop.folder import OwnFolder
from coachbot.workshop.layers import (
    FILE,
    conflicts,
    forgetting,
    noting,
    rule_files,
    switch_off,
    switch_on,
)
from coachbot.workshop.own_tests import rule_tests_of
from coachbot.workshop.sharpening import Sharper, sharper, with_cases
from coachbot.workshop.watching import Seen, Watch

from . import screen
from .asking import Asks, asks
from .opening import open_house
from .replaying import pages_in
from .workshop_check import known_ids
from .workshop_shown import told_effects

LOOK_EVERY = 0.3
DEMO = Path("transcripts_demo")


def pages_or_demo(pages: tuple[Path, ...]) -> tuple[Path, ...]:
    """The pages named, or those of the working folder where there are any."""
    return pages or ((DEMO,) if DEMO.is_dir() else ())


def open_minds(below: tuple[Path, ...], own: Path) -> Minds:
    """The book with the own folder as it is now. Raises BrokenRules."""
    house = open_house((*below, *((own,) if own.is_dir() else ())))
    return Minds(house.book, house.coach, house.reader)


def new_rule(
    below: tuple[Path, ...], own: Path, pages: tuple[Path, ...], lists: tuple[Path, ...]
) -> int:
    """The guided conversation."""
    from .workshop_new import Writing

    minds = open_minds(below, own)
    folders = (shipped_rules(), *below)
    writing = Writing(minds, folders, OwnFolder(own), asks(), pages_or_demo(pages), lists)
    try:
        return writing.hold()
    finally:
        minds.close()


def edit_rule(
    below: tuple[Path, ...],
    own: Path,
    rule_id: str,
    sets: tuple[str, ...],
    pages: tuple[Path, ...],
    lists: tuple[Path, ...],
    at_once: bool,
) -> int:
    """Change fields of one rule, show what follows, save when the coach says so."""
    minds = open_minds(below, own)
    known_ids(minds.book, [rule_id])
    folder = OwnFolder(own)
    folders = (shipped_rules(), *below)
    answers = asks()
    try:
        _, text, shipped = standing_text(folders, folder, rule_id)
        changes = [_set(s) for s in sets] or _asked_changes(answers, text)
        if not changes:
            screen.write("Nothing was changed.")
            return 1
        edited = edit(
            folders, folder, minds.book, rule_tests_of(minds.book), rule_id, changes, _today()
        )
        if shipped:
            screen.write(f"The shipped file stays as it is; yours is a copy in {own}.")
        _show_edited(edited, own)
        after = Minds.of(edited.after, minds)
        found = effects_on(minds, after, edited.tests, pages, lists)
        after.close()
        screen.write("\n".join(["", *told_effects(found, screen.width())]))
        if not at_once:
            screen.write('Save it? Say "save", or "no".')
            if (answers.line(("save", "no")) or "").strip().lower() not in {"save", "yes", "y"}:
                screen.write("Nothing was changed.")
                return 1
        folder.write(edited.files, f"changed {rule_id}")
        screen.write(f"Saved in {own}. Taken back with: coachbot rules undo --own {own}")
        return 1 if edited.report.failures else 0
    finally:
        minds.close()


def _asked_changes(answers: Asks, text: str) -> list[tuple[str, str]]:
    """The fields and their new texts as the coach says them."""
    there = dict(fields(text))
    screen.write("\n".join(f"{name}: {value}" for name, value in there.items()))
    changes: list[tuple[str, str]] = []
    while True:
        screen.write('\nWhich field? (Enter when done; "when[+]" adds a condition)')
        name = answers.line(tuple(there))
        if name is None or name.strip().lower() == "stop":
            return []
        if not name.strip():
            return changes
        screen.write(f"{name.strip()} is now to be? (Enter alone takes it out)")
        value = answers.line()
        if value is None:
            return []
        changes.append((name.strip(), value))


def _set(text: str) -> tuple[str, str]:
    field, equals, value = text.partition("=")
    if not equals:
        raise click.UsageError(f'--set takes FIELD=TEXT, such as --set "dose=3 goes", not "{text}"')
    return field.strip(), value


def _today() -> date:
    return datetime.now(UTC).date()


def _show_edited(edited: Edited, own: Path) -> None:
    for name, text in edited.files.items():
        if name.startswith(".") or name == FILE:
            continue
        before = edited.before_text if not name.startswith("tests/") else ""
        lines = difflib.unified_diff(
            before.splitlines(), (text or "").splitlines(), "before", "after", lineterm="", n=0
        )
        screen.write(f"\n--- {own.name}/{name}")
        shown = list(lines)[2:] if before else (text or "").splitlines()
        screen.write("\n".join(line for line in shown if not line.startswith("@@")))
    for failure in (*edited.report.failures, *edited.report.unneeded):
        screen.write(f"The test says: {failure}")
    if not edited.report.failures and not edited.report.unneeded:
        screen.write(f"Its test passes: {edited.report.cases} cases.")


def effects_on(
    before: Minds,
    after: Minds,
    tests: Mapping[str, RuleCheck],
    pages: tuple[Path, ...],
    lists: tuple[Path, ...],
) -> Effects:
    """What becomes of kept conversations, stored messages and the tests' cases."""
    return effects(
        before,
        after,
        list(kept_conversations(pages_in(pages_or_demo(pages)))),
        list(stored_messages(talks_folder(), lists)),
        list(sampled_cases(tests)),
    )


def undo(own: Path) -> int:
    """Take the newest change back."""
    undone = OwnFolder(own).undo()
    screen.write(f"Taken back: {undone.label}. These files are as they were:")
    screen.write("\n".join(f"  {f}" for f in undone.files if not f.startswith(".")))
    return 0


def switch(own: Path, rule_id: str, off: bool) -> int:
    """Switch a shipped rule off, or on again."""
    folder = OwnFolder(own)
    if off:
        files = switch_off(shipped_rules(), folder, rule_id, _today())
    else:
        files = switch_on(folder, rule_id)
    folder.write(files, f"switched {rule_id} {'off' if off else 'on'}")
    screen.write(f"{rule_id} is {'off' if off else 'on again'} in {own}.")
    return 0


def show_conflicts(own: Path, settle: tuple[str, ...], as_json: bool) -> int:
    """Where the shipped rules have changed below the own ones; 1 when there is any such."""
    folder = OwnFolder(own)
    if not own.is_dir():
        raise Refused(f"there is no rule folder {own}")
    for rule_id in settle:
        files = rule_files(shipped_rules())
        if rule_id in files:
            text = (shipped_rules() / files[rule_id]).read_text("utf-8")
            changes = noting(folder, rule_id, text, _today())
        else:
            changes = forgetting(folder, rule_id)
        if not changes:
            raise Refused(f'nothing is noted of "{rule_id}"')
        folder.write(changes, f"settled {rule_id}")
    found = list(conflicts(shipped_rules(), folder))
    if as_json:
        data = [
            {"rule": c.rule, "kind": c.kind.name.lower().replace("_", "-"), "says": c.kind.value,
             "difference": list(c.difference)}
            for c in found
        ]  # fmt: skip
        click.echo(json.dumps(data, indent=2))
        return 1 if found else 0
    for conflict in found:
        screen.write(f"{conflict.rule}: {conflict.kind.value}.")
        screen.write("\n".join(f"  {line}" for line in conflict.difference[2:]))
    if found:
        ids = " ".join(f"--settle {c.rule}" for c in found[:2])
        screen.write(
            f"Compare and change yours (coachbot rules edit), then say that it is settled:"
            f" coachbot rules conflicts {ids}"
        )
    else:
        screen.write("Your folder and the shipped rules agree.")
    return 1 if found else 0


def watch(
    below: tuple[Path, ...], own: Path, pages: tuple[Path, ...], lists: tuple[Path, ...]
) -> int:
    """Re-check on every save until Ctrl-C."""
    if not own.is_dir():
        raise Refused(f"there is no rule folder {own}")
    conversations = list(kept_conversations(pages_in(pages_or_demo(pages))))
    messages = list(stored_messages(talks_folder(), lists))
    watching = Watch((shipped_rules(), *below, own), conversations, messages)
    screen.write(f"Watching {own}. Save a file to see what it changes; Ctrl-C ends.")
    screen.write("\n".join(told_seen(watching.first())))
    try:
        while True:
            time.sleep(LOOK_EVERY)
            began = time.monotonic()
            seen = watching.look()
            if seen is not None:
                screen.write("\n".join(told_seen(seen)))
                screen.write(f"({datetime.now():%H:%M:%S}, {time.monotonic() - began:.1f} s)\n")
    except KeyboardInterrupt:
        return 0


def told_seen(seen: Seen) -> Iterator[str]:
    """What a save led to, in lines."""
    if seen.problems:
        yield "This cannot be used; the last good rules stay in place:"
        yield from (f"  {p}" for p in seen.problems)
        return
    if seen.changed:
        yield f"Changed: {', '.join(seen.changed)}"
    for failure in (*seen.report.failures, *seen.report.unneeded):
        yield f"  {failure}"
    if not seen.report.failures and not seen.report.unneeded:
        count = len(seen.report.rules)
        tested = f"{count} {'rule' if count == 1 else 'rules'}"
        yield f"Sound. {tested} tested, {seen.report.cases} cases."
    if seen.effects is not None and seen.changed:
        yield from told_effects(seen.effects, screen.width(), shown=1)


def sharpen(own: tuple[Path, ...], ids: tuple[str, ...], write: bool) -> int:
    """Show the cases that tests lack, or write them into the test files of the last folder.

    Tests of shipped rules are written where the program runs from a checkout of its source.
    """
    book = load_cached((shipped_rules(), *own))
    known_ids(book, ids)
    tests = rule_tests_of(book)
    left = added = 0
    for found in sharper(book, tests, ids):
        left += len(found.left)
        if found.cases:
            added += len(found.cases)
            screen.write(found.rule_id)
        for case in found.cases:
            word = "fires" if case.fires else "silent"
            screen.write(f"  {word}: {case_text(case.given)}")
            needed = dict.fromkeys(v.was for v in case.shows)
            screen.write("\n".join(f"     needs: {n}" for n in needed))
        for variant in found.left:
            screen.write(f"{found.rule_id}: no case found for {variant}")
        if write and found.cases:
            _write_cases(own, book.rules[found.rule_id].family, found)
    word = "added" if write else "would be added"
    screen.write(f"{added} cases {word}; {left} conditions are left without one.")
    return 0


def _write_cases(own: tuple[Path, ...], family: str, found: Sharper) -> None:
    """Write the cases where the rule's test stands. Raises Refused."""
    name = f"{family}/{found.rule_id}.yaml"
    for path in reversed(own):
        folder = OwnFolder(path)
        text = folder.text(f"{TESTS}/{name}")
        if text is not None:
            changed = with_cases(text, found.cases)
            folder.write({f"{TESTS}/{name}": changed}, f"sharper {found.rule_id}")
            return
    shipped = shipped_rule_tests()
    if shipped.name == "rule_tests":
        raise Refused(f"{name} is shipped and stays as it is; copy it into {TESTS}/ of your folder")
    file = shipped / name
    file.write_text(with_cases(file.read_text("utf-8"), found.cases), "utf-8")
