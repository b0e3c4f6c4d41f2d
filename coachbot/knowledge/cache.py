"""What was worked out from rule folders, kept between starts.

A copy is used only when every file of every folder has the size and time of change that it
had, with the same program. Copies stand in the user's own cache folder; any trouble with
one means that it is worked out anew. This module is quick to import: a start asks it first.
"""

from __future__ import annotations

import contextlib
import gc
import hashlib
import os
import pickle
import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from coachbot import __version__

if TYPE_CHECKING:
    from .book import RuleBook

T = TypeVar("T")
KEPT = 12
_PROGRAM = Path(__file__).resolve().parent.parent


def load_cached(folders: Sequence[Path]) -> RuleBook:
    """The checked rule book of the folders. Raises BrokenRules."""
    from .book import load

    return kept("book", folders, lambda: load(*folders))


def kept(name: str, folders: Sequence[Path], make: Callable[[], T]) -> T:
    """What ``make`` gives for the folders, from the cache when nothing has changed since."""
    file = _file(name, folders)
    found: T | None = _read(file)
    if found is None:
        found = make()
        with contextlib.suppress(OSError):
            _write(found, file)
    return found


def is_kept(name: str, folders: Sequence[Path]) -> bool:
    """Whether a copy for the folders as they are is there."""
    return _file(name, folders).is_file()


def fingerprint(folders: Sequence[Path]) -> str:
    """Names, sizes and times of all files, of the rules and of the program."""
    digest = hashlib.sha256(f"{__version__} {sys.version} {os.getuid()}".encode())
    for folder in (*folders, _PROGRAM):
        digest.update(f"\0{folder.resolve()}".encode())
        for entry in _files(folder):
            digest.update(entry.encode("utf-8", "surrogateescape"))
    return digest.hexdigest()[:32]


def _files(folder: Path) -> list[str]:
    found: list[str] = []
    waiting = [str(folder)]
    while waiting:
        with contextlib.suppress(OSError), os.scandir(waiting.pop()) as entries:
            for entry in entries:
                if entry.is_dir(follow_symlinks=False):
                    waiting.append(entry.path)
                elif entry.name.endswith((".yaml", ".yml", ".py", ".txt")):
                    stat = entry.stat()
                    found.append(f"\0{entry.path} {stat.st_size} {stat.st_mtime_ns}")
    return sorted(found)


def _file(name: str, folders: Sequence[Path]) -> Path:
    from platformdirs import user_cache_path

    home = os.environ.get("COACHBOT_HOME")
    place = Path(home) / "cache" if home else user_cache_path("coachbot", appauthor=False)
    return place / f"{fingerprint(folders)}.{name}"


def _read(file: Path) -> T | None:
    # Making thousands of small objects wakes the garbage collector again and again.
    collecting = gc.isenabled()
    gc.disable()
    try:
        if file.stat().st_uid != os.getuid():
            return None
        found: T = pickle.loads(file.read_bytes())
        return found
    except Exception:  # a damaged or foreign copy can fail in any way, and is made anew
        return None
    finally:
        if collecting:
            gc.enable()


def _write(made: object, file: Path) -> None:
    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    descriptor, name = tempfile.mkstemp(dir=file.parent)
    with os.fdopen(descriptor, "wb") as target:
        pickle.dump(made, target, protocol=pickle.HIGHEST_PROTOCOL)
    Path(name).replace(file)
    old = sorted(file.parent.iterdir(), key=lambda f: f.stat().st_mtime, reverse=True)
    for stale in old[KEPT:]:
        stale.unlink(missing_ok=True)
