"""The coach: one rule book, its engine, and the advice for any case."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from coachbot.case import Case
from coachbot.knowledge.book import NOT_ALLOWED, RuleBook
from coachbot.knowledge.conditions import told
from coachbot.knowledge.wording import fact_sentence

from .inference import Inference, Outcome, said_in_words
from .model import Advice, Ask, Clash, HeldBack, Suggested, Understood
from .questions import Questions
from .ranking import Ranked, Ranking, rank


class Coach:
    """Advice from a rule book. Raises RuleSetError when its rules cannot run together."""

    def __init__(self, book: RuleBook) -> None:
        self.book = book
        self._inference = Inference(book)
        self._questions = Questions(book)

    def close(self) -> None:
        """Free the engine's memory; the coach cannot be used afterwards."""
        self._inference.close()

    def infer(self, case: Case) -> Outcome:
        """What fires in a case."""
        return self._inference.run(case)

    def rank(self, outcome: Outcome, put_aside: Collection[str] = ()) -> Ranking:
        """The suggestions of an outcome in order."""
        return rank(self.book, outcome, put_aside)

    def advise(
        self, case: Case, put_aside: Collection[str] = (), ask: bool = True
    ) -> tuple[Advice, Outcome]:
        """The advice for a case, and the run that it rests on."""
        outcome = self.infer(case)
        ranking = self.rank(outcome, put_aside)
        question = self._question(outcome, ranking, put_aside) if ask and not ranking.stop else None
        return self._advice(outcome, ranking, question), outcome

    def _question(
        self, outcome: Outcome, ranking: Ranking, put_aside: Collection[str]
    ) -> Ask | None:
        def ranks(case: Case) -> tuple[str, ...]:
            return self.rank(self.infer(case), put_aside).first_three

        best = self._questions.best(outcome, ranking.first_three, ranks)
        return self.ask(*best) if best else None

    def question_worths(self, case: Case) -> Mapping[str, tuple[int, float]]:
        """The questions that make sense in a case: the turn of each, and its bits."""
        outcome = self.infer(case)
        ranking = self.rank(outcome)
        return self._questions.worths(
            outcome, ranking.first_three, lambda other: self.rank(self.infer(other)).first_three
        )

    def ask(self, name: str, bits: float = 0.0, first: Sequence[str] = ()) -> Ask:
        """The question for a fact, with its choices in plain words, those of ``first`` first."""
        fact = self.book.facts[name]
        if fact.kind == "yes-no":
            choices: tuple[str, ...] = ("yes", "no")
        else:
            order = dict.fromkeys((*(v for v in first if v in fact.values), *fact.values))
            choices = tuple(fact.values[v].say for v in order)
        reason = fact.reason or "The answer can change what I would suggest first."
        return Ask(
            fact=name, question=fact.question or "", choices=choices, reason=reason, bits=bits
        )

    def understood(self, case: Case) -> tuple[Understood, ...]:
        """Everything said in the case, in plain words, with the words it came from."""
        shown = []
        for k in case.known:
            fact = self.book.facts[k.fact]
            value = self.book.ladder.steps[int(k.value)].v if fact.kind == "grade" else k.value
            shown.append(
                Understood(
                    fact=k.fact,
                    value=value,
                    unit=fact.unit,
                    words=k.words,
                    known_by=k.known_by.value,
                    denied=k.denied,
                    sentence=fact_sentence(self.book, k.fact, k.value, k.denied),
                )
            )
        return tuple(shown)

    def _advice(self, outcome: Outcome, ranking: Ranking, ask: Ask | None) -> Advice:
        cautions = tuple(
            rule.rule.caution for r in outcome.firings if (rule := self.book.rules[r]).rule.caution
        )
        replies = tuple(
            rule.rule.reply for r in outcome.firings if (rule := self.book.rules[r]).rule.reply
        )
        return Advice(
            suggestions=tuple(self._suggested(r, cautions) for r in ranking.suggestions),
            stop=ranking.stop is not None,
            urgency=ranking.stop,
            replies=replies,
            held_back=tuple(self._held_back(outcome, *held) for held in ranking.held_back),
            clashes=tuple(
                Clash(fact=c.attribute, values=tuple(map(told, c.values)), rules=c.rules)
                for c in outcome.conflicts
            ),
            ask=ask,
        )

    def _suggested(self, ranked: Ranked, case_cautions: tuple[str, ...]) -> Suggested:
        rule = self.book.rules[ranked.rule].rule
        suggestion = rule.suggest
        assert suggestion is not None
        cautions = (*suggestion.cautions, *(case_cautions if suggestion.loads else ()))
        return Suggested(
            rule=ranked.rule,
            skills=tuple(suggestion.skills),
            now=suggestion.now,
            why=rule.why,
            facts=tuple(sorted(said_in_words(f) for f in ranked.facts)),
            chain=ranked.chain,
            drill=suggestion.drill,
            cautions=tuple(dict.fromkeys(cautions)),
            strength=round(ranked.score, 4),
            works_when=suggestion.works_when,
            dose=suggestion.dose,
            sources=tuple(dict.fromkeys(g.key for g in rule.ground)),
        )

    def _held_back(self, outcome: Outcome, rule: str, loads: tuple[str, ...]) -> HeldBack:
        because = tuple(
            r
            for r, firings in outcome.firings.items()
            if any((NOT_ALLOWED, load) in f.concluded for f in firings for load in loads)
        )
        return HeldBack(rule=rule, loads=loads, because=because)
