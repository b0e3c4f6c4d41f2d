"""One reader of the shipped rule book for all tests of understanding."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from coachbot.engine.model import Value
from coachbot.knowledge.book import RuleBook
from coachbot.understanding import Reader

Reads = Callable[[str], set[tuple[str, Value, bool]]]


@pytest.fixture(scope="session")
def reader(book: RuleBook) -> Reader:
    return Reader(book)


@pytest.fixture(scope="session")
def heard(reader: Reader) -> Reads:
    """What is heard in a text, as (fact, value, denied)."""
    return lambda text: {(h.fact, h.value, h.denied) for h in reader.read(text).heard}
