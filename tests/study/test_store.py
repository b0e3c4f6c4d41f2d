"""What is kept stays kept: through kill -9, two programs at once, a full disk."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from coachbot.study import store as kept
from coachbot.study.scheduling import Schedule
from coachbot.study.store import Answer, Store, StoreTrouble
from coachbot.study.weighing import Verdict

NOW = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)

WRITER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from coachbot.study.store import Store
from tests.study.test_store import answer

store = Store(Path(sys.argv[1]))
who = store.trainee(sys.argv[2], datetime.now(UTC))
for i in range(int(sys.argv[3])):
    number = store.record(who, answer(said=f"{sys.argv[2]} {i}"), [], None)
    print(number, flush=True)
"""


def answer(**changed: object) -> Answer:
    given = {
        "id": 0, "trainee": "Tomas", "at": NOW, "exercise": "advise", "key": "rule:barn-door-flag",
        "number": 7, "rule": "barn-door-flag", "told": "I swing open", "said": "flag",
        "verdict": "right", "share": 1.0, "explained": "Right.", "rules": ("barn-door-flag",),
        "place": None, "safety": False, **changed,
    }  # fmt: skip
    return Answer(**given)  # type: ignore[arg-type]


def started(path: Path, who: str, count: int) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", WRITER, str(path), who, str(count)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=Path.cwd())


def test_an_answer_and_its_card_come_back_as_they_were(store: Store, tmp_path: Path) -> None:
    who = store.trainee("Tomas", NOW)
    card = Schedule().review("rule:barn-door-flag", None, Verdict.RIGHT, NOW)
    number = store.record(who, answer(), [["trouble", "barn_door"]], card)
    store.close()
    again = Store(tmp_path / "study.sqlite3")
    (found,) = again.answers(who)
    assert (found.id, found.said, found.rules) == (number, "flag", ("barn-door-flag",))
    (back,) = again.cards(who).values()
    assert (back.stability, back.due, back.last_review) == (card.stability, card.due, NOW)
    assert again.trainee("TOMAS", NOW) == who
    assert again.trainees() == ("Tomas",)
    assert again.last_told(who) == "I swing open"
    again.close()


def test_an_upheld_dispute_puts_the_mark_right(store: Store) -> None:
    who = store.trainee("Tomas", NOW)
    number = store.record(who, answer(verdict="not it", share=0.0), [], None)
    store.dispute(number, "that is what I said", NOW)
    store.dispute(number, "I said flag", NOW)
    (open_one,) = store.disputes()
    assert open_one.words == "I said flag"
    assert store.settle(open_one.id, True, "you did", NOW)
    assert not store.settle(99, True, "", NOW)
    assert store.disputes() == []
    (settled,) = store.disputes(all_of_them=True)
    assert (settled.upheld, settled.reply) == (True, "you did")
    (counted,) = store.answers(who)
    assert (counted.verdict, counted.share) == ("right", 1.0)


def test_nothing_that_was_confirmed_is_lost_by_kill_9(tmp_path: Path) -> None:
    path = tmp_path / "study.sqlite3"
    writer = started(path, "Tomas", 100_000)
    assert writer.stdout is not None
    confirmed = [int(writer.stdout.readline()) for _ in range(20)]
    os.kill(writer.pid, signal.SIGKILL)
    confirmed += [int(x) for x in writer.stdout.read().split("\n") if x.isdigit()][:-1]
    writer.wait()
    store = Store(path)
    found = {a.id for a in store.answers()}
    assert set(confirmed) <= found
    assert store._rows("PRAGMA integrity_check") == [("ok",)]
    store.record(store.trainee("Tomas", NOW), answer(), [], None)
    store.close()


def test_two_programs_write_at_once(tmp_path: Path) -> None:
    path = tmp_path / "study.sqlite3"
    writers = [started(path, name, 40) for name in ("Tomas", "Juno", "Pell")]
    for writer in writers:
        writer.communicate(timeout=120)
        assert writer.returncode == 0
    store = Store(path)
    said = [a.said for a in store.answers()]
    assert sorted(said) == sorted(f"{n} {i}" for n in ("Tomas", "Juno", "Pell") for i in range(40))
    assert len(store._rows("SELECT * FROM migration")) == len(kept.MIGRATIONS)
    store.close()


def test_a_full_disk_is_told_and_nothing_is_half_written(store: Store) -> None:
    who = store.trainee("Tomas", NOW)
    store.record(who, answer(), [], None)
    pages = store._rows("PRAGMA page_count")[0][0]
    store._rows(f"PRAGMA max_page_count = {pages}")
    card = Schedule().review("rule:barn-door-flag", None, Verdict.RIGHT, NOW)
    with pytest.raises(StoreTrouble, match="disk is full"):
        store.record(who, answer(explained="long " * 20_000), [], card)
    assert len(store.answers(who)) == 1
    assert store.cards(who) == {}
    store._rows("PRAGMA max_page_count = 100000")
    store.record(who, answer(), [], card)
    assert len(store.answers(who)) == 2


def test_a_file_of_a_newer_program_and_a_damaged_one_are_left_alone(tmp_path: Path) -> None:
    newer = tmp_path / "newer.sqlite3"
    db = sqlite3.connect(newer)
    db.execute("PRAGMA user_version = 99")
    db.commit()
    db.close()
    with pytest.raises(StoreTrouble, match="newer coachbot"):
        Store(newer)
    damaged = tmp_path / "damaged.sqlite3"
    damaged.write_bytes(b"this is no database at all, but a long text " * 100)
    before = damaged.read_bytes()
    with pytest.raises(StoreTrouble, match="damaged"):
        Store(damaged)
    assert damaged.read_bytes() == before


def test_a_locked_file_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "study.sqlite3"
    Store(path).close()
    monkeypatch.setattr(kept, "WAIT_SECONDS", 0.2)
    store = Store(path)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    began = time.monotonic()
    with pytest.raises(StoreTrouble, match="another program"):
        store.trainee("Tomas", NOW)
    assert time.monotonic() - began < 5
    other.execute("ROLLBACK")
    assert store.trainee("Tomas", NOW) > 0
    other.close()
    store.close()


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreTrouble, match="COACHBOT_HOME"):
        Store(tmp_path / "file" / "study.sqlite3")


CRASHING = """
import os, sys
from datetime import UTC, datetime
from pathlib import Path
from coachbot.study.store import Store

store = Store(Path(sys.argv[1]))
with store._writing() as db:
    db.execute("INSERT INTO trainee (name, since) VALUES ('Pell', 'now')")
    db.execute("DELETE FROM answer")
    os._exit(9)
"""


def test_a_crash_in_the_middle_of_a_write_leaves_what_was_there(tmp_path: Path) -> None:
    path = tmp_path / "study.sqlite3"
    store = Store(path)
    store.record(store.trainee("Tomas", NOW), answer(), [], None)
    store.close()
    crashed = subprocess.run([sys.executable, "-c", CRASHING, str(path)], check=False)
    assert crashed.returncode == 9
    again = Store(path)
    assert [a.said for a in again.answers()] == ["flag"]
    assert again.trainees() == ("Tomas",)
    again.close()


def of_version_1(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file as the first version wrote it, with an answer, a card, a dispute and a check."""
    with monkeypatch.context() as older:
        older.setattr(kept, "MIGRATIONS", kept.MIGRATIONS[:1])
        Store(path).close()
    db = sqlite3.connect(path)
    db.executescript("""
        INSERT INTO trainee VALUES (1, 'Tomas', '2026-01-02T10:00:00+00:00');
        INSERT INTO card VALUES (1, 1, 'rule:barn-door-flag', 2, NULL, 3.5, 5.0,
            '2026-01-06T10:00:00+00:00', '2026-01-02T10:00:00+00:00');
        INSERT INTO sitting VALUES (1, 1, 5, 0.8, '2026-01-02T10:00:00+00:00', NULL);
        INSERT INTO answer VALUES (1, 1, '2026-01-02T10:00:00+00:00', 'advise',
            'rule:barn-door-flag', 7, 'barn-door-flag', 'I swing open', '[]', 'flag', 'not it',
            0.0, 'Not it.', '["barn-door-flag"]', 1, 1, 0);
        INSERT INTO dispute VALUES (1, 1, '2026-01-02T10:01:00+00:00', 'I said so', NULL, NULL,
            NULL);
    """)
    db.close()


def test_a_file_of_version_1_is_brought_up_to_date_with_all_that_is_in_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "study.sqlite3"
    of_version_1(path, monkeypatch)
    store = Store(path)
    assert store._version() == len(kept.MIGRATIONS) > 1
    (old,) = store.answers(sitting=1)
    assert (old.said, old.verdict, old.seconds) == ("flag", "not it", None)
    assert store.cards(1)["rule:barn-door-flag"].stability == 3.5
    assert [d.words for d in store.disputes()] == ["I said so"]
    assert store.sitting(1, 5, 0.9, NOW).pass_share == 0.8
    store.record(1, answer(seconds=12.5), [], None)
    assert [a.seconds for a in store.answers(1)] == [None, 12.5]
    names = [n for (n,) in store._rows("SELECT name FROM migration")]
    assert names == [name for name, _ in kept.MIGRATIONS]
    store.close()


def test_a_migration_that_fails_changes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "study.sqlite3"
    of_version_1(path, monkeypatch)
    bad = ("breaks half-way", "ALTER TABLE answer ADD COLUMN x REAL; SELECT nothing FROM nowhere")
    with monkeypatch.context() as newer:
        newer.setattr(kept, "MIGRATIONS", (*kept.MIGRATIONS[:1], bad))
        with pytest.raises(StoreTrouble):
            Store(path)
    db = sqlite3.connect(path)
    assert db.execute("PRAGMA user_version").fetchone() == (1,)
    columns = [row[1] for row in db.execute("PRAGMA table_info(answer)")]
    assert "x" not in columns
    db.close()
    store = Store(path)
    assert len(store.answers()) == 1
    store.close()
