"""The commands of staff study: ``coachbot study …``."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from .options import OWN_RULES, told

KINDS = ("advise", "question", "ruled out", "red flag", "order", "cue")
NAME = click.option("--as", "name", help="Who studies. Default: the name of the login.")
MINUTES = click.option(
    "--minutes",
    type=click.FloatRange(1, 240),
    default=10,
    show_default=True,
    help="Minutes a day.",
)
SVG = click.option(
    "--svg", type=click.Path(dir_okay=False, path_type=Path), help="Draw it into an SVG file too."
)
Command = Callable[..., Any]


@click.group(invoke_without_command=True)
@NAME
@MINUTES
@click.option("--only", type=click.Choice(KINDS), help="Only one kind of exercise.")
@OWN_RULES
@click.pass_context
def study(
    context: click.Context,
    name: str | None,
    minutes: float,
    only: str | None,
    own: tuple[Path, ...],
) -> None:
    """Learn the heuristics on cases and be marked. Without a command: today's session."""
    context.obj = (*(context.obj or ()), *own)
    if context.invoked_subcommand is None:
        with told():
            from .study import study as hold

            hold(context.obj, name, minutes, only)


@study.command()
@NAME
@MINUTES
@OWN_RULES
@click.pass_obj
def plan(before: tuple[Path, ...], name: str | None, minutes: float, own: tuple[Path, ...]) -> None:
    """Today's plan: what to repeat, what is new, and what the next days bring."""
    with told():
        from .study_views import plan as show

        show((*before, *own), name, minutes)


@study.command()
@NAME
@MINUTES
@SVG
@OWN_RULES
@click.pass_obj
def mastery(
    before: tuple[Path, ...],
    name: str | None,
    minutes: float,
    svg: Path | None,
    own: tuple[Path, ...],
) -> None:
    """How well each family and skill is known, and when it will be."""
    with told():
        from .study_views import mastery as show

        show((*before, *own), name, minutes, svg)


@study.command()
@NAME
@click.option("--seed", type=click.IntRange(1, 999_999), help="The same seed gives the same cases.")
@click.option(
    "--pass",
    "pass_percent",
    type=click.IntRange(1, 100),
    default=80,
    show_default=True,
    help="Right answers needed, in percent. All safety cases must be right in any case.",
)
@click.option("--report", is_flag=True, help="Print the results of checks instead.")
@OWN_RULES
@click.pass_obj
def check(
    before: tuple[Path, ...],
    name: str | None,
    seed: int | None,
    pass_percent: int,
    report: bool,
    own: tuple[Path, ...],
) -> None:
    """A readiness check of 30 cases without hints; it can be left and taken up again.

    Exit status 0 when it is passed, 1 when it is not passed or not finished.
    """
    with told():
        from . import study as doors

        if report:
            doors.check_reports((*before, *own), name)
            return
        chosen = seed or doors.unfinished_seed(name) or doors.new_seed()
        sys.exit(0 if doors.check((*before, *own), name, chosen, pass_percent / 100) else 1)


@study.command()
@SVG
@OWN_RULES
@click.pass_obj
def staff(before: tuple[Path, ...], svg: Path | None, own: tuple[Path, ...]) -> None:
    """Where the whole staff is weak, and which rules are often disputed."""
    with told():
        from .study_views import overview

        overview((*before, *own), svg)


@study.command()
@click.option("--all", "all_of_them", is_flag=True, help="The settled ones too.")
@OWN_RULES
@click.pass_obj
def disputes(before: tuple[Path, ...], all_of_them: bool, own: tuple[Path, ...]) -> None:
    """The marks that trainees dispute, for the coach."""
    with told():
        from .study_views import disputes as show

        show((*before, *own), all_of_them)


@study.command()
@click.argument("number", type=int)
@click.argument("decision", type=click.Choice(["right", "stands"]))
@click.argument("reply", default="")
@OWN_RULES
@click.pass_obj
def settle(
    before: tuple[Path, ...], number: int, decision: str, reply: str, own: tuple[Path, ...]
) -> None:
    """Decide a dispute: the trainee is right, or the mark stands."""
    with told():
        from .study_views import settle as decide

        decide((*before, *own), number, decision == "right", reply)


@study.command()
@click.argument("number", type=click.IntRange(1, 999_999))
@NAME
@OWN_RULES
@click.pass_obj
def case(before: tuple[Path, ...], number: int, name: str | None, own: tuple[Path, ...]) -> None:
    """One case by its number: the same number is the same case."""
    with told():
        from .study import one_case

        one_case((*before, *own), name, number)


@study.command()
@OWN_RULES
@click.pass_obj
def cases(before: tuple[Path, ...], own: tuple[Path, ...]) -> None:
    """The cases that the coach gives to everybody, and how to add one."""
    with told():
        from .study_views import pinned

        pinned((*before, *own))
