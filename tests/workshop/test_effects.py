"""What a change does to kept conversations, stored messages and sampled cases."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from coachbot.doors.workshop_shown import side_by_side, told_effects
from coachbot.kept_talks import Keeper
from coachbot.knowledge.book import load
from coachbot.knowledge.places import shipped_rules
from coachbot.review.rule_tests import told_case
from coachbot.workshop import effects as effects_module
from coachbot.workshop.effects import (
    Different,
    Effects,
    Minds,
    effects,
    kept_conversations,
    sampled_cases,
    stored_messages,
)
from coachbot.workshop.folder import OwnFolder
from coachbot.workshop.own_tests import rule_tests_of


@pytest.fixture
def after(minds: Minds, own: OwnFolder) -> Minds:
    return Minds.of(load(shipped_rules(), own.path), minds)


def test_only_cases_in_which_a_changed_rule_fires_can_differ(
    minds: Minds, after: Minds, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Leaving cases out by the small network finds what ranking every case finds."""
    tests = rule_tests_of(after.book)
    cases = [*tests["chest-over-feet"].fires, *list(sampled_cases(tests))[::4]]
    few = effects(minds, after, cases=cases).cases
    assert few
    monkeypatch.setattr(effects_module._Fires, "__call__", lambda self, given: True)
    assert effects(minds, after, cases=cases).cases == few


def test_the_sample_is_the_same_each_time(after: Minds) -> None:
    tests = rule_tests_of(after.book)
    one, other = ([told_case(g) for g in sampled_cases(tests, 50)] for _ in range(2))
    assert one == other
    assert len(one) == 50 + sum(len(t.fires) + len(t.silent) for t in tests.values())


def test_stored_talks_and_lists_of_messages_are_read(
    minds: Minds, after: Minds, tmp_path: Path
) -> None:
    keeper = Keeper(tmp_path / "talks")
    at = datetime(2026, 12, 1, tzinfo=UTC)
    keeper.said("my hand slips off the sloper", at)
    keeper.said("it is on the slab", at)
    keeper.close(at)
    (tmp_path / "talks" / "broken.jsonl").write_bytes(b"\xff{not json\n")
    messages = tmp_path / "messages.txt"
    messages.write_text(
        'my foot slips\n\n{"id": 1, "text": "my hand slips off the sloper, slab"}\n'
    )
    told = list(stored_messages(tmp_path / "talks", [messages]))
    assert [t.said for t in told] == [
        ("my hand slips off the sloper", "it is on the slab"),
        ("my foot slips",),
        ("my hand slips off the sloper, slab",),
    ]
    found = effects(minds, after, messages=told)
    assert found.looked_at == (0, 4, 0)
    assert {d.said for d in found.messages} == {
        "it is on the slab", "my hand slips off the sloper, slab",
    }  # fmt: skip
    assert all("Chest over the feet" in d.after for d in found.messages)
    assert all("Chest over the feet" not in d.before for d in found.messages)


def test_pages_are_read(tmp_path: Path) -> None:
    page = tmp_path / "page.md"
    page.write_text("# One\n\n> a\n\n```\nx\n```\n\n> b\n\n# Two\n\nprose\n")
    (told,) = kept_conversations([page])
    assert (told.place, told.said) == ("page.md: One", ("a", "b"))


def test_before_and_after_stand_side_by_side_in_80_columns() -> None:
    lines = list(side_by_side("one two three " * 9, "four", 80))
    assert lines[0].split() == ["before", "|", "after"]
    assert "four" in lines[2]
    assert max(map(len, lines)) <= 80
    assert all(line[38:41] in {" | ", "-+-"} or len(line) <= 40 for line in lines)


def test_narrow_screens_get_them_below_each_other() -> None:
    found = Effects(messages=(Different("talk", "hello", "old", "new"),), looked_at=(0, 1, 0))
    lines = list(told_effects(found, 40))
    assert lines.index("before:") < lines.index("after:")
    assert "1 of 1 answers to stored messages would be others." in lines
