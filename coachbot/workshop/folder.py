"""A gym's own rule folder: files are written whole, and every change can be taken back.

What a change replaces is kept below ``.undo`` in the folder, which the rule loader passes
over, before anything is written.
"""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath

from coachbot.knowledge.problems import Refused

UNDO = ".undo"
KEPT = 200
FORBIDDEN = set('\\:*?"<>|')


@dataclass(frozen=True, slots=True)
class Undone:
    """A change that was taken back: what it had done, and the files as they are again."""

    label: str
    files: tuple[str, ...]


class OwnFolder:
    """One folder of a gym's own rules. It is made when something is first written."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def text(self, name: str) -> str | None:
        """The text of a file, None when there is none. Raises Refused."""
        file = self._place(name)
        try:
            return file.read_bytes().decode("utf-8-sig")
        except FileNotFoundError:
            return None
        except UnicodeDecodeError:
            raise Refused(f"{self.path.name}/{name} is not UTF-8 text; save it as UTF-8") from None
        except OSError as error:
            raise Refused(f"{self.path.name}/{name} cannot be read: {error.strerror}") from None

    def write(self, files: Mapping[str, str | None], label: str) -> None:
        """Write some files, or remove those whose text is None, as one change.

        Names are relative, with ``/``. Raises Refused, with everything as it was.
        """
        places = {name: self._place(name) for name in files}
        with self._locked(), _refusing(self.path):
            before = {name: _bytes(place) for name, place in places.items()}
            after = {n: None if t is None else t.encode("utf-8") for n, t in files.items()}
            change = self._keep(label, before, after)
            try:
                for name, place in places.items():
                    _put(place, after[name])
            except OSError:
                for name, place in places.items():
                    with contextlib.suppress(OSError):
                        _put(place, before[name])
                shutil.rmtree(change, ignore_errors=True)
                raise

    def keep(self, name: str, text: str) -> None:
        """Write a file that is no change of the rules, such as a draft. Raises Refused."""
        place = self._place(name)
        with self._locked(), _refusing(self.path):
            _put(place, text.encode("utf-8"))

    def undo(self) -> Undone:
        """Take the newest change back. Raises Refused when a file was changed since."""
        with self._locked(), _refusing(self.path):
            changes = self._changes()
            if not changes:
                raise Refused(f"there is nothing to take back in {self.path}")
            newest = changes[-1]
            note = json.loads((newest / "change.json").read_text("utf-8"))
            names = [str(n) for n in note["files"]]
            places = {name: self._place(name) for name in names}
            for i, name in enumerate(names):
                if _bytes(places[name]) != _bytes(newest / f"{i}.after"):
                    raise Refused(
                        f"{self.path.name}/{name} was changed by hand since; nothing was taken"
                        " back, so that this is not lost. Move your text away, then undo."
                    )
            for i, name in enumerate(names):
                _put(places[name], _bytes(newest / f"{i}.before"))
            shutil.rmtree(newest)
            return Undone(str(note["label"]), tuple(names))

    def _keep(
        self, label: str, before: Mapping[str, bytes | None], after: Mapping[str, bytes | None]
    ) -> Path:
        changes = self._changes()
        number = int(changes[-1].name) + 1 if changes else 1
        change = self.path / UNDO / f"{number:06}"
        change.mkdir(parents=True)
        for i, name in enumerate(before):
            for kind, data in (("before", before[name]), ("after", after[name])):
                if data is not None:
                    _put(change / f"{i}.{kind}", data)
        at = datetime.now(UTC).isoformat(timespec="seconds")
        note = {"label": label, "at": at, "files": list(before)}
        _put(change / "change.json", json.dumps(note).encode())
        for old in changes[: max(0, len(changes) + 1 - KEPT)]:
            shutil.rmtree(old, ignore_errors=True)
        return change

    def _changes(self) -> list[Path]:
        folder = self.path / UNDO
        return sorted(p for p in folder.glob("[0-9]*") if (p / "change.json").is_file())

    def _place(self, name: str) -> Path:
        """Where a file stands. Raises Refused for names that lead out of the folder."""
        pure = PurePosixPath(name)
        odd = FORBIDDEN & set(name) or any(not c.isprintable() for c in name)
        if pure.is_absolute() or ".." in pure.parts or not pure.parts or odd:
            raise Refused(f'"{name}" is no file name inside the rule folder')
        place = self.path / pure
        if not place.resolve().is_relative_to(self.path.resolve()):
            raise Refused(f'"{name}" leads out of the rule folder {self.path}')
        return place

    @contextlib.contextmanager
    def _locked(self) -> Iterator[None]:
        with _refusing(self.path):
            (self.path / UNDO).mkdir(parents=True, exist_ok=True)
            lock = (self.path / UNDO / "lock").open("ab")
        with lock:
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError:
                raise Refused(f"another program is writing into {self.path}; try again") from None
            yield


@contextlib.contextmanager
def _refusing(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise Refused(f"{path} cannot be written: {error.strerror}") from None


def _bytes(file: Path) -> bytes | None:
    try:
        return file.read_bytes()
    except FileNotFoundError:
        return None


def _put(place: Path, data: bytes | None) -> None:
    """Write a file whole or not at all; remove it when there is no data."""
    if data is None:
        place.unlink(missing_ok=True)
        return
    place.parent.mkdir(parents=True, exist_ok=True)
    descriptor, temporary = tempfile.mkstemp(dir=place.parent, prefix=".", suffix=".part")
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        with contextlib.suppress(FileNotFoundError):
            shutil.copymode(place, temporary)
        if not place.exists():
            Path(temporary).chmod(0o666 & ~_umask())
        Path(temporary).replace(place)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
