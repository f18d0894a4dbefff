"""A rehearsal as a person reads it, and as a machine does."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import msgspec
from rich.cells import cell_len
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
from feedscript.told_units import ball_words
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
    for line in _time_line(rehearsal, console.width):
        console.print(line, soft_wrap=True)
    console.print(_feeds(rehearsal))
    left = sum(ball.outcome is Outcome.LEFT for ball in rehearsal.balls)
    least, most = plan.bounds.balls
    within = "" if least <= left <= most else ", outside the plan's bounds"
    if any(isinstance(step, OnRequest) for step in every_step(plan.steps)):
        console.print(f"Balls on request: {_RULES[rehearsal.taps]}.")
    planned = str(most) if least == most else f"{least} to {most}"
    console.print(
        f"{ball_words(left)} left (planned {planned}{within}); "
        f"{clock(rehearsal.lesson_s)} from the first ball to the last, people's pauses included; "
        f"rehearsed in {rehearsal.took_s:.1f} s"
    )


_HEADS = ("time", "ball", "player", "feed", "aimed at", "landed", "off by")
_LEFT_ALIGNED = {"player", "feed"}
#: So many letters stand in a line of what was said, however narrow the terminal is.
_LEAST_ROOM = 20


def _time_line(rehearsal: Rehearsal, wide: int) -> list[str]:
    """A line for each ball, in columns; what was said or happened goes across them."""
    balls = [(ball.at_s, 1, _ball_row(ball)) for ball in rehearsal.balls]
    columns = zip(_HEADS, *(row for _, _, row in balls if len(row) == len(_HEADS)), strict=True)
    widths = [max(map(cell_len, column)) for column in columns]
    told: list[tuple[float, int, tuple[str, ...]]] = [*balls]
    for said in rehearsal.said:
        text = PHASES[Phase(said.text)].reported if said.phase else f"“{said.text}”"
        if text:
            told.append((said.at_s, 0, (clock(said.at_s), "", on_one_line(text))))
    lines = ["Time line", _in_columns(_HEADS, widths)]
    for _, _, row in sorted(told, key=lambda one: one[:2]):
        whole = len(row) == len(_HEADS)
        lines += [_in_columns(row, widths)] if whole else _across(row, widths, wide)
    return lines


def _in_columns(row: tuple[str, ...], widths: list[int]) -> str:
    cells = []
    for head, cell, width in zip(_HEADS, row, widths, strict=False):
        space = " " * max(0, width - cell_len(cell))
        cells.append(cell + space if head in _LEFT_ALIGNED else space + cell)
    return "  ".join(cells).rstrip()


def _across(row: tuple[str, ...], widths: list[int], wide: int) -> list[str]:
    """A row whose last cell goes on to the right edge, and on below itself."""
    *before, text = row
    start, begin = sum(widths[: len(before)]) + 2 * len(before), _in_columns((*before,), widths)
    begin += " " * (start - cell_len(begin))
    first, *more = textwrap.wrap(text, max(wide - start, _LEAST_ROOM)) or [""]
    return [begin + first, *(" " * start + line for line in more)]


def _ball_row(ball: Rehearsed) -> tuple[str, ...]:
    """Its cells; of one that did not leave, the last says why."""
    feed = on_one_line(ball.feed)
    player = "(shown)" if ball.shown else on_one_line(ball.player or "")
    if ball.outcome is not Outcome.LEFT:
        words = on_one_line(f"{ball.outcome.value}: {ball.reason}")
        return (clock(ball.at_s), "", player, feed, words)
    return (
        clock(ball.at_s),
        str(ball.feed_id),
        player,
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
