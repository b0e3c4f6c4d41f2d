"""The case: what is known about the climber, the problem and the move, and how it is known."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

from coachbot.engine.model import Case as EngineCase
from coachbot.engine.model import Value


class KnownBy(StrEnum):
    """How a fact came to be known, besides by a rule."""

    SAID = "said"
    ANSWERED = "answered"
    CORRECTED = "corrected"
    RECORD = "record"
    SUPPOSED = "supposed"


@dataclass(frozen=True, slots=True)
class Known:
    """One value of one fact, or its denial, with the words that it was read from."""

    fact: str
    value: Value
    denied: bool = False
    known_by: KnownBy = KnownBy.SAID
    words: str = ""


@dataclass(frozen=True, slots=True)
class Case:
    """Everything that was said, in order, and the facts declined with "don't know"."""

    known: tuple[Known, ...] = ()
    declined: frozenset[str] = frozenset()

    def with_known(self, news: Iterable[Known], single_valued: Collection[str]) -> Case:
        """The case after some news. What is said later stands over what was said before.

        A new value of a single-valued fact puts the old one right; a value takes back its
        own denial, and a denial takes back its value.
        """
        known = list(self.known)
        declined = set(self.declined)
        for new in news:
            before = [k for k in known if k.fact == new.fact]
            gone = [k for k in before if self._gives_way(k, new, single_valued)]
            corrects = any(k.denied != new.denied or k.value != new.value for k in gone)
            if corrects and new.known_by is KnownBy.SAID:
                new = replace(new, known_by=KnownBy.CORRECTED)
            known = [k for k in known if k not in gone]
            known.append(new)
            declined.discard(new.fact)
        return Case(tuple(known), frozenset(declined))

    @staticmethod
    def _gives_way(old: Known, new: Known, single_valued: Collection[str]) -> bool:
        if _same(old.value, new.value):
            return True
        return new.fact in single_valued and not new.denied and not old.denied

    def declining(self, fact: str) -> Case:
        """The case after "don't know" to a question."""
        return replace(self, declined=self.declined | {fact})

    def without(self, facts: Collection[str]) -> Case:
        """The case with some facts forgotten, as when another move is talked about."""
        kept = tuple(k for k in self.known if k.fact not in facts)
        return Case(kept, self.declined - frozenset(facts))

    def values(self, fact: str) -> tuple[Value, ...]:
        """The values said for a fact, without denials."""
        return tuple(k.value for k in self.known if k.fact == fact and not k.denied)

    def settled(self, fact: str) -> bool:
        """Whether the fact was said or declined, so that it needs no question."""
        return fact in self.declined or any(k.fact == fact for k in self.known)

    def for_engine(self) -> EngineCase:
        said: dict[str, tuple[Value, ...]] = {}
        denied: dict[str, tuple[Value, ...]] = {}
        for k in self.known:
            into = denied if k.denied else said
            into[k.fact] = (*into.get(k.fact, ()), k.value)
        return EngineCase(said, denied)


def _same(a: Value, b: Value) -> bool:
    return isinstance(a, bool) == isinstance(b, bool) and a == b
