"""A checked rule book kept between starts, so that a start need not check it again.

The copy is used only when every file of every folder has the size and time of change that
it had when the book was checked, with the same program. It stands in the user's own cache
folder; any trouble with it means that the rules are read anew.
"""

from __future__ import annotations

import contextlib
import gc
import hashlib
import os
import pickle
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from platformdirs import user_cache_path

from coachbot import __version__

from .book import RuleBook, load

KEPT = 4


def load_cached(folders: Sequence[Path], cache: Path | None = None) -> RuleBook:
    """The rule book of the folders, from the cache when nothing changed. Raises BrokenRules."""
    place = cache or _cache_folder()
    file = place / f"{fingerprint(folders)}.book"
    book = _kept(file)
    if book is None:
        book = load(*folders)
        with contextlib.suppress(OSError):
            _keep(book, file)
    return book


def fingerprint(folders: Sequence[Path]) -> str:
    """Names, sizes and times of all files, of the rules and of the code that reads them."""
    digest = hashlib.sha256(f"{__version__} {sys.version} {os.getuid()}".encode())
    for folder in (*folders, Path(__file__).parent):
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


def _cache_folder() -> Path:
    home = os.environ.get("COACHBOT_HOME")
    return Path(home) / "cache" if home else user_cache_path("coachbot", appauthor=False)


def _kept(file: Path) -> RuleBook | None:
    # Making thousands of small objects wakes the garbage collector again and again.
    collecting = gc.isenabled()
    gc.disable()
    try:
        if file.stat().st_uid != os.getuid():
            return None
        book = pickle.loads(file.read_bytes())
    except Exception:  # a damaged or foreign copy can fail in any way, and is read anew
        return None
    finally:
        if collecting:
            gc.enable()
    return book if isinstance(book, RuleBook) else None


def _keep(book: RuleBook, file: Path) -> None:
    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    descriptor, name = tempfile.mkstemp(dir=file.parent)
    with os.fdopen(descriptor, "wb") as target:
        pickle.dump(book, target, protocol=pickle.HIGHEST_PROTOCOL)
    Path(name).replace(file)
    old = sorted(file.parent.glob("*.book"), key=lambda f: f.stat().st_mtime, reverse=True)
    for stale in old[KEPT:]:
        stale.unlink(missing_ok=True)
