"""``coachbot rules new``: a new rule and its test, written in a conversation."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

from coachbot.kept_talks import talks_folder
from coachbot.knowledge.problems import BrokenRules, Refused
from coachbot.workshop.drafting import Given, case_text
from coachbot.workshop.effects import (
    Effects,
    Minds,
    effects,
    kept_conversations,
    sampled_cases,
    stored_messages,
)
from coachbot.workshop.folder import OwnFolder
from coachbot.workshop.guide import NAMES, NONE, Guide, Step, Wrong
from coachbot.workshop.saving import Ready, make_ready

from . import screen
from .asking import Asks
from .replaying import pages_in
from .workshop_shown import told_effects

DRAFT = ".drafts/new-rule.json"
WORDS = (
    'Say "back" for the question before, "show" for what stands, "stop" to leave (the draft is'
    " kept)."
)


class Left(Exception):
    """The coach leaves; the draft is kept."""


class Back(Exception):
    """The coach goes to the question before."""


class Writing:
    """One guided conversation."""

    def __init__(
        self,
        minds: Minds,
        below: Sequence[Path],
        own: OwnFolder,
        asks: Asks,
        pages: Iterable[Path] = (),
        lists: Iterable[Path] = (),
    ) -> None:
        self._guide = Guide(minds)
        self._below = below
        self._own = own
        self._asks = asks
        self._pages = tuple(pages_in(pages))
        self._lists = tuple(lists)

    def hold(self) -> int:
        """Lead through the steps; 0 when a rule was saved, 1 when the coach left."""
        screen.write(f"A new rule for {self._own.path}. {WORDS}\n")
        at = self._taken_up()
        try:
            while True:
                self._ask_from(at)
                ready = self._checked()
                if ready is not None:
                    return self._save(ready)
                at = self._which_again()
        except Left:
            screen.write(
                "The draft is kept. Run the same command again to go on with it."
                if self._guide.answers
                else "Nothing was written."
            )
            return 1

    def _line(self, choices: Sequence[str] = ()) -> str:
        line = self._asks.line(choices)
        if line is None or line.strip().lower() == "stop":
            raise Left
        if line.strip().lower() == "back":
            raise Back
        return line

    def _taken_up(self) -> int:
        """Begin anew, or where an unfinished draft stopped."""
        answers = self._kept()
        if not answers:
            return 0
        first = " ".join(answers.get("case", "").split())[:60]
        screen.write(f'There is an unfinished draft ("{first}"). Go on with it? yes / no')
        answer = ""
        while answer not in {"y", "yes", "n", "no"}:
            with suppress(Back):
                answer = self._line(("yes", "no")).strip().lower()
            if answer not in {"y", "yes", "n", "no"}:
                screen.write('Please say "yes" or "no".')
        if answer in {"n", "no"}:
            stamp = datetime.now(UTC).strftime("%Y%m%d-%H%M%S")
            self._own.keep(f".drafts/put-aside-{stamp}.json", self._own.text(DRAFT) or "")
            screen.write(f"It is put aside in .drafts/put-aside-{stamp}.json.")
            return 0
        for i, step in enumerate(self._guide.steps()):
            if step.name not in answers:
                return i
            try:
                self._guide.take(step.name, answers[step.name])
            except Wrong:
                return i
        return len(self._guide.steps())

    def _kept(self) -> dict[str, str]:
        try:
            answers = json.loads(self._own.text(DRAFT) or "{}")
        except (ValueError, Refused):
            return {}
        return {k: v for k, v in answers.items() if k in NAMES and isinstance(v, str)}

    def _keep(self) -> None:
        self._own.keep(DRAFT, json.dumps(self._guide.answers, ensure_ascii=True, indent=1))

    def _ask_from(self, at: int) -> None:
        while at < len(self._guide.steps()):
            step = self._guide.steps()[at]
            try:
                self._ask(step)
                at += 1
            except Back:
                at = max(0, at - 1)
            except Wrong as wrong:
                screen.write(str(wrong))

    def _ask(self, step: Step) -> None:
        guide = self._guide
        if step.name == "conditions":
            self._conditions()
        else:
            self._question(step)
            text = self._many() if step.many else self._line(guide.choices(step.name))
            if text.strip().lower() == "show":
                self._show()
                return self._ask(step)
            guide.take(step.name, text)
        self._keep()
        if step.name == "case":
            self._told_case()
        elif step.name == "now" and (alike := guide.alike()):
            screen.write(f'Rule {alike[0]} says nearly the same: "{alike[1]}"')
        return None

    def _question(self, step: Step) -> None:
        lines = [f"\n{step.ask}"]
        default = self._guide.default(step.name)
        if step.name == "serves":
            situations = self._guide.book.situations
            likely = self._guide.likely_situations()[:6]
            lines += [f"   {s}: {situations[s].situation}" for s in likely]
            lines.append("   (or describe it in words, and I name the nearest)")
        elif step.name in {"skills", "loads", "family"}:
            lines.append(f"   ({', '.join(self._guide.choices(step.name))})")
        if default:
            lines.append(f"   (Enter takes: {default})")
        screen.write("\n".join(lines))

    def _many(self) -> str:
        lines: list[str] = []
        while True:
            line = self._line()
            if not line.strip() or line.strip().lower() in {"show", *(NONE - {""})}:
                return "\n".join([*lines, line] if line.strip() else lines)
            lines.append(line)

    def _told_case(self) -> None:
        heard = "\n".join(f"   {h}" for h in self._guide.heard())
        screen.write(f"\nI read:\n{heard}")
        now = self._guide.said_now()
        cues = "\n".join(f"   {i}. {cue} ({rule})" for i, (rule, cue) in enumerate(now, 1))
        screen.write(f"Here it says now:\n{cues}" if now else "Here it has nothing to suggest now.")

    def _conditions(self) -> None:
        """Offered conditions: the coach drops, takes and adds until it is right."""
        guide = self._guide
        screen.write("\nWhen should your advice come? These conditions hold in your case:")
        while True:
            marks = (("x" if o.taken else " ") for o in guide.offered)
            screen.write(
                "\n".join(
                    f" {i}. [{mark}] {o.when if isinstance(o.when, str) else ' or '.join(o.when)}"
                    f" ({o.plain})"
                    for i, (o, mark) in enumerate(zip(guide.offered, marks, strict=True), 1)
                )
            )
            screen.write('Say "ok", "drop 2", "take 3", or "add wall is steep".')
            line = " ".join(self._line(("ok", "drop", "take", "add")).split())
            word, _, rest = line.partition(" ")
            try:
                if word in {"ok", "yes", ""}:
                    guide.take_conditions()
                    return
                if word in {"drop", "take"}:
                    numbers = [int(n) for n in rest.replace(",", " ").split() if n.isdigit()]
                    if not numbers:
                        raise Wrong(f'Say which, such as "{word} 1".')
                    guide.drop(numbers, word == "take")
                elif word == "show":
                    self._show()
                else:
                    guide.add(rest if word == "add" else line)
            except Wrong as wrong:
                screen.write(str(wrong))

    def _show(self) -> None:
        answers = self._guide.answers
        lines = [f"   {name}: {' / '.join(answers[name].splitlines())}" for name in answers]
        screen.write("\n".join(["So far:", *lines]) if lines else "Nothing stands yet.")

    def _checked(self) -> Ready | None:
        """The near misses and the files, shown; None when a step is to be said again."""
        unwanted: list[Given] = []
        while True:
            try:
                ready = self._ready(unwanted)
            except BrokenRules as error:
                screen.write("With this rule the book would not be sound:")
                screen.write("\n".join(f"  {p}" for p in error.problems))
                return None
            near = [c for c in ready.proposal.cases if c.given not in unwanted]
            self._show_near(ready, near)
            for name, text in ready.files.items():
                screen.write(f"\n--- {self._own.path.name}/{name}")
                screen.write(text or "")
            for failure in (*ready.report.failures, *ready.report.unneeded):
                screen.write(f"The test says: {failure}")
            screen.write(
                '\nSay "save", "drop 2" (leaves near miss 2 out), "change" (a step), or "stop".'
            )
            try:
                word, _, rest = (
                    self._line(("save", "drop", "change", "stop")).strip().partition(" ")
                )
            except Back:
                return None
            if word == "save":
                return ready
            if word == "change":
                return None
            if word == "drop" and rest.isdigit() and 1 <= int(rest) <= len(near):
                unwanted.append(near[int(rest) - 1].given)

    def _ready(self, unwanted: Sequence[Given]) -> Ready:
        on = datetime.now(UTC).date()
        return make_ready(self._below, self._own, self._guide.draft, on, unwanted)

    def _show_near(self, ready: Ready, near: Sequence[object]) -> None:
        screen.write("\nIt fires in your case. Near misses, each with what it proves:")
        shown = [c for c in ready.proposal.cases if c in near]
        for i, case in enumerate(shown, 1):
            word = "fires" if case.fires else "silent"
            needed = dict.fromkeys(v.was for v in case.shows)
            screen.write(f" {i}. {word} in {case_text(case.given)}")
            screen.write("\n".join(f"     needs: {n}" for n in needed))
        for variant in ready.proposal.left:
            screen.write(f"     no case found that shows why this is needed: {variant}")

    def _which_again(self) -> int:
        names = [s.name for s in self._guide.steps()]
        screen.write(f"Which step again? {', '.join(names)}")
        while True:
            try:
                name = self._line(names).strip().lower()
            except Back:
                return len(names) - 1
            if name in names:
                return names.index(name)
            screen.write("Name one of these steps.")

    def _save(self, ready: Ready) -> int:
        draft = ready.draft
        try:
            self._own.write({**ready.files, DRAFT: None}, f"new rule {draft.id}")
        except Refused as refused:
            screen.write(str(refused))
            raise Left from None
        screen.write(f"Saved {self._own.path / draft.file} and its test.")
        report = ready.report
        passed = not report.failures and not report.unneeded
        screen.write(
            f"Its test {'passes' if passed else 'does not pass yet'}: {report.cases} cases."
        )
        after = Minds.of(ready.after, self._guide.minds)
        place, holds = self._guide.place_in(after, draft.id), self._guide.holds_in(after)
        found = self._effects(after, ready)
        after.close()
        screen.write(self._outcome_of(place, holds))
        screen.write("\n".join(["", *told_effects(found, screen.width())]))
        screen.write(
            'Keep it? Say "keep", or "undo" to take it back. (Later: coachbot rules undo.)'
        )
        with suppress(Back, Left):
            if self._line(("keep", "undo")).strip().lower() == "undo":
                self._own.undo()
                screen.write("Taken back. The files are as they were, and the draft is kept.")
                return 1
        return 0

    def _outcome_of(self, place: int | None, holds: bool) -> str:
        then = self._guide.draft.then
        if then and holds:
            return f"In your case it now holds that {' and '.join(then)}."
        if then:
            return (
                "In your case it does not hold in the end: another rule concludes something else."
            )
        if place:
            return f"In your case it comes as number {place}."
        return (
            "In your case it is not among the suggestions: others are much stronger, or"
            " safety holds it back. Strength and sureness decide the place."
        )

    def _effects(self, after: Minds, ready: Ready) -> Effects:
        return effects(
            self._guide.minds,
            after,
            list(kept_conversations(self._pages)),
            list(stored_messages(talks_folder(), self._lists)),
            list(sampled_cases(ready.tests)),
        )
