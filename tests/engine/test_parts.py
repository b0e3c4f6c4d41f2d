"""The narrow way in which durable-rules is used: limits, version, errors between its calls."""

from __future__ import annotations

import gc
import json
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from importlib.metadata import PackageNotFoundError
from pathlib import Path
from random import Random
from typing import TypeVar

import durable_rules_engine
import psutil
import pytest

from coachbot.engine import All, Case, EngineError, EngineRule, Network, Op, Run, Test, Value, parts
from coachbot.engine.parts import MAX_ATOMS, MAX_RULES, Part, field
from tests.engine.naive import Naive, text
from tests.engine.random_rules import RuleSet, random_case, random_rule_set

T = TypeVar("T")
CALLS = (
    "create_ruleset",
    "assert_fact",
    "start_action_for_state",
    "complete_and_start_action",
    "retract_fact",
    "delete_state",
    "delete_ruleset",
)
CALLS_IN_A_CASE = CALLS[1:5]


def fnv1a(name: str) -> int:
    """The hash by which durable-rules compares names (32 bits, Fowler-Noll-Vo 1a).

    Check values: "" and "a" from the test vectors of the FNV reference code, "foobar" too.
    """
    value = 0x811C9DC5
    for byte in name.encode():
        value = (value ^ byte) * 0x01000193 % 2**32
    return value


def test_names_in_the_engine_have_hashes_of_their_own() -> None:
    assert [fnv1a(name) for name in ("", "a", "foobar")] == [0x811C9DC5, 0xE40C292C, 0xBF9CF968]
    names = ["id", "sid", "boot", "m", *map(field, range(MAX_ATOMS))]
    names += map(str, range(MAX_RULES + 1))
    assert len(set(map(fnv1a, names))) == len(names)


def test_a_part_refuses_more_than_was_found_safe() -> None:
    assert (MAX_RULES, MAX_ATOMS) == (32, 240)
    Part([[n] for n in range(32)]).close()
    Part([list(range(n, n + 8)) for n in range(0, 240, 8)]).close()
    with pytest.raises(ValueError, match="32 conjunctions"):
        Part([[n] for n in range(33)])
    with pytest.raises(ValueError, match="240 atoms"):
        Part([list(range(n, n + 8)) for n in range(0, 248, 8)])
    for bad in ([], [1, 2, 1]):
        with pytest.raises(ValueError, match="distinct"):
            Part([bad])


def test_what_reaches_the_engine_stays_within_its_limits(monkeypatch: pytest.MonkeyPatch) -> None:
    built: list[dict[str, dict[str, list[dict[str, dict[str, object]]]]]] = []
    create = durable_rules_engine.create_ruleset

    def watched(name: str, rules: str) -> int:
        built.append(json.loads(rules))
        return int(create(name, rules))

    monkeypatch.setattr(durable_rules_engine, "create_ruleset", watched)
    # Many rules with few tests each, few rules with many tests each, one test in all rules.
    rules = [EngineRule(f"few {n}", Test(f"x{n % 7}", Op.EQUAL, n // 7)) for n in range(900)]
    rules += [
        EngineRule(f"many {n}", All(tuple(Test(f"y{n}_{m}", Op.KNOWN) for m in range(50))))
        for n in range(40)
    ]
    rules += [
        EngineRule(f"same {n}", All((Test("z", Op.EQUAL, 1), Test(f"z{n}", Op.KNOWN))))
        for n in range(600)
    ]
    with Network(rules, ()) as network:
        said: dict[str, tuple[Value, ...]] = {"z": (1,), "z599": ("a",), "x3": (5,)}
        said.update({f"y7_{m}": (m,) for m in range(50)})
        fired = {firing.rule for firing in network.run(Case(said)).firings}
    assert fired == {"same 599", "few 38", "many 7"}
    assert len(built) >= 1540 / 32
    for part in built:
        assert part.pop("32") == {"all": [{"m": {"boot": 1}}]}
        assert 1 <= len(part) <= 32
        used: set[str] = set()
        for rule in part.values():
            (condition,) = rule["all"]
            tests = condition["m"].get("$and", [condition["m"]])
            assert isinstance(tests, list)
            fields = [name for test in tests for name in test]
            assert len(set(fields)) == len(fields)
            assert all(list(test.values()) == [1] for test in tests)
            used.update(fields)
        assert len(used) <= 240
        assert used <= set(map(field, range(240)))


@pytest.mark.parametrize("found", ["2.0.27", "2.0.29", None])
def test_another_version_of_durable_rules_is_refused(
    monkeypatch: pytest.MonkeyPatch, found: str | None
) -> None:
    def version(name: str) -> str:
        assert name == "durable-rules"
        if found is None:
            raise PackageNotFoundError(name)
        return found

    monkeypatch.setattr(parts, "version", version)
    with pytest.raises(EngineError, match=r"durable-rules 2\.0\.28 only.*pip install"):
        Network([], ())


def test_nothing_else_imports_durable_rules() -> None:
    package = Path(parts.__file__).parents[1]
    users = [path for path in package.rglob("*.py") if "import durable" in path.read_text("utf-8")]
    assert users == [Path(parts.__file__)]
    program = "import sys, coachbot.engine; print([n for n in sys.modules if 'durable' in n])"
    found = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=True,
        cwd=package.parent,
    )
    assert found.stdout.strip() == "['durable_rules_engine']"


def chained() -> tuple[RuleSet, list[Case], list[str]]:
    """A rule set over several parts and levels, with cases and what they come to."""
    rng = Random(77)
    rule_set = random_rule_set(rng, 90)
    cases = [random_case(rng, rule_set) for _ in range(12)]
    naive = Naive(rule_set.rules, rule_set.single)
    return rule_set, cases, [text(naive.run(case)) for case in cases]


class Thrower:
    """Makes some calls into durable-rules fail, before or after they are done."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, names: tuple[str, ...]) -> None:
        self.count = 0
        self.at: frozenset[int] = frozenset()
        self.after = False
        self.error: type[BaseException] = RuntimeError
        for name in names:
            function = getattr(durable_rules_engine, name)
            monkeypatch.setattr(durable_rules_engine, name, self.wrapped(function))

    def wrapped(self, function: Callable[..., T]) -> Callable[..., T]:
        def call(*arguments: object) -> T:
            self.count += 1
            due = self.count in self.at
            if due and not self.after:
                raise self.error
            result = function(*arguments)
            if due:
                raise self.error
            return result

        return call

    def arm(self, *at: int, after: bool, error: type[BaseException] = KeyboardInterrupt) -> None:
        """Lets these calls from now on fail, counted from 1."""
        self.count, self.at, self.after, self.error = 0, frozenset(at), after, error

    def disarm(self) -> int:
        """The number of calls since it was armed."""
        self.at = frozenset()
        return self.count


@pytest.mark.parametrize("after", [False, True])
@pytest.mark.parametrize("error", [RuntimeError, KeyboardInterrupt, MemoryError])
def test_an_exception_at_any_call_of_a_case_spoils_no_later_case(
    monkeypatch: pytest.MonkeyPatch, after: bool, error: type[BaseException]
) -> None:
    rule_set, cases, expected = chained()
    thrower = Thrower(monkeypatch, CALLS_IN_A_CASE)
    thrown = 0
    with Network(rule_set.rules, rule_set.single) as network:
        for number, case in enumerate(cases[:6]):
            thrower.arm(after=after)
            network.run(case)
            for at in range(1, thrower.disarm() + 1):
                thrower.arm(at, after=after, error=error)
                with pytest.raises(error):
                    network.run(case)
                thrown += 1
                other = (number + at) % len(cases)
                assert text(network.run(cases[other])) == expected[other]
                assert text(network.run(case)) == expected[number]
    assert thrown > 100


@pytest.mark.parametrize("after", [False, True])
def test_an_exception_while_repairing_spoils_no_later_case(
    monkeypatch: pytest.MonkeyPatch, after: bool
) -> None:
    """Fails in a case, then once more at each of the calls that follow."""
    rule_set, cases, expected = chained()
    thrower = Thrower(monkeypatch, CALLS)
    with Network(rule_set.rules, rule_set.single) as network:
        for later in range(1, 40):
            thrower.arm(2, 2 + later, after=after)
            failures = 0
            while thrower.count < 2 + later:
                try:
                    assert text(network.run(cases[0])) == expected[0]
                except KeyboardInterrupt:
                    failures += 1
            assert failures == (1 if later < 3 else 2)
            thrower.disarm()
            for case, outcome in zip(cases, expected, strict=True):
                assert text(network.run(case)) == outcome


@pytest.mark.parametrize("after", [False, True])
def test_an_exception_while_building_or_closing_is_passed_on(
    monkeypatch: pytest.MonkeyPatch, after: bool
) -> None:
    rule_set, cases, expected = chained()
    thrower = Thrower(monkeypatch, CALLS)
    Network(rule_set.rules, rule_set.single).close()
    for at in range(1, thrower.disarm() + 1, 3):
        thrower.arm(at, after=after)
        with pytest.raises(KeyboardInterrupt), Network(rule_set.rules, rule_set.single) as network:
            pass
        thrower.disarm()
        with Network(rule_set.rules, rule_set.single) as network:
            assert text(network.run(cases[1])) == expected[1]


@pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="needs a timer signal")
def test_real_interrupts_at_random_moments() -> None:
    """Ctrl-C, thrown wherever Python happens to be in a case."""
    rule_set, cases, expected = chained()
    rng = Random(5)

    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGALRM, interrupt)
    hits = 0
    gc.disable()  # an interrupt inside a callback of the collector would be swallowed there
    try:
        with Network(rule_set.rules, rule_set.single) as network:
            for turn in range(400):
                try:
                    signal.setitimer(signal.ITIMER_REAL, rng.uniform(1e-5, 4e-3))
                    for case in cases:
                        network.run(case)
                    signal.setitimer(signal.ITIMER_REAL, 0)
                except KeyboardInterrupt:
                    hits += 1
                case, outcome = cases[turn % len(cases)], expected[turn % len(cases)]
                assert text(network.run(case)) == outcome
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)
        gc.enable()
    assert hits > 0


@pytest.mark.parametrize(
    ("call", "answer", "message"),
    [
        ("assert_fact", (2, 0), "refused a fact with code 2"),
        ("start_action_for_state", None, "NoneType"),
    ],
)
def test_an_answer_that_should_not_be_is_an_error(
    monkeypatch: pytest.MonkeyPatch, call: str, answer: object, message: str
) -> None:
    rule = EngineRule("rule", Test("x", Op.KNOWN))
    case = Case({"x": (1,)})
    with Network([rule], ()) as network:
        with monkeypatch.context() as patch:
            patch.setattr(durable_rules_engine, call, lambda *_: answer)
            with pytest.raises((EngineError, TypeError), match=message):
                network.run(case)
        assert network.run(case).firings


def test_a_closed_network_says_so() -> None:
    network = Network([EngineRule("rule", Test("x", Op.KNOWN))], ())
    network.close()
    network.close()
    with pytest.raises(RuntimeError, match="closed"):
        network.run(Case())


def test_threads_share_a_network_and_reload_it() -> None:
    """Four threads run cases while the rules under them are replaced again and again."""
    sets = []
    for seed in range(3):
        rng = Random(seed)
        rule_set = random_rule_set(rng, 60)
        naive = Naive(rule_set.rules, rule_set.single)
        cases = [random_case(rng, rule_set) for _ in range(10)]
        sets.append((rule_set, cases, [text(naive.run(case)) for case in cases]))
    lock = threading.Lock()
    current = 0, Network(sets[0][0].rules, sets[0][0].single)
    stop = threading.Event()
    checked: list[int] = []
    wrong: list[str] = []

    def work(seed: int) -> None:
        rng = Random(seed)
        while not stop.is_set():
            number = rng.randrange(10)
            with lock:
                index, network = current
            case, expected = sets[index][1][number], sets[index][2][number]
            try:
                found = text(network.run(case))
            except RuntimeError as error:
                # Replaced since it was read: nothing else may be wrong.
                if "closed" not in str(error):
                    wrong.append(repr(error))
                continue
            except BaseException as error:
                wrong.append(repr(error))
                return
            checked.append(index)
            if found != expected:
                wrong.append(f"{found}\n--\n{expected}")

    threads = [threading.Thread(target=work, args=(seed,)) for seed in range(4)]
    for thread in threads:
        thread.start()
    try:
        reloads = 0
        while (reloads < 60 or len(set(checked)) < 3) and not wrong:
            reloads += 1
            index = reloads % 3
            new = Network(sets[index][0].rules, sets[index][0].single)
            with lock:
                old, current = current[1], (index, new)
            old.close()
    finally:
        stop.set()
        for thread in threads:
            thread.join()
        current[1].close()
    assert not wrong
    assert set(checked) == {0, 1, 2}


def soak(cases: int, reload_every: int) -> Iterator[tuple[Run, Run]]:
    rng = Random(99)
    for _ in range(cases // reload_every):
        rule_set = random_rule_set(rng, rng.choice((10, 50, 120)))
        naive = Naive(rule_set.rules, rule_set.single)
        with Network(rule_set.rules, rule_set.single) as network:
            for _ in range(reload_every):
                case = random_case(rng, rule_set)
                yield network.run(case), naive.run(case)


def test_many_cases_and_reloads_in_one_process() -> None:
    """A short soak; the long one is tests/benchmarks/bench_soak.py."""
    for found, expected in soak(4_000, 100):
        assert text(found) == text(expected)


@pytest.mark.parametrize("closed", [True, False])
def test_reloading_does_not_fill_memory(closed: bool) -> None:
    """Also when a network is dropped without being closed."""
    rules = [
        EngineRule(str(n), All((Test(f"x{n % 9}", Op.EQUAL, n), Test("y", Op.KNOWN))))
        for n in range(100)
    ]
    case = Case({"x5": (5,), "y": (1,)})
    process = psutil.Process()
    sizes: list[int] = []
    for turn in range(150):
        network = Network(rules, ())
        assert len(network.run(case).firings) == 1
        if closed:
            network.close()
        if turn in (49, 149):
            sizes.append(process.memory_info().rss)
    # Sessions that are not deleted would add more than 2 MB for each 100 rules.
    assert sizes[1] - sizes[0] < 60_000_000
