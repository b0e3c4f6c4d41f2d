"""YAML files to plain trees that remember the line and column of every part.

Scalars stay text, so that ``no`` is a word and not False; the models convert them by
the declared kind. Duplicate keys, tags, anchors and aliases are mistakes: nothing in a
rule folder may build an object or stand for text that is not there to read.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from pathlib import Path
from stat import S_ISREG

import yaml

from .problems import Problem

Tree = str | None | list["Tree"] | dict[str, "Tree"]
Loc = tuple[str | int, ...]

PLAIN = {
    f"tag:yaml.org,2002:{kind}"
    for kind in ("str", "int", "float", "bool", "null", "timestamp", "merge", "value")
}
SETTLED = 200_000_000  # nanoseconds
LARGEST_FILE = 1_000_000
DEEPEST = 40

_READ: dict[tuple[str, str, str], tuple[tuple[int, ...], Document]] = {}
_LOADER: type[yaml.SafeLoader] = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass(slots=True)
class Document:
    """One file: its tree (None when unreadable), and the place of every part by its path."""

    path: str
    tree: Tree = None
    marks: dict[Loc, tuple[int, int]] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def problem(self, loc: Loc, message: str) -> Problem:
        """A problem at the nearest marked place on the way to ``loc``."""
        while loc and loc not in self.marks:
            loc = loc[:-1]
        line, column = self.marks.get(loc, (1, 1))
        return Problem(self.path, line, column, message)


def read(file: Path, shown_as: str, inside: Path) -> Document:
    """Read one file; every mistake of form is in ``problems``, with ``tree`` left None.

    A file that was read before and has kept its size and time of change is not read again.
    """
    try:
        link, stat = file.stat(follow_symlinks=False), file.stat()
    except OSError:
        return _read(file, shown_as, inside)
    known_as = (str(file.absolute()), shown_as, str(inside.absolute()))
    state = (stat.st_mtime_ns, stat.st_size, stat.st_ino, link.st_mode)
    kept = _READ.get(known_as)
    if kept is None or kept[0] != state:
        kept = (state, _read(file, shown_as, inside))
        # A file that was saved this very moment may be saved again within one tick of the clock.
        if time.time_ns() - stat.st_mtime_ns > SETTLED:
            _READ[known_as] = kept
    return kept[1]


def _read(file: Path, shown_as: str, inside: Path) -> Document:
    doc = Document(shown_as)
    text = _text(file, doc, inside)
    if text is None:
        return doc
    try:
        node = yaml.compose(text, Loader=_LOADER)
    except yaml.YAMLError as error:
        doc.problems.append(_yaml_problem(shown_as, error, text))
        return doc
    except RecursionError:
        doc.problems.append(Problem(shown_as, 1, 1, "nested too deeply to be read"))
        return doc
    if node is None:
        doc.problems.append(Problem(shown_as, 1, 1, "the file is empty"))
        return doc
    tree = _Walk(doc).plain(node, ())
    if not doc.problems:
        doc.tree = tree
    return doc


def _text(file: Path, doc: Document, inside: Path) -> str | None:
    def refuse(message: str, line: int = 1) -> None:
        doc.problems.append(Problem(doc.path, line, 1, message))

    try:
        if not file.resolve().is_relative_to(inside.resolve()):
            refuse("leads out of the rule folder; copy the file here instead of linking to it")
            return None
        stat = file.stat()
        if not S_ISREG(stat.st_mode):
            refuse("is no ordinary file")
            return None
        if stat.st_size > LARGEST_FILE:
            refuse(f"larger than {LARGEST_FILE:,} bytes; a rule file is a page or two")
            return None
        raw = file.read_bytes()
    except (OSError, RuntimeError) as error:  # a RuntimeError for links in a circle
        refuse(f"cannot be read: {getattr(error, 'strerror', None) or 'a link that leads nowhere'}")
        return None
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        refuse("is not UTF-8 text; save it as UTF-8", raw[: error.start].count(b"\n") + 1)
        return None


def _yaml_problem(path: str, error: yaml.YAMLError, text: str) -> Problem:
    mark = getattr(error, "problem_mark", None)
    what = getattr(error, "problem", None) or str(error).splitlines()[0]
    line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
    lines = text.splitlines()
    if line <= len(lines) and lines[line - 1].lstrip(" ").startswith("\t"):
        what = "a tab stands where spaces must; indent with spaces"
    return Problem(path, line, column, f"not valid YAML: {what}")


class _Walk:
    """Nodes to plain trees; an alias is met as a node that was walked before."""

    def __init__(self, doc: Document) -> None:
        self._doc = doc
        self._walked: set[int] = set()

    def plain(self, node: yaml.Node, loc: Loc) -> Tree:
        mark = node.start_mark
        place = (mark.line + 1, mark.column + 1)
        self._doc.marks[loc] = place
        if len(loc) > DEEPEST:
            return self._refuse(place, "nested too deeply; a rule needs a few levels")
        if id(node) in self._walked:
            return self._refuse(place, "an anchor (&) is used again (*) here; write the text out")
        self._walked.add(id(node))
        if isinstance(node, yaml.ScalarNode):
            if node.tag not in PLAIN:
                return self._refuse(place, f'the tag "{node.tag}" is not used here')
            empty = node.style is None and node.value in {"", "~", "null"}
            return None if empty else str(node.value)
        if isinstance(node, yaml.SequenceNode) and node.tag == "tag:yaml.org,2002:seq":
            return [self.plain(part, (*loc, i)) for i, part in enumerate(node.value)]
        if isinstance(node, yaml.MappingNode) and node.tag == "tag:yaml.org,2002:map":
            return self._mapping(node, loc)
        return self._refuse(place, f'the tag "{node.tag}" is not used here')

    def _mapping(self, node: yaml.MappingNode, loc: Loc) -> Tree:
        tree: dict[str, Tree] = {}
        for key_node, value_node in node.value:
            mark = key_node.start_mark
            place = (mark.line + 1, mark.column + 1)
            if not isinstance(key_node, yaml.ScalarNode):
                self._refuse(place, "a key must be a plain word")
                continue
            key = str(key_node.value)
            if key in tree:
                self._refuse(place, f'"{key}" stands here a second time')
                continue
            tree[key] = self.plain(value_node, (*loc, key))
        return tree

    def _refuse(self, place: tuple[int, int], message: str) -> Tree:
        self._doc.problems.append(Problem(self._doc.path, *place, message))
        return None
