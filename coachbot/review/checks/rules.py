"""Rules that do nothing, say the same, or carry conditions that change nothing."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from rapidfuzz import fuzz, process, utils

from coachbot.engine.logic import tests_of
from coachbot.engine.model import All, Any, Condition, Op, Test, Value
from coachbot.knowledge.book import ReadRule
from coachbot.knowledge.conditions import sentence
from coachbot.knowledge.reading import Loc
from coachbot.review.findings import Audited, Check, Finding, Severity

# Two cues that are alike to this degree (0 to 100, order of words aside) say the same.
ALIKE = 88

Conclusion = tuple[str, Value]


@dataclass(frozen=True, slots=True)
class Part:
    """One condition inside a rule, its place in the file, and the rule's condition without it."""

    at: Loc
    part: Condition
    alternative: bool
    without: Condition


def parts_of(when: Condition) -> Iterator[Part]:
    """Every condition of a rule with what is left when it is taken out, outer ones first."""
    yield from _parts(when, ("when",))


def _parts(when: Condition, at: Loc) -> Iterator[Part]:
    if isinstance(when, Test):
        return
    group = type(when)
    for i, part in enumerate(when.parts):
        here = (*at, i)
        if isinstance(when, All) or len(when.parts) > 1:
            rest = when.parts[:i] + when.parts[i + 1 :]
            yield Part(here, part, group is Any, group(rest))
        inside = (
            here if isinstance(part, Test) else (*here, "any" if isinstance(part, Any) else "all")
        )
        for inner in _parts(part, inside):
            changed = (*when.parts[:i], inner.without, *when.parts[i + 1 :])
            yield Part(inner.at, inner.part, inner.alternative, group(changed))


def never_fires(audited: Audited) -> Iterator[Finding]:
    cases = audited.cases
    for rule in audited.rules:
        if rule.id not in audited.never_fire:
            continue
        parts = rule.when.parts if isinstance(rule.when, All) else (rule.when,)
        dead = [
            i
            for i, part in enumerate(parts)
            if not cases.solver.possible(cases.solver.literal(part))
        ]
        if dead:
            reason = f'"{sentence(parts[dead[0]])}" holds in no case'
        else:
            reason = _clash(audited, parts)
        yield Finding(
            "never-fires", Severity.WRONG, (rule.id,),
            audited.places.rule(rule.id, ("when", dead[0] if dead else 0)),
            f"{rule.id} can never fire: {reason}.",
            "Mend the condition, let something conclude it, or take the rule out.",
        )  # fmt: skip


def _clash(audited: Audited, parts: Sequence[Condition]) -> str:
    """Two conditions that exclude each other, or the fact that all together do."""
    cases = audited.cases
    for one, other in combinations(parts, 2):
        both = [cases.solver.literal(one), cases.solver.literal(other)]
        if not cases.solver.possible(*both):
            return f'"{sentence(one)}" and "{sentence(other)}" never hold together'
    return "its conditions never hold together"


def never_shown(audited: Audited) -> Iterator[Finding]:
    cases = audited.cases
    kept = {
        rule.id: cases.kept(rule.id)
        for rule in audited.rules
        if rule.rule.suggest is not None and rule.id not in audited.never_fire
    }
    possible = cases.solver.possible_each(kept.values())
    for rule, literal in kept.items():
        if literal not in possible:
            yield Finding(
                "never-shown", Severity.WRONG, (rule,),
                audited.places.rule(rule, ("suggest",)),
                f"{rule} fires, but its suggestion is held back or hidden in every case.",
                "Mend its loads or its conditions.",
            )  # fmt: skip


def dead_condition(audited: Audited) -> Iterator[Finding]:
    """A condition that holds in no case; where it stands alone, the rule never fires anyway."""
    solver = audited.cases.solver
    asked = [
        (rule, part, solver.literal(part.part))
        for rule in audited.rules
        if rule.id not in audited.never_fire
        for part in parts_of(rule.when)
        if isinstance(part.part, Test)
    ]
    possible = solver.possible_each(literal for _, _, literal in asked)
    for rule, part, literal in asked:
        if literal not in possible:
            yield Finding(
                "dead-condition", Severity.DOUBTFUL, (rule.id, sentence(part.part)),
                audited.places.rule(rule.id, part.at),
                f'"{sentence(part.part)}" in {rule.id} holds in no case.',
                "Give the value words, a question or a rule that concludes it, or take the "
                "condition out.",
            )  # fmt: skip


def needless_condition(audited: Audited) -> Iterator[Finding]:
    solver = audited.cases.solver
    # All literals are made before the first question: a program that grows is searched anew.
    asked = [
        (rule, part, solver.literal(rule.when), solver.literal(part.without))
        for rule in audited.rules
        if rule.id not in audited.never_fire
        for part in parts_of(rule.when)
        if not _surely_needed(audited, rule, part)
    ]
    for rule, part, whole, changed in asked:
        differs = (whole, -changed) if part.alternative else (changed, -whole)
        if solver.possible(*differs) or not solver.possible(solver.literal(part.part)):
            continue  # needed, or told as a dead condition
        what = "adds no case to the others" if part.alternative else "is true where it stands"
        yield Finding(
            "needless-condition", Severity.DOUBTFUL, (rule.id, sentence(part.part)),
            audited.places.rule(rule.id, part.at),
            f'"{sentence(part.part)}" in {rule.id} {what}: the rule fires in the same cases '
            "without it.",
            "Take it out, or write what was meant.",
        )  # fmt: skip


def _surely_needed(audited: Audited, rule: ReadRule, part: Part) -> bool:
    """Whether a condition of a rule that fires stands on a fact of its own.

    When no other part depends on a fact that only people give, it can be left unsaid, or said,
    without changing the others. Most conditions are like that and need no search.
    """
    test, cases = part.part, audited.cases
    if not isinstance(test, Test) or len(part.at) != 2 or test.attribute in audited.made:
        return False
    others = tests_of(part.without)
    if test.attribute in cases.cone(when=others):
        return False
    domain = cases.space.get(test.attribute)
    return test.op is not Op.UNKNOWN or bool(domain and domain.values)


def pointless_rule(audited: Audited) -> Iterator[Finding]:
    yield from (f for f in _doubled(audited) if f.check == "pointless-rule")


def same_rule(audited: Audited) -> Iterator[Finding]:
    yield from (f for f in _doubled(audited) if f.check == "same-rule")


def _doubled(audited: Audited) -> Iterator[Finding]:
    """Rules that only conclude, and whose conclusions others always make in their cases."""
    cases, solver = audited.cases, audited.cases.solver
    makers = _makers(audited)
    for rule in audited.rules:
        if not _only_concludes(rule) or rule.id in audited.never_fire:
            continue
        conclusions = _conclusions(rule)
        others = {c: [m for m in makers[c] if m != rule.id] for c in conclusions}
        names = tuple(dict.fromkeys(m for group in others.values() for m in group))
        if not all(others.values()) or _leads_to(audited, rule, names):
            continue
        fired = cases.fired(rule.id)
        # A copied value is concluded only with its own value, which the engine's names tell.
        unmade = solver.any_of(
            solver.all_of([cases.concluding(rule.id, c), *(-cases.concluding(m, c) for m in group)])
            for c, group in others.items()
        )
        if solver.possible(unmade):
            continue
        wider = [
            m
            for m in names
            if set(conclusions) <= set(_conclusions(cases.book.rules[m]))
            and not solver.possible(fired, -cases.fired(m))
        ]
        same = [
            m
            for m in wider
            if _only_concludes(cases.book.rules[m])
            and set(conclusions) == set(_conclusions(cases.book.rules[m]))
            and not solver.possible(cases.fired(m), -fired)
        ]
        if same:
            if min(same) < rule.id and audited.looks_at(min(same)):
                continue  # told once, of the first of them
            told = f"{rule.id} and {same[0]} fire in the same cases and conclude the same."
        elif wider:
            told = (
                f"{rule.id} is pointless: {wider[0]} fires in all its cases and concludes the same."
            )
        else:
            told = (
                f"{rule.id} is pointless: in each of its cases {' or '.join(names)} concludes the "
                "same."
            )
        involved = (same or wider)[:1] or list(names)
        yield Finding(
            "same-rule" if same else "pointless-rule", Severity.DOUBTFUL, (rule.id, *involved),
            audited.places.rule(rule.id, ("then",)), told,
            "Take one of them out, or let the special one say something of its own.",
            also=tuple(audited.places.rule(m) for m in involved),
        )  # fmt: skip


def split_rule(audited: Audited) -> Iterator[Finding]:
    """Two rules that conclude the same and between them cover a condition that neither needs."""
    cases, solver = audited.cases, audited.cases.solver
    groups: dict[frozenset[Conclusion], list[ReadRule]] = defaultdict(list)
    for rule in audited.book.rules.values():
        if _only_concludes(rule) and rule.then and not rule.copies:
            groups[frozenset(rule.then)].append(rule)
    for group in groups.values():
        for one, other in combinations(group, 2):
            ids = (one.id, other.id)
            if not audited.looks_at(*ids) or not audited.never_fire.isdisjoint(ids):
                continue
            fired = (cases.fired(one.id), cases.fired(other.id))
            if not all(solver.possible(a, -b) for a, b in (fired, fired[::-1])):
                continue  # told as pointless
            for part in parts_of(one.when):
                wider = solver.literal(part.without)
                if (
                    not part.alternative
                    and solver.possible(wider, -fired[0])
                    and not solver.possible(wider, -fired[0], -fired[1])
                ):
                    yield Finding(
                        "split-rule", Severity.UNTIDY, ids,
                        audited.places.rule(one.id, part.at),
                        f'{one.id} and {other.id} conclude the same, and together they do not need '
                        f'"{sentence(part.part)}".',
                        "Make one rule of them without that condition.",
                        also=(audited.places.rule(other.id),),
                    )  # fmt: skip
                    break


def same_words(audited: Audited) -> Iterator[Finding]:
    """Cues that say the same in nearly the same words."""
    said = [(r.id, r.rule.suggest.now) for r in audited.book.rules.values() if r.rule.suggest]
    texts = [now for _, now in said]
    sorted_words = [" ".join(sorted(utils.default_process(text).split())) for text in texts]
    for i, (rule, _) in enumerate(said):
        if not audited.looks_at(rule):
            continue
        alike = process.extract(
            sorted_words[i], sorted_words, scorer=fuzz.ratio, score_cutoff=ALIKE, limit=None
        )
        for j in sorted(index for _, _, index in alike):
            if i == j or (i > j and audited.looks_at(said[j][0])):
                continue
            pair = (said[i][0], said[j][0])
            yield Finding(
                "same-words", Severity.DOUBTFUL, pair,
                audited.places.rule(pair[0], ("suggest", "now")),
                f'{pair[0]} and {pair[1]} say nearly the same: "{texts[i]}" and "{texts[j]}"',
                "Keep one of them, or say what is different.",
                also=(audited.places.rule(pair[1], ("suggest", "now")),),
            )  # fmt: skip


def _only_concludes(rule: ReadRule) -> bool:
    says = rule.rule
    return not (says.suggest or says.caution or says.reply or says.stop)


def _conclusions(rule: ReadRule) -> tuple[Conclusion, ...]:
    return tuple(dict.fromkeys(c for e in rule.for_engine() for c in e.then))


def _makers(audited: Audited) -> dict[Conclusion, list[str]]:
    makers: dict[Conclusion, list[str]] = defaultdict(list)
    for rule in audited.book.rules.values():
        for conclusion in _conclusions(rule):
            makers[conclusion].append(rule.id)
    return makers


def _leads_to(audited: Audited, rule: ReadRule, others: Iterable[str]) -> bool:
    """Whether the others may fire only because of what this rule concludes."""
    made = {name for name, _ in _conclusions(rule)}
    reads = {t.attribute for m in others for t in tests_of(audited.book.rules[m].when)}
    reached = audited.cases.solver.cone_of(attributes=reads)
    return not made.isdisjoint(reached)


CHECKS = (
    Check(
        "never-fires", Severity.WRONG, "can each rule fire in some case?", True, never_fires
    ),
    Check(
        "never-shown", Severity.WRONG,
        "can each suggestion be shown in some case?", True, never_shown,
    ),
    Check(
        "dead-condition", Severity.DOUBTFUL,
        "can each single condition hold in some case?", True, dead_condition,
    ),
    Check(
        "needless-condition", Severity.DOUBTFUL,
        "does each condition, or alternative, change when its rule fires?", True,
        needless_condition,
    ),
    Check(
        "pointless-rule", Severity.DOUBTFUL,
        "does each rule conclude something that others do not conclude anyway?", True,
        pointless_rule,
    ),
    Check(
        "same-rule", Severity.DOUBTFUL,
        "do two rules fire in the same cases and conclude the same?", True, same_rule,
    ),
    Check(
        "split-rule", Severity.UNTIDY,
        "do two rules part on a condition that neither needs?", True, split_rule,
    ),
    Check(
        "same-words", Severity.DOUBTFUL,
        "do two suggestions say the same in nearly the same words?", False, same_words,
    ),
)  # fmt: skip
