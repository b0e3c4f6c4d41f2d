"""The guided writing of a rule, step by step, without a screen: questions, answers, the draft.

The coach tells a case in plain words; what is read from it becomes proposed conditions,
and near misses are found for every condition that is kept.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from rapidfuzz import fuzz, process

from coachbot.advice.inference import Outcome
from coachbot.case import Known
from coachbot.engine import Network
from coachbot.engine.model import All, Any, Case, Condition, EngineRule
from coachbot.knowledge.book import COMMON_PRACTICE, NOT_ALLOWED, RULE_ID, RuleBook
from coachbot.knowledge.conditions import Unreadable
from coachbot.knowledge.problems import nearest
from coachbot.knowledge.wording import fact_sentence

from .drafting import LONGEST_ID, Draft, given_of, id_from, value_text
from .effects import Minds

LONGEST_CUE = 160
ALIKE = 88
NONE = {"none", "skip", "no", "-", ""}
HOW_MUCH = {"a little": 0.4, "somewhat": 0.55, "clearly": 0.7, "a lot": 0.85, "decides": 0.95}
HOW_SURE = {"maybe": 0.5, "mostly": 0.7, "nearly always": 0.85, "always": 0.95}

When = str | tuple[str, ...]


class Wrong(Exception):
    """An answer that cannot be taken; the message says why and what would be."""


@dataclass(frozen=True, slots=True)
class Step:
    """One question of the guide. ``many`` answers end with an empty line."""

    name: str
    ask: str
    many: bool = False
    optional: bool = False


STEPS = (
    Step(
        "case",
        "Tell me the case as the climber would, in plain words. Several lines are fine;"
        " an empty line ends it.",
        many=True,
    ),
    Step("conditions", "When should your advice come?"),
    Step(
        "now",
        "What would you have said? One cue that a climber can keep in mind on the wall."
        ' (Or say what it means, for other rules to build on: "then means is weight_off_feet".)',
    ),
    Step("why", "Because? One or two sentences on why it works."),
    Step("drill", "A drill to learn it:"),
    Step("works_when", "The sign that it works (what the climber sees or feels):"),
    Step("dose", 'How much of the drill? ("skip" when there is no dose)', optional=True),
    Step(
        "cautions",
        'What to take care of? One a line, an empty line ends it ("skip" for none).',
        many=True,
        optional=True,
    ),
    Step("skills", "Which skills does it train? Names with commas, the most important first."),
    Step(
        "loads",
        "What does it put load on? Names with commas, or none. Be honest: safety rules hold"
        " back what loads a hurt part.",
    ),
    Step("serves", "Which situation does it serve? Its id, or several with commas."),
    Step("source", 'What does it rest on: "common" (common practice), or the key of a source?'),
    Step("says", "What does that say, in your own words?"),
    Step("place", "Where in the source (page, table, section)?"),
    Step("strength", f"How much does it change the move? {', '.join(HOW_MUCH)}, or 0 to 1."),
    Step("sure", f"How surely does it fit when the conditions hold? {', '.join(HOW_SURE)}."),
    Step("family", "Which family (folder) does it belong to?"),
    Step("id", "Its id (small letters, words joined by -):"),
    Step("author", "Who writes it?"),
)
NAMES = tuple(step.name for step in STEPS)
ONLY_ADVICE = {
    "drill", "works_when", "dose", "cautions", "skills", "loads", "serves", "strength", "sure",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Offered:
    """A condition that the case offers: how it reads, where it comes from, whether it is taken."""

    when: When
    plain: str
    taken: bool


class Guide:
    """Takes the answers of one coach, in any order that the steps allow, and gives the draft."""

    def __init__(self, minds: Minds, author: str = "") -> None:
        self.minds = minds
        self.book: RuleBook = minds.book
        self.answers: dict[str, str] = {}
        self.draft = Draft(author=author)
        self.offered: list[Offered] = []
        self._outcome: Outcome | None = None
        self._takers: Mapping[str, Callable[[str], None]] = {
            "case": self._case,
            "conditions": self._conditions,
            "now": self._now,
            "skills": self._skills,
            "loads": self._loads,
            "serves": self._serves,
            "source": self._source,
            "strength": lambda text: self._set(strength=_share(text, HOW_MUCH)),
            "sure": lambda text: self._set(sure=_share(text, HOW_SURE)),
            "family": self._family,
            "id": self._id,
            "cautions": lambda text: self._set(cautions=_lines(text)),
            "dose": lambda text: self._set(dose="" if text.lower() in NONE else text),
        }

    def steps(self) -> tuple[Step, ...]:
        """The steps that this draft needs."""
        out = {"place"} if self.draft.source == COMMON_PRACTICE else set()
        out |= ONLY_ADVICE if self.draft.then else set()
        return tuple(s for s in STEPS if s.name not in out)

    def take(self, name: str, text: str) -> None:
        """Take an answer. Raises Wrong, with everything as it was."""
        text = text.strip()
        step = next(s for s in STEPS if s.name == name)
        if not text and self.default(name):
            text = self.default(name)
        if not text and not step.optional:
            raise Wrong('Please say something here ("back" goes back, "stop" leaves).')
        if name in self._takers:
            self._takers[name](text)
        else:
            self._set(**{name: " ".join(text.split())})
        self.answers[name] = text

    def default(self, name: str) -> str:
        """What an empty answer means, or an empty text."""
        if name == "id":
            return self.draft.id or self._likely_id()
        if name == "family":
            return self.draft.family or self._likely_family()
        if name == "serves":
            return ", ".join(self.draft.serves or self.likely_situations()[:1])
        if name == "author":
            return self.draft.author
        if name == "source":
            return "common"
        return ""

    def choices(self, name: str) -> tuple[str, ...]:
        """What can be completed at a step."""
        if name == "skills":
            return tuple(self.book.skills)
        if name == "loads":
            return ("none", *self._loads_known())
        if name == "serves":
            likely = self.likely_situations()
            return (*likely, *(s for s in self.book.situations if s not in likely))
        if name == "now":
            facts = self.book.facts.items()
            return tuple(
                f"then {n} is {v}" for n, f in facts if f.concluded for v in f.values or ("yes",)
            )
        if name == "source":
            return ("common", *self.book.sources)
        if name == "family":
            return self._families()
        if name == "strength":
            return tuple(HOW_MUCH)
        if name == "sure":
            return tuple(HOW_SURE)
        return ()

    def outcome(self) -> Outcome:
        """The run of the told case."""
        if self._outcome is None:
            raise Wrong("Tell the case first.")
        return self._outcome

    def heard(self) -> tuple[str, ...]:
        """What was read from the case, in plain words with the words it came from."""
        understood = self.minds.coach.understood(self.outcome().case)
        return tuple(f'{u.sentence} ("{" ".join(u.words.split())}")' for u in understood)

    def place_in(self, after: Minds, rule_id: str) -> int | None:
        """The place of a rule in the told case with another book, from 1; None when it is none."""
        ranking = after.coach.rank(after.coach.infer(self.outcome().case))
        ranked = [r.rule for r in ranking.suggestions]
        return ranked.index(rule_id) + 1 if rule_id in ranked else None

    def holds_in(self, after: Minds) -> bool:
        """Whether what the draft concludes holds in the told case with another book."""
        facts = after.coach.infer(self.outcome().case).facts
        made = [after.book.grammar.conclusion(sentence) for sentence in self.draft.then]
        return all(value in facts.get(fact, ()) for fact, value in made)

    def said_now(self) -> tuple[tuple[str, str], ...]:
        """The first three suggestions of today: rule id and cue."""
        ranking = self.minds.coach.rank(self.outcome())
        shown = []
        for rule in ranking.first_three:
            suggestion = self.book.rules[rule].rule.suggest
            shown.append((rule, suggestion.now if suggestion else ""))
        return tuple(shown)

    def alike(self) -> tuple[str, str] | None:
        """A rule that says nearly the same as the cue, with its cue."""
        cues = {
            i: r.rule.suggest.now.lower()
            for i, r in self.book.rules.items()
            if r.rule.suggest and i != self.draft.id
        }
        found = process.extractOne(
            self.draft.now.lower(), cues, scorer=fuzz.token_sort_ratio, score_cutoff=ALIKE
        )
        if not found:
            return None
        suggestion = self.book.rules[found[2]].rule.suggest
        return (found[2], suggestion.now) if suggestion else None

    def drop(self, numbers: Sequence[int], taken: bool) -> None:
        """Leave offered conditions out or take them in, by number from 1. Raises Wrong."""
        for number in numbers:
            if not 1 <= number <= len(self.offered):
                raise Wrong(f"There is no condition {number}.")
            old = self.offered[number - 1]
            self.offered[number - 1] = replace(old, taken=taken)

    def add(self, text: str) -> None:
        """Add a condition in the coach's form; ``a is b or c is d`` makes alternatives."""
        when = self._parsed(text)
        if not self._holds([when]):
            raise Wrong("That does not hold in your case, so the rule would not fire in it.")
        if all(o.when != when for o in self.offered):
            self.offered.append(Offered(when, "yours", True))

    def take_conditions(self) -> None:
        """Make the taken conditions those of the draft. Raises Wrong."""
        lines = [o.when if isinstance(o.when, str) else " or ".join(o.when) for o in self.offered
                 if o.taken]  # fmt: skip
        self.take("conditions", "\n".join(lines))

    def _set(self, **fields: object) -> None:
        self.draft = replace(self.draft, **fields)  # type: ignore[arg-type]

    def _case(self, text: str) -> None:
        talk = self.minds.talk()
        for line in text.splitlines():
            talk.turn(line)
        facts = self.book.facts
        kept = [k for k in talk.state.case.known if facts[k.fact].about != "talk"]
        if not kept:
            raise Wrong(
                "I could read no fact in that. Say which hold, which wall, what goes wrong: for"
                ' example "my foot keeps slipping off a tiny foothold on the slab".'
            )
        case = type(talk.state.case)(tuple(kept))
        self._outcome = self.minds.coach.infer(case)
        self.offered = list(self._offers(self._outcome))
        given = given_of(self.book, [(k.fact, k.value, k.denied) for k in kept])
        self._set(fires=(given,))

    def _offers(self, outcome: Outcome) -> Iterator[Offered]:
        """What was said, taken; then what rules made of it, offered."""
        said = {k.fact for k in outcome.case.known}
        concluded = [(f, v) for f, vs in outcome.facts.items() if f not in said for v in vs]
        from_number = {
            k.fact
            for k in outcome.case.known
            if self.book.facts[k.fact].kind in {"number", "grade"} and self._used_by(outcome, k)
        }
        for k in outcome.case.known:
            plain = fact_sentence(self.book, k.fact, k.value, k.denied)
            yield Offered(self._sentence(k), plain, k.fact not in from_number)
        for fact, value in concluded:
            if fact != NOT_ALLOWED:
                plain = fact_sentence(self.book, fact, value)
                yield Offered(f"{fact} is {value_text(self.book, fact, value)}", plain, False)

    def _used_by(self, outcome: Outcome, known: Known) -> bool:
        """Whether some rule has made a plainer fact of a number."""
        return any(
            m.test.attribute == known.fact and f.concluded
            for firings in outcome.firings.values()
            for f in firings
            for m in f.matched
        )

    def _sentence(self, known: Known) -> str:
        word = value_text(self.book, known.fact, known.value)
        if self.book.facts[known.fact].kind in {"number", "grade"} and not known.denied:
            return f"{known.fact} is at least {word}"
        return f"{known.fact} is {'not ' if known.denied else ''}{word}"

    def _conditions(self, text: str) -> None:
        parts = [self._parsed(line) for line in text.splitlines() if line.strip()]
        if not parts:
            raise Wrong("Keep at least one condition, or the advice would always come.")
        if not self._holds(parts):
            raise Wrong("These conditions do not all hold in your case.")
        self._set(when=tuple(parts))

    def _parsed(self, text: str) -> When:
        """A sentence, or alternatives joined by "or". Raises Wrong."""
        text = " ".join(text.split())
        try:
            self.book.grammar.test(text)
            return text
        except Unreadable as error:
            ways = tuple(w.strip() for w in re.split(r"\s+or\s+(?=\S+ is )", text) if w.strip())
            if len(ways) < 2:
                raise Wrong(f"{error}.") from None
        for way in ways:
            try:
                self.book.grammar.test(way)
            except Unreadable as error:
                raise Wrong(f"{error}.") from None
        return ways

    def _holds(self, parts: Sequence[When]) -> bool:
        """Whether the parts hold together in the told case, as the engine finds it."""
        outcome = self.outcome()
        test = self.book.grammar.test
        conditions: list[Condition] = [
            test(p) if isinstance(p, str) else Any(tuple(test(w) for w in p)) for p in parts
        ]
        denied = outcome.case.for_engine().denied
        rule = EngineRule("the rule", All(tuple(conditions)))
        with Network([rule], self.book.single_valued) as network:
            return bool(network.run(Case(dict(outcome.facts), denied)).firings)

    def _now(self, text: str) -> None:
        word, _, rest = text.partition(" ")
        if word.lower() == "then":
            return self._set(then=tuple(self._concluded(rest)), now="", serves=())
        if len(text) > LONGEST_CUE:
            raise Wrong(f"That is {len(text)} letters. A cue has at most {LONGEST_CUE}.")
        return self._set(now=" ".join(text.split()), then=())

    def _concluded(self, text: str) -> Iterator[str]:
        """Conclusions with commas between them that say something new of the told case."""
        for sentence in (" ".join(part.split()) for part in text.split(",")):
            try:
                fact, value = self.book.grammar.conclusion(sentence)
            except Unreadable as error:
                made = ", ".join(n for n, f in self.book.facts.items() if f.concluded)
                raise Wrong(f"{error}. Rules can conclude: {made}.") from None
            held = self.outcome().facts.get(fact, ())
            if value in held:
                raise Wrong(f'"{sentence}" holds in your case already, without a new rule.')
            if held and fact in self.book.single_valued:
                other = value_text(self.book, fact, held[0])
                raise Wrong(f'In your case "{fact}" is {other}, and it has one value at a time.')
            yield sentence

    def _skills(self, text: str) -> None:
        names = _words(text)
        if len(names) > 4:
            raise Wrong("At most four skills, the most important first.")
        self._known(names, self.book.skills, "skill")
        self._set(skills=names)

    def _loads(self, text: str) -> None:
        names = () if text.lower() in NONE else _words(text)
        self._known(names, self._loads_known(), "load")
        self._set(loads=names)

    def _serves(self, text: str) -> None:
        names = tuple(n.upper() for n in _words(text))
        if not any(n in self.book.situations for n in names):
            told = {i: f"{s.situation} {s.aim}".lower() for i, s in self.book.situations.items()}
            found = process.extract(text.lower(), told, scorer=fuzz.token_set_ratio, limit=5)
            near = "\n".join(f"   {i}: {self.book.situations[i].situation}" for _, _, i in found)
            raise Wrong(f"Name it by its id. The nearest to that:\n{near}")
        self._known(names, self.book.situations, "situation")
        self._set(serves=names)

    def _source(self, text: str) -> None:
        key = COMMON_PRACTICE if text.lower() in {"common", COMMON_PRACTICE} else text
        self._known([key], {**self.book.sources, COMMON_PRACTICE: None}, "source")
        self._set(source=key, place=self.draft.place if key != COMMON_PRACTICE else "")

    def _family(self, text: str) -> None:
        if not RULE_ID.fullmatch(text) or text in {"tests", "words", "vocabulary"}:
            raise Wrong('A family is one plain word in small letters, such as "feet".')
        self._set(family=text)

    def _id(self, text: str) -> None:
        if not RULE_ID.fullmatch(text) or len(text) > LONGEST_ID:
            raise Wrong(
                f'"{text}" is no id. Use small letters, figures and - between words, at most'
                f" {LONGEST_ID}, such as {self._likely_id()}."
            )
        if text in self.book.rules:
            place = self.book.rules[text].place.path
            raise Wrong(
                f'The id "{text}" is taken by {place}. Choose another, or change that rule with'
                f" coachbot rules edit {text}."
            )
        self._set(id=text)

    def _known(self, names: Sequence[str], known: Mapping[str, object] | Sequence[str],
               what: str) -> None:  # fmt: skip
        for name in names:
            if name not in known:
                raise Wrong(f'There is no {what} "{name}".{nearest(name, known)}')
        if what != "load" and not names:
            raise Wrong(f"Name at least one {what}.")

    def _loads_known(self) -> tuple[str, ...]:
        fact = self.book.facts.get(NOT_ALLOWED)
        return tuple(fact.values) if fact else ()

    def _families(self) -> tuple[str, ...]:
        return tuple(sorted({r.family for r in self.book.rules.values()}))

    def _near_rules(self) -> tuple[str, ...]:
        """The rules that suggest something in the told case, best first."""
        if self._outcome is None:
            return ()
        return tuple(r.rule for r in self.minds.coach.rank(self._outcome).suggestions)

    def _likely_id(self) -> str:
        made = " ".join(self.draft.then).replace("_", " ").replace(" is ", " ")
        return id_from(self.draft.now or made, self.book.rules)

    def _likely_family(self) -> str:
        made = {sentence.partition(" ")[0] for sentence in self.draft.then}
        families = Counter(
            r.family for r in self.book.rules.values() if made & {fact for fact, _ in r.then}
        )
        if families:
            return families.most_common(1)[0][0]
        near = self._near_rules()
        return self.book.rules[near[0]].family if near else ""

    def likely_situations(self) -> tuple[str, ...]:
        """The situations that the suggestions of today serve."""
        served = (s for r in self._near_rules() for s in self.book.rules[r].rule.serves)
        return tuple(dict.fromkeys(served))


def _words(text: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(w.strip() for w in text.split(",") if w.strip()))


def _lines(text: str) -> tuple[str, ...]:
    if text.strip().lower() in NONE:
        return ()
    return tuple(" ".join(line.split()) for line in text.splitlines() if line.strip())


def _share(text: str, words: Mapping[str, float]) -> float:
    if text.lower() in words:
        return words[text.lower()]
    try:
        share = float(text)
    except ValueError:
        share = -1.0
    if not 0 <= share <= 1:
        raise Wrong(f"Say {', '.join(words)}, or a number from 0 to 1.")
    return share
