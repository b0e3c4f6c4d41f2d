"""Which plan fits a case."""

from __future__ import annotations

from collections.abc import Sequence

from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.model import Doses, Ground

from .circuits import circuit, endurance, flash_grade
from .fingers import hangs
from .grading import table
from .limits import Facts, Limits, first, limits, number, texts
from .model import Detail, Plan, Session, Week
from .rests import rests
from .session import session, warm_up
from .week import week

WANTS_TRAINING = {"plan", "drill"}


def plan_for(book: RuleBook, facts: Facts) -> Plan | None:
    """The plan that the facts ask for, or None when they ask for none.

    ``facts`` are the values by fact after a run, said and concluded; grades are orders on the
    book's ladder. What safety holds back is left out and named in ``held_back``.
    """
    doses = book.doses
    wanted = _wanted(facts)
    if doses is None or wanted is None:
        return None
    held = limits(book, doses, facts)
    if wanted == "grades":
        return _grades(book, doses, facts)
    if held.stop:
        notes = (doses.cautions.stop,)
        return Plan(title="No practice plan now", detail=None, held_back=(held.stop,), notes=notes)
    return _PLANS[wanted](book, doses, facts, held)


def _wanted(facts: Facts) -> str | None:
    asked = texts(facts, "asks_for")
    for value, plan in _BY_REQUEST:
        if value in asked:
            return plan
    limit, trouble = texts(facts, "limit"), texts(facts, "trouble")
    training = bool(asked & WANTS_TRAINING)
    known_grade = _order(facts, "climber_grade") is not None
    if "fingers" in limit and (training or texts(facts, "training_tool")):
        return "hangs"
    if "power_endurance" in limit or "runs_out_of_power" in trouble:
        return "circuit" if training or known_grade else None
    if "endurance" in limit or "pumped_easy" in trouble:
        return "endurance" if training or known_grade else None
    if "pockets" in texts(facts, "learning") and training:
        return "hangs"
    if "plan" in asked:
        return "week" if number(facts, "sessions_a_week") else "session"
    return None


_BY_REQUEST = (
    ("week_plan", "week"),
    ("session_plan", "session"),
    ("warm_up", "warm_up"),
    ("rest", "rests"),
    ("grade_talk", "grades"),
)


def _order(facts: Facts, name: str) -> int | None:
    value = number(facts, name)
    return None if value is None else int(value)


def _grades(book: RuleBook, doses: Doses, facts: Facts) -> Plan:
    order = _order(facts, "problem_grade")
    order = _order(facts, "climber_grade") if order is None else order
    detail = table(book.ladder, order)
    return _plan("Grades side by side", detail, book, doses.grades.ground, doses.grades.notes)


def _circuit(book: RuleBook, doses: Doses, facts: Facts, held: Limits) -> Plan:
    dose, usual = doses.circuit, _order(facts, "climber_grade")
    load = held.blocks("hard_climbing")
    if load or held.stage == "child":
        why = held.held[load] if load else doses.cautions.child
        out = (f"Hard circuits: {why}.",)
        return _laps(book, doses, usual, held, out)
    flash = None if usual is None else flash_grade(dose, book.ladder, usual)
    notes = list(dose.notes)
    if flash is not None:
        notes.insert(0, dose.flash_note.format(flash=book.ladder.name(flash)))
    detail = circuit(dose, book.ladder, flash)
    return _plan("Power-endurance circuit", detail, book, dose.ground, notes)


def _endurance(book: RuleBook, doses: Doses, facts: Facts, held: Limits) -> Plan:
    return _laps(book, doses, _order(facts, "climber_grade"), held, ())


def _laps(
    book: RuleBook, doses: Doses, usual: int | None, held: Limits, out: tuple[str, ...]
) -> Plan:
    dose = doses.endurance
    detail = endurance(dose, book.ladder, usual)
    notes = [*dose.notes, *_fingers(doses, held)]
    return _plan("Long easy laps", detail, book, dose.ground, notes, out)


def _hangs(book: RuleBook, doses: Doses, facts: Facts, held: Limits) -> Plan:
    dose = doses.hangs
    age, fits, history = (
        number(facts, "age"),
        first(facts, "hang_dose"),
        first(facts, "hang_history"),
    )
    detail = hangs(dose, str(fits or "light"), age, str(history), held)
    out = []
    notes: list[str] = []
    if detail.dose == "none":
        load = held.blocks("hang_training", "finger_load")
        why = held.held[load] if load else f"none under {dose.not_under_age}"
        out.append(f"Hang training: {why}.")
    else:
        notes += dose.notes
        if "added_weight" in held.held:
            out.append(f"Added weight: {held.held['added_weight']}.")
        if "pockets" in texts(facts, "learning"):
            detail = detail.model_copy(update={"pockets": dose.pockets})
        if age is None:
            notes.append(dose.age_unknown)
    if "campus" in held.held and "campus_board" in texts(facts, "training_tool"):
        out.append(f"Campus board: {held.held['campus']}.")
    ground = [*dose.ground, *doses.campus.ground]
    return _plan("Finger training", detail, book, ground, notes, tuple(out))


def _session(book: RuleBook, doses: Doses, facts: Facts, held: Limits) -> Plan:
    dose = doses.session
    asked = number(facts, "session_minutes")
    minutes = dose.usual if asked is None else min(max(round(asked), dose.shortest), dose.longest)
    notes = [*dose.notes, *_fingers(doses, held)]
    if asked is None:
        notes.append(f"Planned for {minutes} minutes; say how many you have.")
    elif minutes != asked:
        span = f"{dose.shortest} to {dose.longest} minutes"
        notes.append(f"A session is planned for {span}, so this one is for {minutes}.")
    if held.stage == "child" and "hard_climbing" not in held.held:
        reasons = {**held.held, "hard_climbing": doses.cautions.child}
        held = Limits(reasons, held.stop, held.stage)
    detail = session(doses, book.ladder, minutes, _order(facts, "climber_grade"), held)
    ground = [*dose.ground, *doses.circuit.ground[:1]]
    title = f"A session of {minutes} minutes"
    return _plan(title, detail, book, ground, notes, _left_out(detail, held))


def _week(book: RuleBook, doses: Doses, facts: Facts, held: Limits) -> Plan:
    dose = doses.week
    asked = number(facts, "sessions_a_week")
    sessions = 2 if asked is None else max(round(asked), 1)
    minutes = number(facts, "session_minutes")
    detail = week(dose, sessions, round(minutes) if minutes else doses.session.usual, held)
    notes = [*_fingers(doses, held), *dose.notes]
    if asked is None:
        notes.insert(0, "Planned for two sessions; say how many you can do.")
    elif asked > dose.most_days:
        notes.insert(0, f"At most {dose.most_days} sessions: one day stays free for rest.")
    if held.stage in {"child", "growing"}:
        notes.insert(0, dose.child_note if held.stage == "child" else dose.growing_note)
    count = min(sessions, dose.most_days)
    title = f"A week with {count} session{'s' if count > 1 else ''}"
    return _plan(title, detail, book, dose.ground, notes, _left_out(detail, held))


def _warm_up(book: RuleBook, doses: Doses, facts: Facts, held: Limits) -> Plan:
    dose = doses.warm_up
    asked = number(facts, "session_minutes")
    minutes = dose.usual if asked is None or asked > dose.most else round(asked)
    detail = warm_up(dose, book.ladder, minutes, _order(facts, "climber_grade"))
    return _plan("Warm-up", detail, book, dose.ground, [*dose.notes, *_fingers(doses, held)])


def _rests(book: RuleBook, doses: Doses, _facts: Facts, _held: Limits) -> Plan:
    dose = doses.rests
    return _plan("Rest between tries", rests(dose), book, dose.ground, dose.notes)


_PLANS = {
    "circuit": _circuit,
    "endurance": _endurance,
    "hangs": _hangs,
    "session": _session,
    "week": _week,
    "warm_up": _warm_up,
    "rests": _rests,
}


def _left_out(detail: Session | Week, held: Limits) -> tuple[str, ...]:
    return tuple(f"{part.title}: {held.held[part.load]}." for part in detail.left_out)


def _fingers(doses: Doses, held: Limits) -> list[str]:
    return [doses.cautions.fingers] if held.blocks("finger_load") else []


def _plan(
    title: str,
    detail: Detail,
    book: RuleBook,
    ground: Sequence[Ground],
    notes: Sequence[str],
    out: tuple[str, ...] = (),
) -> Plan:
    shown = tuple(dict.fromkeys(_told(g, book) for g in ground))
    return Plan(title=title, detail=detail, held_back=out, notes=tuple(notes), ground=shown)


def _told(ground: Ground, book: RuleBook) -> str:
    source = book.sources.get(ground.key)
    return f"{source.cite if source else 'common practice, no source'}: {ground.says}"
