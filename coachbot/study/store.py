"""What is kept of staff study: trainees, their cards, every answer, disputes, checks.

One SQLite file in the user's data folder. Every write is one transaction that is on disk
before the next screen; two programs may use the file at once. Migrations have names and
are applied once, in order; ``user_version`` counts them.
"""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from platformdirs import user_data_path

from coachbot.knowledge.problems import Refused

WAIT_SECONDS = 10.0

MIGRATIONS: tuple[tuple[str, str], ...] = (
    (
        "trainees, cards, answers, disputes, checks",
        """
        CREATE TABLE trainee (
            id INTEGER PRIMARY KEY,
            name TEXT NOT NULL UNIQUE COLLATE NOCASE,
            since TEXT NOT NULL
        ) STRICT;
        CREATE TABLE card (
            id INTEGER PRIMARY KEY,
            trainee INTEGER NOT NULL REFERENCES trainee (id),
            key TEXT NOT NULL,
            state INTEGER NOT NULL,
            step INTEGER,
            stability REAL,
            difficulty REAL,
            due TEXT NOT NULL,
            last_review TEXT,
            UNIQUE (trainee, key)
        ) STRICT;
        CREATE TABLE sitting (
            id INTEGER PRIMARY KEY,
            trainee INTEGER NOT NULL REFERENCES trainee (id),
            seed INTEGER NOT NULL,
            pass_share REAL NOT NULL,
            started TEXT NOT NULL,
            finished TEXT
        ) STRICT;
        CREATE TABLE answer (
            id INTEGER PRIMARY KEY,
            trainee INTEGER NOT NULL REFERENCES trainee (id),
            at TEXT NOT NULL,
            exercise TEXT NOT NULL,
            key TEXT NOT NULL,
            number INTEGER NOT NULL,
            rule TEXT,
            told TEXT NOT NULL,
            facts TEXT NOT NULL,
            said TEXT NOT NULL,
            verdict TEXT NOT NULL,
            share REAL NOT NULL,
            explained TEXT NOT NULL,
            rules TEXT NOT NULL,
            sitting INTEGER REFERENCES sitting (id),
            place INTEGER,
            safety INTEGER NOT NULL DEFAULT 0,
            UNIQUE (sitting, place)
        ) STRICT;
        CREATE INDEX answer_of ON answer (trainee, at);
        CREATE TABLE dispute (
            id INTEGER PRIMARY KEY,
            answer INTEGER NOT NULL UNIQUE REFERENCES answer (id),
            at TEXT NOT NULL,
            words TEXT NOT NULL,
            settled TEXT,
            upheld INTEGER,
            reply TEXT
        ) STRICT;
        """,
    ),
    ("how long an answer took", "ALTER TABLE answer ADD COLUMN seconds REAL"),
)


class StoreTrouble(Refused):
    """The file cannot be read or written; the message says why and what to do."""


@dataclass(frozen=True, slots=True)
class Card:
    """One thing to know and how well it is known (the fields of an FSRS card)."""

    id: int
    key: str
    state: int
    step: int | None
    stability: float | None
    difficulty: float | None
    due: datetime
    last_review: datetime | None


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer as it was marked. ``rules`` are those that the mark is about.

    ``seconds`` is how long it took from the story to the answer, when somebody typed it.
    """

    id: int
    trainee: str
    at: datetime
    exercise: str
    key: str
    number: int
    rule: str | None
    told: str
    said: str
    verdict: str
    share: float
    explained: str
    rules: tuple[str, ...]
    place: int | None
    safety: bool
    seconds: float | None = None


@dataclass(frozen=True, slots=True)
class Dispute:
    """A mark that a trainee holds to be wrong, and what the coach decided."""

    id: int
    answer: Answer
    at: datetime
    words: str
    upheld: bool | None
    reply: str | None


@dataclass(frozen=True, slots=True)
class Sitting:
    """One readiness check: its seed, the share to pass, when it began and ended."""

    id: int
    trainee: str
    seed: int
    pass_share: float
    started: datetime
    finished: datetime | None


def study_file() -> Path:
    """Where study is kept: below COACHBOT_HOME when set, else the user's data folder."""
    home = os.environ.get("COACHBOT_HOME")
    folder = Path(home) if home else user_data_path("coachbot", appauthor=False)
    return folder / "study.sqlite3"


class Store:
    """The open file. Raises StoreTrouble whenever it cannot be read or written."""

    def __init__(self, path: Path) -> None:
        self._path = path
        with self._told():
            path.parent.mkdir(parents=True, exist_ok=True)
            self._db = sqlite3.connect(path, timeout=WAIT_SECONDS, isolation_level=None)
            self._db.execute("PRAGMA journal_mode = WAL")
            self._db.execute("PRAGMA synchronous = FULL")
            self._db.execute("PRAGMA foreign_keys = ON")
            self._migrate()

    def close(self) -> None:
        """Close the file."""
        self._db.close()

    @contextlib.contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except (sqlite3.Error, OSError) as error:
            raise StoreTrouble(_plainly(error, self._path)) from error

    @contextlib.contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        """One transaction; all of it is kept, or nothing."""
        with self._told():
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield self._db
                self._db.execute("COMMIT")
            except BaseException:
                with contextlib.suppress(sqlite3.Error):
                    self._db.execute("ROLLBACK")
                raise

    def _rows(self, query: str, *given: object) -> list[tuple[object, ...]]:
        with self._told():
            return self._db.execute(query, given).fetchall()

    def _migrate(self) -> None:
        """Bring the file up to date; two programs that start at once do it once."""
        if self._version() == len(MIGRATIONS):
            return
        self._db.execute("BEGIN IMMEDIATE")
        try:
            done = self._version()
            if done > len(MIGRATIONS):
                raise StoreTrouble(
                    f"{self._path} was written by a newer coachbot. Use that one, or move the"
                    " file away to begin anew."
                )
            for name, script in MIGRATIONS[done:]:
                self._db.execute(
                    "CREATE TABLE IF NOT EXISTS migration"
                    " (name TEXT NOT NULL, at TEXT NOT NULL) STRICT"
                )
                for statement in filter(str.strip, script.split(";")):
                    self._db.execute(statement)
                self._db.execute("INSERT INTO migration VALUES (?, ?)", (name, _text(_now())))
            self._db.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")
            self._db.execute("COMMIT")
        except BaseException:
            with contextlib.suppress(sqlite3.Error):
                self._db.execute("ROLLBACK")
            raise

    def _version(self) -> int:
        return int(self._db.execute("PRAGMA user_version").fetchone()[0])

    def trainee(self, name: str, now: datetime) -> int:
        """The id of a trainee, who is entered when new. Case of letters does not matter."""
        found = self._rows("SELECT id FROM trainee WHERE name = ?", name)
        if found:
            return int(str(found[0][0]))
        with self._writing() as db:
            db.execute(
                "INSERT OR IGNORE INTO trainee (name, since) VALUES (?, ?)", (name, _text(now))
            )
        return self.trainee(name, now)

    def trainees(self) -> tuple[str, ...]:
        """All names, in order."""
        return tuple(str(n) for (n,) in self._rows("SELECT name FROM trainee ORDER BY name"))

    def cards(self, trainee: int) -> dict[str, Card]:
        """The cards of a trainee by key."""
        rows = self._rows(
            "SELECT id, key, state, step, stability, difficulty, due, last_review"
            " FROM card WHERE trainee = ?",
            trainee,
        )
        return {str(r[1]): _card(r) for r in rows}

    def record(
        self,
        trainee: int,
        answer: Answer,
        facts: object,
        card: Card | None,
        sitting: int | None = None,
    ) -> int:
        """Keep an answer and the card that it moves, in one transaction; gives the answer's id."""
        with self._writing() as db:
            found = db.execute(
                "INSERT INTO answer (trainee, at, exercise, key, number, rule, told, facts, said,"
                " verdict, share, explained, rules, sitting, place, safety, seconds)"
                " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                (
                    trainee, _text(answer.at), answer.exercise, answer.key, answer.number,
                    answer.rule, answer.told, json.dumps(facts), answer.said, answer.verdict,
                    answer.share, answer.explained, json.dumps(answer.rules), sitting,
                    answer.place, int(answer.safety), answer.seconds,
                ),
            )  # fmt: skip
            if card is not None:
                db.execute(
                    "INSERT INTO card (trainee, key, state, step, stability, difficulty, due,"
                    " last_review) VALUES (?, ?, ?, ?, ?, ?, ?, ?)"
                    " ON CONFLICT (trainee, key) DO UPDATE SET state = excluded.state,"
                    " step = excluded.step, stability = excluded.stability,"
                    " difficulty = excluded.difficulty, due = excluded.due,"
                    " last_review = excluded.last_review",
                    (
                        trainee, card.key, card.state, card.step, card.stability, card.difficulty,
                        _text(card.due), _text(card.last_review) if card.last_review else None,
                    ),
                )  # fmt: skip
            return int(found.lastrowid or 0)

    def answers(self, trainee: int | None = None, sitting: int | None = None) -> list[Answer]:
        """Answers in the order in which they were given; a mark put right counts as right."""
        where, given = ["1 = 1"], []
        if trainee is not None:
            where.append("answer.trainee = ?")
            given.append(trainee)
        if sitting is not None:
            where.append("sitting = ?")
            given.append(sitting)
        rows = self._rows(
            f"{_ANSWERS} WHERE {' AND '.join(where)} ORDER BY answer.at, answer.id", *given
        )
        return [_answer(r) for r in rows]

    def last_told(self, trainee: int) -> str | None:
        """The story that was told last to a trainee."""
        rows = self._rows(
            "SELECT told FROM answer WHERE trainee = ? ORDER BY id DESC LIMIT 1", trainee
        )
        return str(rows[0][0]) if rows else None

    def dispute(self, answer: int, words: str, now: datetime) -> None:
        """Keep that a trainee holds a mark to be wrong; a second dispute replaces the words."""
        with self._writing() as db:
            db.execute(
                "INSERT INTO dispute (answer, at, words) VALUES (?, ?, ?)"
                " ON CONFLICT (answer) DO UPDATE SET words = excluded.words, at = excluded.at",
                (answer, _text(now), words),
            )

    def disputes(self, all_of_them: bool = False) -> list[Dispute]:
        """The disputes that are open, or all."""
        which = "" if all_of_them else "WHERE dispute.settled IS NULL"
        rows = self._rows(
            "SELECT dispute.id, dispute.at, dispute.words, dispute.upheld, dispute.reply,"
            f" dispute.answer FROM dispute {which} ORDER BY dispute.id"
        )
        found = []
        for number, at, words, upheld, reply, answer in rows:
            (row,) = self._rows(f"{_ANSWERS} WHERE answer.id = ?", answer)
            decided = None if upheld is None else bool(upheld)
            said = None if reply is None else str(reply)
            found.append(
                Dispute(int(str(number)), _answer(row), _time(at), str(words), decided, said)
            )
        return found

    def settle(self, dispute: int, upheld: bool, reply: str, now: datetime) -> bool:
        """Decide a dispute; False when there is none of that number."""
        with self._writing() as db:
            changed = db.execute(
                "UPDATE dispute SET settled = ?, upheld = ?, reply = ? WHERE id = ?",
                (_text(now), int(upheld), reply, dispute),
            )
            return changed.rowcount == 1

    def sitting(self, trainee: int, seed: int, pass_share: float, now: datetime) -> Sitting:
        """The unfinished check of a trainee with this seed, or a new one."""
        where = "WHERE trainee = ? AND seed = ? AND finished IS NULL"
        with self._writing() as db:
            if not db.execute(f"SELECT 1 FROM sitting {where}", (trainee, seed)).fetchone():
                db.execute(
                    "INSERT INTO sitting (trainee, seed, pass_share, started) VALUES (?, ?, ?, ?)",
                    (trainee, seed, pass_share, _text(now)),
                )
        (row,) = self._rows(f"{_SITTINGS} {where}", trainee, seed)
        return _sitting(row)

    def sittings(self, trainee: int | None = None) -> list[Sitting]:
        """Checks in the order in which they began."""
        if trainee is None:
            rows = self._rows(f"{_SITTINGS} ORDER BY sitting.id")
        else:
            rows = self._rows(f"{_SITTINGS} WHERE trainee = ? ORDER BY sitting.id", trainee)
        return [_sitting(r) for r in rows]

    def finish(self, sitting: int, now: datetime) -> None:
        """Mark a check as finished."""
        with self._writing() as db:
            db.execute("UPDATE sitting SET finished = ? WHERE id = ?", (_text(now), sitting))


_ANSWERS = (
    "SELECT answer.id, trainee.name, answer.at, exercise, key, number, rule, told, said,"
    " CASE WHEN dispute.upheld = 1 THEN 'right' ELSE verdict END,"
    " CASE WHEN dispute.upheld = 1 THEN 1.0 ELSE share END,"
    " explained, rules, place, safety, seconds"
    " FROM answer JOIN trainee ON trainee.id = answer.trainee"
    " LEFT JOIN dispute ON dispute.answer = answer.id"
)
_SITTINGS = (
    "SELECT sitting.id, trainee.name, seed, pass_share, started, finished"
    " FROM sitting JOIN trainee ON trainee.id = sitting.trainee"
)


def _plainly(error: Exception, path: Path) -> str:
    if isinstance(error, OSError):
        return f"Study cannot be kept in {path.parent}: {error.strerror}. Set COACHBOT_HOME."
    said = str(error)
    if "full" in said:
        return f"The disk is full, so {path} cannot take this answer. Free some room, then go on."
    if "locked" in said:
        return f"{path} is being written by another program. Try again in a moment."
    if "readonly" in said or "unable to open" in said:
        return f"{path} cannot be written. Set COACHBOT_HOME to a folder of your own."
    if "not a database" in said or "malformed" in said:
        return f"{path} is damaged. Move it away to begin anew; nothing was changed in it."
    return f"{path} cannot be used: {said}."


def _now() -> datetime:
    return datetime.now(UTC)


def _text(time: datetime) -> str:
    return time.astimezone(UTC).isoformat(timespec="microseconds")


def _time(text: object) -> datetime:
    return datetime.fromisoformat(str(text))


def _card(row: Sequence[object]) -> Card:
    number, key, state, step, stability, difficulty, due, last = row
    return Card(
        id=int(str(number)),
        key=str(key),
        state=int(str(state)),
        step=None if step is None else int(str(step)),
        stability=None if stability is None else float(str(stability)),
        difficulty=None if difficulty is None else float(str(difficulty)),
        due=_time(due),
        last_review=None if last is None else _time(last),
    )


def _answer(row: Sequence[object]) -> Answer:
    return Answer(
        id=int(str(row[0])),
        trainee=str(row[1]),
        at=_time(row[2]),
        exercise=str(row[3]),
        key=str(row[4]),
        number=int(str(row[5])),
        rule=None if row[6] is None else str(row[6]),
        told=str(row[7]),
        said=str(row[8]),
        verdict=str(row[9]),
        share=float(str(row[10])),
        explained=str(row[11]),
        rules=tuple(json.loads(str(row[12]))),
        place=None if row[13] is None else int(str(row[13])),
        safety=bool(row[14]),
        seconds=None if row[15] is None else float(str(row[15])),
    )


def _sitting(row: Sequence[object]) -> Sitting:
    number, name, seed, share, started, finished = row
    return Sitting(
        id=int(str(number)),
        trainee=str(name),
        seed=int(str(seed)),
        pass_share=float(str(share)),
        started=_time(started),
        finished=None if finished is None else _time(finished),
    )
