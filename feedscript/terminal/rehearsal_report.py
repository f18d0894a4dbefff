"""A rehearsal as a person reads it, and as a machine does."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import msgspec
from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn
from rich.table import Table

from feedscript.check.check_program import Verdict
from feedscript.diagnostics import as_json as diagnostic_json
from feedscript.formats import headed
from feedscript.launcher.port import Outcome
from feedscript.plan.bodies import within as every_step
from feedscript.plan.model import OnRequest, Plan
from feedscript.session.operator.auto_operator import Taps
from feedscript.session.operator.phase_words import PHASES
from feedscript.session.operator.phases import Phase
from feedscript.session.operator.view import LessonView
from feedscript.session.rehearsal.rehearse import Rehearsal, Rehearsed
from feedscript.terminal.painter import painting
from feedscript.terminal.screen import render
from feedscript.terminal.terminal_state import TerminalState
from feedscript.visible import on_one_line


@contextmanager
def progress(plan: Plan, *, live: bool) -> Iterator[Callable[[LessonView], None] | None]:
    """Shows on standard error how far the rehearsal is; quiet where that is no terminal.

    In real time (``live``) it shows what a coach would see. However the rehearsal ends, the
    terminal is as it was.
    """
    console = Console(stderr=True, highlight=False, markup=False, emoji=False)
    if not console.is_terminal:
        yield None
    elif live:
        own = TerminalState(keys=False)
        with painting(console) as painter:
            yield lambda view: painter.show(render(view, own))
    else:
        with _bar(plan, console) as watch:
            yield watch


@contextmanager
def _bar(plan: Plan, console: Console) -> Iterator[Callable[[LessonView], None]]:
    bar = Progress(
        TextColumn("[progress.description]{task.description}"),
        BarColumn(),
        TextColumn("{task.completed}/{task.total} balls"),
        console=console,
        transient=True,
        auto_refresh=False,
    )
    task = bar.add_task("rehearsing", total=plan.bounds.balls[1])
    with bar:
        yield lambda view: bar.update(
            task, completed=view.balls_left, description=view.phase_words, refresh=True
        )


#: What the rehearsed coach does about balls on request.
_RULES = {
    Taps.SOON: "the rehearsed coach asks for each as soon as it may leave",
    Taps.NEVER: "the rehearsed coach asks for none",
}


def clock(seconds: float) -> str:
    """Minutes and seconds, as on a stop watch."""
    sign = "-" if seconds < 0 else ""
    minutes, rest = divmod(abs(seconds), 60.0)
    return f"{sign}{int(minutes):02d}:{rest:04.1f}"


def show(rehearsal: Rehearsal, plan: Plan) -> None:
    """The time line, ball by ball, and what each feed did."""
    console = Console(highlight=False, markup=False, emoji=False)
    console.print(_time_line(rehearsal))
    console.print(_feeds(rehearsal))
    left = sum(ball.outcome is Outcome.LEFT for ball in rehearsal.balls)
    least, most = plan.bounds.balls
    within = "" if least <= left <= most else ", outside the plan's bounds"
    if any(isinstance(step, OnRequest) for step in every_step(plan.steps)):
        console.print(f"Balls on request: {_RULES[rehearsal.taps]}.")
    console.print(
        f"{left} balls left (planned {least} to {most}{within}); "
        f"{clock(rehearsal.lesson_s)} from the first ball to the last, people's pauses included; "
        f"rehearsed in {rehearsal.took_s:.1f} s"
    )


def _time_line(rehearsal: Rehearsal) -> Table:
    table = Table(title="Time line", title_justify="left", box=None, pad_edge=False)
    for name in ("time", "ball", "player", "feed", "aimed at", "landed", "off by"):
        table.add_column(name, justify="left" if name in ("player", "feed") else "right")
    rows: list[tuple[float, int, tuple[str, ...]]] = []
    for said in rehearsal.said:
        text = PHASES[Phase(said.text)].reported if said.phase else f"“{said.text}”"
        if text:
            rows.append((said.at_s, 0, (clock(said.at_s), "", "", text, "", "", "")))
    rows += [(ball.at_s, 1, _ball_row(ball)) for ball in rehearsal.balls]
    for _, _, cells in sorted(rows, key=lambda row: row[:2]):
        table.add_row(*map(on_one_line, cells))
    return table


def _ball_row(ball: Rehearsed) -> tuple[str, ...]:
    feed = f"{ball.feed} (shown)" if ball.shown else ball.feed
    if ball.outcome is not Outcome.LEFT:
        words = f"{ball.outcome.value}: {ball.reason}"
        return (clock(ball.at_s), "", ball.player or "", feed, words, "", "")
    return (
        clock(ball.at_s),
        str(ball.feed_id),
        ball.player or "",
        feed,
        _place(ball.aim_m),
        "" if ball.landing_m is None else _place(ball.landing_m),
        "" if ball.landing_m is None else f"{_miss(ball):.2f} m",
    )


def _place(place_m: tuple[float, float]) -> str:
    """Sideways (positive to the ad side) and past the net, in metres."""
    return f"{place_m[0]:+.2f}, {place_m[1]:.2f}"


def _miss(ball: Rehearsed) -> float:
    assert ball.landing_m is not None
    dx = ball.landing_m[0] - ball.aim_m[0]
    dy = ball.landing_m[1] - ball.aim_m[1]
    return float((dx * dx + dy * dy) ** 0.5)


def _feeds(rehearsal: Rehearsal) -> Table:
    table = Table(title="Feeds", title_justify="left", box=None, pad_edge=False)
    for name in ("feed", "balls", "median off by", "worst"):
        table.add_column(name, justify="left" if name == "feed" else "right")
    by_feed: dict[str, list[float]] = {}
    for ball in rehearsal.balls:
        if ball.landing_m is not None:
            by_feed.setdefault(ball.feed, []).append(_miss(ball))
    for feed, misses in by_feed.items():
        misses.sort()
        middle = misses[len(misses) // 2]
        table.add_row(on_one_line(feed), str(len(misses)), f"{middle:.2f} m", f"{misses[-1]:.2f} m")
    return table


def as_json(rehearsal: Rehearsal, verdict: Verdict) -> dict[str, Any]:
    """One object: how it ended, every ball, every call."""
    plain = {
        "ok": rehearsal.ending.finished,
        "ending": rehearsal.ending.phase.value,
        "lesson_s": rehearsal.lesson_s,
        "balls": msgspec.to_builtins(rehearsal.balls),
        "calls": [
            {"at_s": said.at_s, "text": said.text} for said in rehearsal.said if not said.phase
        ],
        "phases": [
            {"at_s": said.at_s, "phase": said.text} for said in rehearsal.said if said.phase
        ],
        "diagnostics": [
            diagnostic_json(one) for one in (*verdict.diagnostics, *rehearsal.ending.diagnostics)
        ],
    }
    return headed("rehearse", plain)
