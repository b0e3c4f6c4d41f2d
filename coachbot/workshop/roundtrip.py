"""Single fields of a YAML file changed, with comments, order and quotes as they were."""

from __future__ import annotations

import io
import re
from datetime import date
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.scalarstring import DoubleQuotedScalarString

from coachbot.knowledge.model import Suggestion
from coachbot.knowledge.problems import Refused

_STEP = re.compile(r"([a-z_]+)(?:\[(\d+)\])?")
_DATE = re.compile(r"\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|30)")
WORD_LISTS = ("skills", "loads", "serves")
_PLAIN = re.compile(r"[A-Za-z0-9_-]+|[0-9.]+")


def read(text: str) -> Any:
    """A round-trip tree. The text must have passed the rule loader, which refuses tags."""
    return _yaml().load(text)


def write(tree: Any) -> str:
    """The tree as text."""
    out = io.StringIO()
    _yaml().dump(tree, out)
    return out.getvalue()


def _yaml() -> YAML:
    yaml = YAML()
    yaml.preserve_quotes = True
    yaml.width = 1_000_000
    yaml.indent(mapping=2, sequence=4, offset=2)
    yaml.brace_single_entry_mapping_in_flow_sequence = True
    return yaml


def whole_path(path: str) -> str:
    """The path of a field: those of the suggestion may be named alone."""
    first = re.split(r"[.\[]", path, maxsplit=1)[0]
    return f"suggest.{path}" if first in Suggestion.model_fields else path


def get(tree: Any, path: str) -> Any:
    """What stands at ``suggest.now`` or ``when[2]`` (counted from 1), None when nothing."""
    try:
        for key in _keys(whole_path(path)):
            tree = tree[key]
    except (KeyError, IndexError, TypeError):
        return None
    return tree


def put(tree: Any, path: str, text: str) -> None:
    """Set a field; an empty text takes it out; ``path[+]`` adds to a list. Raises Refused."""
    path = whole_path(path)
    adding = path.endswith("[+]")
    *way, last = _keys(path.removesuffix("[+]"))
    place = tree
    for key in way:
        if not isinstance(place, CommentedMap | CommentedSeq) or (
            isinstance(key, str) and key not in place
        ):
            raise Refused(f'there is no "{key}" in this rule')
        place = place[key]
    try:
        if adding:
            if last not in place:
                place[last] = CommentedSeq()
            place[last].append(_scalar(place[last][-1] if place[last] else "", text))
        elif not text.strip():
            del place[last]
        elif isinstance(place, CommentedMap) and isinstance(place.get(last), CommentedSeq):
            if last not in WORD_LISTS:
                raise Refused(f'"{last}" is a list: name one entry, {path}[1], or add, {path}[+]')
            _fill(place[last], [t.strip() for t in text.split(",") if t.strip()])
        else:
            before = place[last] if isinstance(last, int) or last in place else '"'
            place[last] = _scalar(before, text)
    except (KeyError, IndexError, TypeError, AttributeError):
        raise Refused(f'there is nothing at "{path}" in this rule') from None


def _fill(sequence: CommentedSeq, words: list[str]) -> None:
    before = sequence[0] if sequence else ""
    sequence.clear()
    sequence.extend(_scalar(before, w) for w in words)


def _scalar(before: Any, text: str) -> Any:
    """Text in the quotes of what stood there; double quotes where it needs some."""
    text = " ".join(text.split())
    if _DATE.fullmatch(text):
        return date.fromisoformat(text)
    if isinstance(before, bool | int | float) or (
        not isinstance(before, DoubleQuotedScalarString) and before != '"'
    ):
        if _PLAIN.fullmatch(text):
            return _number(text)
        if re.fullmatch(r"[a-z][a-z_0-9]* is [\w .,-]+", text):
            return text
    return DoubleQuotedScalarString(text)


def _number(text: str) -> Any:
    try:
        return int(text)
    except ValueError:
        pass
    try:
        return float(text)
    except ValueError:
        return text


def _keys(path: str) -> list[str | int]:
    keys: list[str | int] = []
    for step in path.split("."):
        found = _STEP.fullmatch(step)
        if not found:
            raise Refused(f'"{path}" is no field: write "now", "why", "when[2]", "when[+]"')
        keys.append(found[1])
        if found[2]:
            keys.append(int(found[2]) - 1)
    return keys
