"""The map of situations: counted cells as in Suwa, Scott and Shortliffe, AI Magazine 3(4), 1982."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from coachbot.doors.commands import main
from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.model import Situation
from coachbot.review.page import page
from coachbot.review.situation_map import Served, situation_map
from tests.review.pages import assert_alone


def test_every_situation_of_the_shipped_rules_is_served(book: RuleBook) -> None:
    found = situation_map(book)
    assert [f"{r.id}: {r.served}" for r in found.thin] == []
    assert len(found.rows) == len(book.situations)


def test_what_is_thin_is_told(book: RuleBook) -> None:
    """A situation without rules, with one, with weak ones only, and with a stop."""
    new = {name: Situation(family="x", situation=name, aim="-") for name in "abcd"}
    once, weak, stops = "smear-heel-low", "read-the-marks", "chest-pain"
    serves = {once: ["b"], weak: ["c"], stops: ["d"]}
    rules = {
        name: replace(book.rules[name], rule=book.rules[name].rule.model_copy(update={"serves": s}))
        for name, s in serves.items()
    }
    found = situation_map(replace(book, situations=new, rules=rules))
    assert [r.served for r in found.rows] == [
        Served.NOT,
        Served.ONCE,
        Served.WEAKLY,
        Served.WELL,
    ]
    assert [r.id for r in found.thin] == ["a", "b", "c"]
    assert found.good == 1
    assert found.rows[1].rules[0].sources


@pytest.mark.parametrize("family", ["holds", "scope"])
def test_lines_fit_80_columns_and_name_every_rule(book: RuleBook, family: str) -> None:
    told = CliRunner().invoke(main, ["map", family])
    assert told.exit_code == 0
    assert max(map(len, told.output.splitlines())) <= 80
    for read in book.rules.values():
        for situation in read.rule.serves:
            if book.situations[situation].family == family:
                assert read.id in told.output


def test_json_and_page(book: RuleBook, tmp_path: Path) -> None:
    told = CliRunner().invoke(main, ["map", "feet", "--json"])
    rows = json.loads(told.stdout)["situations"]
    assert [r["id"] for r in rows] == [
        name for name, s in book.situations.items() if s.family == "feet"
    ]
    file = tmp_path / "map.html"
    assert CliRunner().invoke(main, ["map", "--page", str(file)]).exit_code == 0
    assert_alone(file.read_text(encoding="utf-8"))


def test_a_page_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    told = CliRunner().invoke(main, ["map", "--page", str(tmp_path / "no" / "map.html")])
    assert told.exit_code == 1
    assert "cannot be written" in told.stderr


def test_an_unknown_family_is_told_with_the_nearest() -> None:
    told = CliRunner().invoke(main, ["map", "hols"])
    assert told.exit_code == 2
    assert 'Did you mean "holds"?' in told.stderr


def test_text_on_a_page_is_escaped(book: RuleBook) -> None:
    evil = Situation(family="x", situation="<script>alert(1)</script>", aim="-")
    told = page("map", map=situation_map(replace(book, situations={"a": evil}, rules={})))
    assert "<script" not in told
