"""The kept conversations are still word for word what the program says."""

from __future__ import annotations

from pathlib import Path

import pytest

from coachbot.doors.opening import House
from coachbot.doors.replaying import fresh_answer
from coachbot.review import transcripts

PAGES = sorted((Path(__file__).parent.parent / "transcripts_demo").glob("*.md"))


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.stem)
def test_a_page_is_what_the_program_says(house: House, page: Path) -> None:
    """``coachbot replay transcripts_demo --renew`` writes the answers of today."""
    conversations = transcripts.read(page)
    assert any(c.exchanges for c in conversations)
    for conversation in conversations:
        for change in transcripts.changes(conversation, fresh_answer(house)):
            assert change.now == change.before, f"{page.name}:{change.line}"


def test_there_are_at_least_eight_conversations() -> None:
    assert sum(1 for p in PAGES for c in transcripts.read(p) if c.exchanges) >= 8


def test_a_renewed_page_reads_back_as_itself(house: House) -> None:
    for page in PAGES:
        text = transcripts.renewed(transcripts.read(page), lambda: fresh_answer(house))
        assert text == page.read_text(encoding="utf-8")


def test_a_changed_answer_is_noticed(house: House, tmp_path: Path) -> None:
    page = tmp_path / "page.md"
    page.write_text("# One\n\n> my foot slips\n\n```\nsomething else\n```\n")
    (conversation,) = transcripts.read(page)
    (change,) = transcripts.changes(conversation, fresh_answer(house))
    assert change.before == "something else"
    assert change.line == 3
