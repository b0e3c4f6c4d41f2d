"""What differs in meaning between two rule sets, against going through every case.

No published values: the meaning of rules is the engine's, and every case of small rule sets is
looked at one by one.
"""

from __future__ import annotations

from copy import deepcopy
from random import Random

import pytest

from coachbot.knowledge.book import RuleBook
from coachbot.review.comparing import Comparison, Fires, compare
from coachbot.review.variants import Variants
from tests.review.every_case import EveryCase, sayable_facts
from tests.review.generated_books import FACTS, WORDS, book_of, random_rules, said_otherwise
from tests.review.small import asked, choice, number, rule, small_book, suggest, yes_no

SEEDS = 60


@pytest.mark.parametrize("seed", range(SEEDS))
def test_the_same_said_otherwise_is_no_change(seed: int) -> None:
    rng = Random(seed)
    rules = random_rules(rng)
    found = compare(book_of(rules), book_of(said_otherwise(rng, rules)))
    assert found.same, found
    assert not found.noted


@pytest.mark.parametrize("seed", range(SEEDS))
def test_a_planted_change_is_found_with_a_smallest_case(seed: int) -> None:
    """One condition of one rule is removed, loosened or turned round; nothing else is changed."""
    rng = Random(seed)
    rules = random_rules(rng)
    before = book_of(said_otherwise(rng, rules))
    after = book_of(rules)
    chosen = rng.choice([r for r in after.rules.values() if len(r.when.parts) > 1] or [None])
    if chosen is None:
        pytest.skip("no rule has two conditions")
    variant = rng.choice(list(Variants(after).of(chosen.when)))
    changed = type(chosen)(
        chosen.id, chosen.family, chosen.place, chosen.rule, variant.when, chosen.then
    )
    after = type(after)(**{**_fields(after), "rules": {**after.rules, chosen.id: changed}})
    agrees_with_every_case(before, after, compare(before, after))


@pytest.mark.parametrize("seed", range(SEEDS))
def test_any_two_rule_sets_are_told_apart_as_by_every_case(seed: int) -> None:
    """Rules new, gone, and others under the same names."""
    rng = Random(1000 + seed)
    rules = random_rules(rng)
    others = deepcopy(rules) | {n: s for n, s in random_rules(rng).items() if rng.random() < 0.4}
    for name in list(others):
        if rng.random() < 0.15:
            del others[name]
    before, after = book_of(rules), book_of(others)
    agrees_with_every_case(before, after, compare(before, after))


def agrees_with_every_case(before: RuleBook, after: RuleBook, found: Comparison) -> None:
    facts = sayable_facts(before, after)
    old, new = EveryCase(before, facts), EveryCase(after, facts)
    renamed_from = {one for one, _ in found.renamed}
    renamed_to = {other for _, other in found.renamed}
    for one, other in found.renamed:
        assert old.fired(one) == new.fired(other)
    gone = {o.rule: o.case for o in found.removed}
    come = {o.rule: o.case for o in found.added}
    assert set(gone) | renamed_from == set(before.rules) - set(after.rules)
    assert set(come) | renamed_to == set(after.rules) - set(before.rules)
    for told, table in ((gone, old), (come, new)):
        for rule_id, case in told.items():
            assert (case.size if case else None) == table.smallest(table.fired(rule_id))
    changes = {c.rule: c for c in found.changed}
    for rule_id in before.rules.keys() & after.rules.keys():
        was, now = old.fired(rule_id), new.fired(rule_id)
        lost, won = set(), set()
        for name, value in {
            (n, v)
            for b in (before, after)
            for e in b.rules[rule_id].for_engine()
            for n, v in e.then
        }:
            made, makes = old.concluding(rule_id, name, value), new.concluding(rule_id, name, value)
            if was & now & made & ~makes:
                lost.add(f"{name} is {value}")
            if was & now & makes & ~made:
                won.add(f"{name} is {value}")
        says = before.rules[rule_id].rule.suggest != after.rules[rule_id].rule.suggest
        differs = bool(was ^ now or lost or won or says)
        assert (rule_id in changes) == differs, rule_id
        if not differs:
            continue
        change = changes[rule_id]
        fits(old, change.fires, was, now)
        assert set(change.lost) == lost
        assert set(change.won) == won
        every = [was ^ now, was & now if says else 0]
        if not lost and not won:
            smallest = min((s for m in every if (s := old.smallest(m)) is not None), default=None)
            assert (change.case.size if change.case else None) == smallest
    for name in FACTS:
        asked_before = old.holds(before.ask_when[name])
        asked_after = new.holds(after.ask_when[name])
        told = next((q for q in found.questions if q.fact == name), None)
        if FACTS[name].get("asked"):
            assert (told is not None) == (asked_before != asked_after)
            fits(old, told.fires if told else Fires(), asked_before, asked_after)


def fits(table: EveryCase, fires: Fires, was: int, now: int) -> None:
    """The told cases are among the differing ones, and none of those is smaller."""
    for case, where in ((fires.no_longer, was & ~now), (fires.now_also, now & ~was)):
        assert (case is None) == (where == 0)
        if case is not None:
            assert where & table.only(case.case)
            assert case.size == table.smallest(where)


def _fields(book: RuleBook) -> dict[str, object]:
    return {name: getattr(book, name) for name in book.__dataclass_fields__}


# Worked by hand

SLIPS = rule("trouble is slips", "hold is sloper", suggest=suggest("Hang low."))


def one(spec: dict[str, object], **rules: dict[str, object]) -> RuleBook:
    return book_of({"low": spec, **rules})


def test_a_lost_condition_is_told_in_words() -> None:
    after = rule("trouble is slips", suggest=suggest("Hang low."))
    (change,) = compare(one(SLIPS), one(after)).changed
    assert change.fires.no_longer is None
    assert change.fires.now_also is not None
    assert change.fires.now_also.written == ("trouble is slips",)
    assert str(change.case) == "is slips"


def test_what_is_said_otherwise_is_told_with_the_case_in_which_it_is_said() -> None:
    after = rule("hold is sloper", "trouble is slips", suggest=suggest("Hang lower.", strength=0.5))
    (change,) = compare(one(SLIPS), one(after)).changed
    assert not change.fires
    assert [(f.name, f.before, f.after) for f in change.fields] == [
        ("now", "Hang low.", "Hang lower."), ("strength", "0.8", "0.5"),
    ]  # fmt: skip
    assert change.spoken is not None
    assert change.spoken.size == 2


def test_spaces_notes_and_the_order_of_loads_are_no_change_of_meaning() -> None:
    before = rule("trouble is slips", suggest=suggest("Hang low.", loads=["climbing", "jump"]))
    after = rule("trouble is slips", suggest=suggest("Hang  low.", loads=["jump", "climbing"]))
    found = compare(one(before), one(after | {"author": "Tomas"}))
    assert found.same
    assert found.noted == ("low",)


def test_another_conclusion_is_told_with_its_case() -> None:
    before = rule("trouble is slips", then=["means is weak", "marks is red"])
    after = rule("trouble is slips", then=["marks is red", "marks is blue", "means is weak"])
    (change,) = compare(one(before), one(after)).changed
    assert (change.lost, change.won) == ((), ("marks is blue",))
    assert change.concludes is not None
    assert change.concludes.written == ("trouble is slips",)


def test_a_rule_that_changed_through_another_one_names_it() -> None:
    reads = rule("means is weak", suggest=suggest("Rest."))
    before = one(rule("trouble is slips", then=["means is weak"]), rest=reads)
    after = one(rule("trouble is swings", then=["means is weak"]), rest=reads)
    found = {c.rule: c for c in compare(before, after).changed}
    assert found["low"].through == ()
    assert found["rest"].through == ("low",)
    assert found["rest"].fires.no_longer is not None
    assert found["rest"].fires.no_longer.written == ("trouble is slips",)


def test_the_same_value_taken_from_another_fact_or_written_out_is_alike() -> None:
    facts = {
        "trouble": choice("a", "b", **asked()),
        "kept": choice("a", "b", concluded=True),
    }
    words = {"trouble": ("a", "b")}
    copied = {"take": rule("trouble is known", then=["kept is the same as trouble"])}
    before = small_book(facts, copied, words)
    split = {
        f"take-{v}": rule(f"trouble is {v}", then=[f"kept is {v}"]) for v in ("a", "b")
    }  # fmt: skip
    reader = {"say": rule("kept is b", suggest=suggest("Go."))}
    found = compare(
        small_book(facts, copied | reader, words), small_book(facts, split | reader, words)
    )
    assert found.changed == ()
    assert {o.rule for o in found.added} == {"take-a", "take-b"}
    assert compare(before, before).same


def test_a_new_name_for_the_same_rule_is_told_as_that() -> None:
    after = book_of(
        {"hang": rule("hold is sloper", "trouble is slips", suggest=suggest("Hang low."))}
    )
    found = compare(one(SLIPS), after)
    assert found.renamed == (("low", "hang"),)
    assert not found.added
    assert not found.removed


def test_new_values_facts_and_questions_are_told() -> None:
    facts = {n: dict(f) for n, f in FACTS.items()}
    facts["hold"] = choice("jug", "edge", "sloper", "tube", **asked())
    facts["chalk"] = yes_no()
    before = one(SLIPS)
    after = small_book(facts, {"low": rule("trouble is slips", "hold is one of sloper, tube",
                                           suggest=suggest("Hang low."))}, WORDS)  # fmt: skip
    found = compare(before, after)
    (change,) = found.changed
    assert change.fires.now_also is not None
    assert "hold is tube" in change.fires.now_also.written
    beside = {b.kind: b for b in found.beside}
    assert beside["facts"].added == ("chalk",)
    assert beside["values"].added == ("hold is tube",)
    (question,) = found.questions
    assert question.fact == "hold"
    assert question.fires.now_also is not None
    assert question.fires.now_also.written == ()


def test_a_fact_of_another_kind_is_named_and_not_compared() -> None:
    facts = {**FACTS, "tired": number(0, 4)}
    rules = {"low": rule("tired is known", suggest=suggest("Rest."))}
    found = compare(book_of(rules), small_book(facts, rules, WORDS))
    assert found.apart == ("tired",)
