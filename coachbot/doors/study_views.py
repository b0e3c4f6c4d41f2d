"""What study shows without asking: what is due, progress, the staff, disputes, cases."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from random import Random

from coachbot.knowledge.problems import Refused
from coachbot.study import charts, staff
from coachbot.study.exercises import Room
from coachbot.study.learner import Learner
from coachbot.study.mastery import Share, families, family_of, shares, skills
from coachbot.study.scheduling import forecast, repeated_right
from coachbot.study.weighing import Verdict

from . import screen
from .study import opened, trainee

SHOWN = 12


def plan(own: tuple[Path, ...], name: str | None, minutes: float) -> None:
    """What comes today, and what the days after bring."""
    with opened(own) as (room, store):
        now = datetime.now(UTC)
        learner = Learner(room, store, trainee(name), Random(), now)
        today = learner.today(now, minutes)
        cards = learner.cards()
        parts = [f"Today, about {minutes:g} minutes:"]
        if today.repeat:
            parts.append("To repeat, most faded first:")
            for key in today.repeat:
                recall = learner.schedule.recall(cards[key], now)
                parts.append(f"  {described(room, key)} (recall {recall:.0%})")
        if today.new:
            parts.append("New:")
            parts += [f"  {described(room, key)}" for key in today.new[:SHOWN]]
            if len(today.new) > SHOWN:
                parts.append(f"  and {len(today.new) - SHOWN} more")
        if today.left_over:
            parts.append(f"{today.left_over} more are due; they wait for the next days.")
        days = Counter((c.due - now).days + 1 for c in cards.values() if c.due > now)
        week = [f"{days[d]} in {d} {'day' if d == 1 else 'days'}" for d in sorted(days) if d <= 7]
        if week:
            parts.append(f"Coming: {', '.join(week)}.")
        screen.write("\n".join(parts))


def mastery(own: tuple[Path, ...], name: str | None, minutes: float, svg: Path | None) -> None:
    """Mastery by family and skill, and when each family will be known."""
    with opened(own) as (room, store):
        now = datetime.now(UTC)
        learner = Learner(room, store, trainee(name), Random(), now)
        answers = store.answers(learner.id)
        if not answers:
            screen.write(f"{learner.name} has not answered anything yet: coachbot study")
            return
        by_family = shares(answers, families(room.book))
        right = sum(a.verdict == Verdict.RIGHT for a in answers)
        screen.write(
            f"{learner.name}: {right} of {len(answers)} answers right. Weakest first; the dashes"
            " are the 95 % interval (Wilson).\n"
        )
        _bars(by_family)
        screen.write("\nSkills:\n")
        _bars(shares(answers, skills(room.book))[:SHOWN])
        share = repeated_right([(a.key, Verdict(a.verdict)) for a in answers])
        screen.write(f"\nKnown for three weeks and more, with {minutes:g} minutes a day:")
        screen.write(_forecasts(room, learner, share, now, minutes))
        _save(svg, f"{learner.name}: right answers by family", by_family)


def _forecasts(room: Room, learner: Learner, share: float, now: datetime, minutes: float) -> str:
    cards = learner.cards()
    by_family: dict[str, list[str]] = {}
    for key in learner.order:
        if not key.startswith("rule:"):
            by_family.setdefault(family_of(room.book, key), []).append(key)
    lines = []
    for family, keys in by_family.items():
        known = sum(k in cards and learner.schedule.is_known(cards[k]) for k in keys)
        days = forecast(
            learner.schedule, learner.order, cards, keys, share, now, minutes, learner.pace()
        )
        when = (
            "now"
            if days == 0
            else "not foreseeable at this rate"
            if days is None
            else f"about {days} days"
        )
        lines.append(f"  {family:<18} {known:>3} of {len(keys):<3} known; nine in ten: {when}")
    return "\n".join(lines)


def overview(own: tuple[Path, ...], svg: Path | None) -> None:
    """Where the whole staff is weak."""
    with opened(own) as (room, store):
        seen = staff.overview(room.book, store)
        if not seen.by_trainee:
            screen.write("Nobody has answered anything yet.")
            return
        screen.write("By trainee (right answers, weakest first):\n")
        _bars(seen.by_trainee)
        screen.write("\nBy family:\n")
        _bars(seen.by_family)
        screen.write("\nWeakest skills:\n")
        _bars(seen.by_skill[:SHOWN])
        if seen.unsafe:
            screen.write("\nUnsafe answers came in cases about:")
            screen.write("\n".join(f"  {rule} ({n})" for rule, n in seen.unsafe[:SHOWN]))
        if seen.disputed:
            screen.write("\nOften disputed:")
            screen.write(
                "\n".join(f"  {rule}: {n}, upheld {u}" for rule, n, u in seen.disputed[:SHOWN])
            )
        _save(svg, "Staff: right answers by family", seen.by_family)


def disputes(own: tuple[Path, ...], all_of_them: bool) -> None:
    """The disputed marks, for the coach to settle."""
    with opened(own) as (_, store):
        found = store.disputes(all_of_them)
        if not found:
            screen.write("No mark is disputed.")
        for d in found:
            word = "the trainee is right" if d.upheld else "the mark stands"
            settled = "" if d.upheld is None else f"\n   Settled: {word}. {d.reply or ''}"
            screen.write(
                f"{d.id}. {d.answer.trainee}, case {d.answer.number}, rule {d.answer.rule or '-'}\n"
                f"   Story: {d.answer.told}\n   Answer: {d.answer.said}\n"
                f"   Mark: {d.answer.verdict}\n   Disputed: {d.words}{settled}\n"
            )


def settle(own: tuple[Path, ...], number: int, upheld: bool, reply: str) -> None:
    """Decide a disputed mark."""
    with opened(own) as (_, store):
        if not store.settle(number, upheld, reply, datetime.now(UTC)):
            raise Refused(f'There is no dispute {number}. "coachbot study disputes" lists them')
        word = "The answer counts as right from now on." if upheld else "The mark stands."
        screen.write(word)


def pinned(own: tuple[Path, ...]) -> None:
    """The cases that the coach gives to everybody, and what the rules say to them."""
    with opened(own) as (room, _):
        study = room.deck.study
        for name, case in study.pinned.items():
            advice, _ = room.coach.advise(room.deck.pinned(name, 1).case, ask=False)
            said = {s.rule for s in advice.suggestions}
            first = advice.suggestions[0].now if advice.suggestions else "nothing yet"
            missing = [w for w in case.wants if w not in said]
            warning = (
                f"\n   NOT among the suggestions today: {', '.join(missing)}" if missing else ""
            )
            screen.write(f"{name}: {case.title} ({case.by})\n   First: {first}{warning}")
        screen.write(
            '\nTo add one, write it under "pinned:" in cases.yaml of your own rule folder and give'
            " that folder with --rules."
        )


def described(room: Room, key: str) -> str:
    """A card in plain words."""
    kind, _, name = key.partition(":")
    book = room.book
    if kind == "case" and name in room.deck.study.pinned:
        return f"your coach's case: {room.deck.study.pinned[name].title}"
    if kind == "situation" and name in book.situations:
        return f"{book.situations[name].family}: {book.situations[name].situation}"
    return f"rule {name}"


def _bars(found: Sequence[Share]) -> None:
    screen.write_as_it_is(charts.bars(found, min(80, screen.width())) + "\n")


def _save(path: Path | None, title: str, found: Sequence[Share]) -> None:
    if path is None:
        return
    try:
        path.write_text(charts.svg(title, found), encoding="utf-8")
    except OSError as error:
        raise Refused(f"{path} cannot be written: {error.strerror}") from None
    screen.write(f"\nDrawn in {path}")
