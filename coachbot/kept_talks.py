"""Talks kept on disk: each message is stored before it is answered.

One file a talk, one JSON object a line. A talk that was not closed can be taken up again.
The file is locked while its talk lives, so that several terminals do not meet in one.
"""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import IO

from platformdirs import user_data_path

NEWEST = 20


def talks_folder() -> Path:
    """Where talks are kept: below COACHBOT_HOME when set, else the user's data folder."""
    home = os.environ.get("COACHBOT_HOME")
    return (Path(home) if home else user_data_path("coachbot", appauthor=False)) / "talks"


@dataclass(frozen=True, slots=True)
class Unfinished:
    """A talk that was not closed: its file, when it was last written, and what was said."""

    path: Path
    last: datetime
    said: tuple[str, ...]


class Keeper:
    """Keeps one talk. A full disk is told once; what could not be written is tried again."""

    def __init__(self, folder: Path, path: Path | None = None) -> None:
        self._folder = folder
        self._path = path
        self._file: IO[bytes] | None = None
        self._waiting: list[bytes] = []
        self.trouble: str | None = None

    def said(self, text: str, at: datetime) -> None:
        """Store one message of the person."""
        self._write({"said": text, "at": at.astimezone(UTC).isoformat(timespec="seconds")})

    def close(self, at: datetime) -> None:
        """Mark the talk as ended; nothing is kept of a talk in which nothing was said."""
        if self._file is not None or self._waiting:
            self._write({"closed": True, "at": at.astimezone(UTC).isoformat(timespec="seconds")})
        if self._file is not None:
            self._file.close()
            self._file = None

    def _write(self, entry: dict[str, object]) -> None:
        self._waiting.append(json.dumps(entry, ensure_ascii=True).encode() + b"\n")
        try:
            file = self._open()
            while self._waiting:
                file.write(self._waiting[0])
                file.flush()
                os.fsync(file.fileno())
                self._waiting.pop(0)
            self.trouble = None
        except OSError as error:
            self.trouble = f"This talk cannot be saved now ({error.strerror}); I go on without."

    def _open(self) -> IO[bytes]:
        if self._file is None:
            self._folder.mkdir(parents=True, exist_ok=True)
            if self._path is None:
                stamp = datetime.now(UTC).strftime("%Y%m%d-%H%M%S-%f")
                self._path = self._folder / f"{stamp}-{os.getpid()}.jsonl"
            self._file = self._path.open("ab")
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            if self._path.stat().st_size and not self._path.read_bytes().endswith(b"\n"):
                self._file.write(b"\n")
        return self._file


def read(path: Path) -> Iterator[dict[str, object]]:
    """The entries of a talk; a line cut short by a crash is passed over."""
    for line in path.read_bytes().splitlines():
        with contextlib.suppress(ValueError):
            entry = json.loads(line)
            if isinstance(entry, dict):
                yield entry


def unfinished(folder: Path) -> Unfinished | None:
    """The newest talk that was not closed and is not open in another terminal."""
    try:
        files = sorted(folder.glob("*.jsonl"), reverse=True)[:NEWEST]
    except OSError:
        return None
    for path in files:
        with contextlib.suppress(OSError):
            if _alive(path):
                continue
            entries = list(read(path))
            said = tuple(str(e["said"]) for e in entries if "said" in e)
            closed = any(e.get("closed") for e in entries)
            if said and not closed:
                return Unfinished(path, datetime.fromtimestamp(path.stat().st_mtime, UTC), said)
            return None
    return None


def _alive(path: Path) -> bool:
    with path.open("rb") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return True
        fcntl.flock(file, fcntl.LOCK_UN)
        return False
