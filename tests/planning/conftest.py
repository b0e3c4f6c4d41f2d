from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest

from coachbot.engine import Network
from coachbot.engine.model import Value
from coachbot.knowledge.book import RuleBook
from coachbot.knowledge.model import Doses
from coachbot.review.rule_tests import case_of

Facts = dict[str, tuple[Value, ...]]


@pytest.fixture(scope="session")
def doses(book: RuleBook) -> Doses:
    assert book.doses is not None
    return book.doses


@pytest.fixture(scope="session")
def facts(book: RuleBook) -> Iterator[Callable[..., Facts]]:
    """What is known after a run of the rules, from values written as text."""
    rules = [e for r in book.rules.values() for e in r.for_engine()]
    with Network(rules, book.single_valued) as network:

        def known(**given: str | list[str]) -> Facts:
            return dict(network.run(case_of(book, given)).facts)

        yield known
