"""The JSON Lines interface, run as other programs run it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from coachbot.doors import jsonlines
from coachbot.doors.opening import House

SCHEMA = Path(__file__).parent / "advise.schema.json"
FIELDS = {"id", "understood", "suggestions", "stop", "ask", "in_scope", "say"}
SUGGESTION = {
    "rule", "skills", "now", "why", "facts", "chain", "drill", "cautions", "strength",
}  # fmt: skip


def advise(*lines: str | bytes) -> tuple[int, list[dict[str, Any]]]:
    given = b"".join((x.encode() if isinstance(x, str) else x) + b"\n" for x in lines)
    run = subprocess.run(
        [sys.executable, "-m", "coachbot", "advise", "--json"],
        input=given, capture_output=True, timeout=120, check=False,
    )  # fmt: skip
    assert b"Traceback" not in run.stderr
    return run.returncode, [json.loads(x) for x in run.stdout.splitlines()]


def test_a_message_and_a_chat_are_answered_in_order_with_all_fields() -> None:
    status, (one, chat) = advise(
        json.dumps({"id": "a1", "text": "my foot slips off a tiny foothold on the slab"}),
        json.dumps({"id": "a2", "turns": ["my foot slips", "why", "that worked"]}),
    )
    assert status == 0
    assert one["id"] == "a1"
    assert set(one) >= FIELDS
    assert one["suggestions"]
    for s in one["suggestions"]:
        assert set(s) >= SUGGESTION
    assert chat["id"] == "a2"
    first, why, worked = chat["turns"]
    assert [s["rule"] for s in why["suggestions"]] == [s["rule"] for s in first["suggestions"]]
    assert worked["suggestions"] == []
    schema = json.loads(SCHEMA.read_text())
    for answer in (one, chat):
        jsonschema.validate(answer, {**schema, "$ref": _ref(answer)})


def _ref(answer: dict[str, Any]) -> str:
    return "#/$defs/ChatAnswer" if "turns" in answer else "#/$defs/MessageAnswer"


def test_the_kept_schema_is_todays() -> None:
    """Renew it with ``coachbot advise --schema > tests/doors/advise.schema.json``."""
    assert json.loads(SCHEMA.read_text()) == jsonlines.schema()


def test_a_bad_line_is_told_and_the_rest_goes_on() -> None:
    status, answers = advise(
        "not json",
        json.dumps({"id": "b", "text": 5}),
        json.dumps({"id": "c"}),
        json.dumps({"id": "d", "text": "x", "turns": []}),
        json.dumps([1]),
        b"\xff\xfe",
        "[" * 100_000,
        json.dumps({"id": "e", "text": "my heel slips"}),
    )
    assert status == 1
    assert ["error" in a for a in answers] == [True] * 7 + [False]
    assert [a["id"] for a in answers] == [None, "b", "c", "d", None, None, None, "e"]


ODD = [
    "", " ", "\n", "a" * 100_000, "foot " * 20_000, "\x00\x01\x02\x1b[31m", "🧗 🦶 💥", "\ud800",
    "мой ботинок соскальзывает", "我的脚滑了", "‮right to left", "((((((", "%s %d {0} {value}",
    "> quoted",
    "'; drop table facts; --", "\u202e\u200b\ufeff", "1e999 degrees", "V99999", "-1 years old",
]  # fmt: skip


def test_odd_texts_are_answered_without_an_error() -> None:
    status, answers = advise(*(json.dumps({"id": i, "text": t}) for i, t in enumerate(ODD)))
    assert status == 0
    assert len(answers) == len(ODD)
    for answer, text in zip(answers, ODD, strict=True):
        assert answer["say"]
        for u in answer["understood"]:
            assert u["words"] in text or not u["words"]


@pytest.mark.parametrize("argument", [["--jsn"], ["--json", "text"]])
def test_bad_arguments_end_with_two(argument: list[str]) -> None:
    run = subprocess.run(
        [sys.executable, "-m", "coachbot", "advise", *argument],
        input=b"", capture_output=True, timeout=60, check=False,
    )  # fmt: skip
    assert run.returncode == 2
    assert b"Traceback" not in run.stderr


def test_each_line_is_flushed_before_the_next_is_read() -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "coachbot", "advise", "--json"],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE,
    ) as run:  # fmt: skip
        assert run.stdin is not None
        assert run.stdout is not None
        for i in range(3):
            run.stdin.write(json.dumps({"id": i, "text": "my foot slips"}).encode() + b"\n")
            run.stdin.flush()
            assert json.loads(run.stdout.readline())["id"] == i
        run.stdin.close()
        assert run.wait(30) == 0


def test_a_closed_pipe_ends_quietly() -> None:
    lines = b"".join(json.dumps({"id": i, "text": "hi"}).encode() + b"\n" for i in range(500))
    with subprocess.Popen(
        [sys.executable, "-m", "coachbot", "advise", "--json"],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    ) as run:  # fmt: skip
        assert run.stdout is not None
        run.stdout.close()
        _, errors = run.communicate(lines, timeout=120)
    assert b"Traceback" not in errors


def test_no_record_is_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    home = tmp_path / "home"
    monkeypatch.setenv("COACHBOT_HOME", str(home))
    advise(json.dumps({"id": 1, "text": "my foot slips"}))
    assert not (home / "talks").exists()


def test_the_same_input_gives_the_same_output(house: House) -> None:
    line = json.dumps({"id": 1, "turns": ["my feet cut on the roof", "by accident", "why"]})
    first = jsonlines.answer_line(line.encode(), house)
    assert first == jsonlines.answer_line(line.encode(), house)
