"""How many questions it takes until the advice is steady, over the development messages.

Run: ``python -m tests.advice.steady``. Each message's noted facts are the start; every
question is answered by a draw from its likely values (seeded), one time in ten with "don't
know". The advice is steady when no question is worth asking any more.
"""

from __future__ import annotations

import random
import statistics
from collections import Counter

from coachbot.advice import Coach
from coachbot.case import Case, Known
from coachbot.knowledge.book import RuleBook, load
from coachbot.knowledge.places import shipped_rules
from tests.messages.model import development

MOST = 12


def questions_until_steady(coach: Coach, case: Case, rng: random.Random) -> int:
    """The number of questions asked before none is worth asking."""
    for asked in range(MOST):
        ask = coach.advise(case)[0].ask
        if ask is None:
            return asked
        if rng.random() < 0.1:
            case = case.declining(ask.fact)
            continue
        fact = coach.book.facts[ask.fact]
        if fact.kind == "yes-no":
            answer: object = rng.random() < 0.5
        elif fact.values:
            weights = [v.likely for v in fact.values.values()]
            answer = rng.choices(list(fact.values), weights)[0]
        else:
            answer = rng.randint(int(fact.low or 0), int(fact.high or 10))
        case = case.with_known([Known(ask.fact, answer)], coach.book.single_valued)  # type: ignore[arg-type]
    return MOST


def measure(book: RuleBook, coach: Coach, seed: int = 3) -> list[int]:
    """The counts for every development message that gets any advice."""
    rng = random.Random(seed)
    counts = []
    for message in development(book):
        known = [Known(n.fact, n.value, n.denied) for n in message.facts]
        case = Case().with_known(known, book.single_valued)
        if coach.advise(case, ask=False)[0].suggestions:
            counts.append(questions_until_steady(coach, case, rng))
    return counts


def main() -> None:
    """Print the distribution."""
    book = load(shipped_rules())
    counts = measure(book, Coach(book))
    print(f"{len(counts)} messages, median {statistics.median(counts):g} questions,")
    print(f"mean {statistics.mean(counts):.2f}, most {max(counts)}")
    print("  ".join(f"{n}: {c}" for n, c in sorted(Counter(counts).items())))


if __name__ == "__main__":
    main()
