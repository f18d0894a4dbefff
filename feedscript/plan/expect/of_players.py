"""Expectations of what players get: balls each, waiting, rows of one feed.

Each is bounded over the plan's tree first. Where the bound keeps what is expected, that is proof.
Where it does not, a run that breaks it is looked for; without one the bound may stand wider than
any run, and the outcome is inconclusive.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from feedscript.language.program import PlayerGets, PlayerWaits, Program, Running
from feedscript.plan.expect.draws import Drawing, drawn_runs
from feedscript.plan.expect.of_bounds import time_of
from feedscript.plan.expect.outcome import (
    About,
    CounterExample,
    Outcome,
    WorstCase,
    fails,
    passes,
    undecided,
)
from feedscript.plan.expect.rows import longest_row
from feedscript.plan.expect.sent import family_of, never_sent, spoken_of, wishes
from feedscript.plan.expect.shares import balls_of_player
from feedscript.plan.expect.waits import longest_wait_s
from feedscript.plan.interpreter.actions import (
    Action,
    Pause,
    SendBall,
    Speak,
    StartStations,
    WatchSpeed,
)
from feedscript.plan.model import Plan

#: The last ball that shows a breach, and what is wrong, or None if a run is as expected.
_Breach = Callable[[Sequence[Action]], tuple[int, str] | None]


def _found(
    drawing: Drawing, figure: str, breach: _Breach, worst: WorstCase | None = None
) -> Outcome:
    """A failure with the run that shows it, or inconclusive when no drawn run does."""
    if not drawing.draws:
        return undecided(f"{figure}; only drawn runs can tell", worst)
    runs = 0
    for seed, run in drawn_runs(drawing):
        runs += 1
        shown = breach(run)
        if shown is not None:
            return fails(figure, CounterExample(seed, *shown), worst)
    return undecided(f"{figure}; not seen in {runs} runs", worst)


def player_gets(wanted: PlayerGets, drawing: Drawing) -> Outcome:
    """Whether every player gets so many balls, in every run."""
    plan = drawing.plan
    shares = [balls_of_player(plan, player) for player in range(len(plan.group.players))]
    least, most = min(low for low, _ in shares), max(high for _, high in shares)
    figure = f"{least} balls each" if least == most else f"{least} to {most} balls each"
    if wanted.low <= least and most <= wanted.high:
        return passes(figure)

    def breach(run: Sequence[Action]) -> tuple[int, str] | None:
        for player, described in enumerate(plan.group.players):
            balls = _balls_of(run, player)
            if not wanted.low <= len(balls) <= wanted.high:
                last = balls[-1].ball if balls else 0
                return last, f"{described.name} gets {len(balls)} balls"
        return None

    return _found(drawing, figure, breach)


def player_waits(wanted: PlayerWaits, drawing: Drawing) -> Outcome:
    """Whether no player is without a ball for longer than that, in every run."""
    plan = drawing.plan
    waits = [longest_wait_s(plan, player) for player in range(len(plan.group.players))]
    longest = max(waits)
    player = waits.index(longest)
    figure = f"{plan.group.players[player].name} waits up to {_time(longest)}"
    worst = WorstCase(about=About.WAITS, player=player)
    if longest <= wanted.most_s + 1e-9:
        return passes(figure, worst)

    def breach(run: Sequence[Action]) -> tuple[int, str] | None:
        for number, described in enumerate(plan.group.players):
            for ball, wait_s in _waits_of(run, plan, number):
                if wait_s > wanted.most_s + 1e-9:
                    return ball, f"{described.name} waits {_time(wait_s)}"
        return None

    return _found(drawing, figure, breach, worst)


def running(wanted: Running, drawing: Drawing, program: Program) -> Outcome:
    """Whether no more than so many balls of one feed follow each other, in every run."""
    if not spoken_of(drawing.plan, program, wanted.feed):
        return never_sent(wanted.feed)
    names = [wanted.feed] if wanted.feed is not None else list(wishes(program))
    families = {name: family_of(drawing.plan, program, name) for name in names}
    rows = {name: longest_row(drawing.plan, family) for name, family in families.items()}
    worst = max(rows, key=lambda name: rows[name])
    figure = f"{rows[worst]} of {worst} in a row"
    if rows[worst] <= wanted.most:
        return passes(figure)

    def breach(run: Sequence[Action]) -> tuple[int, str] | None:
        for name in names:
            found = _row_of(run, families[name], wanted.most)
            if found is not None:
                return found, f"{wanted.most + 1} of {name} in a row"
        return None

    return _found(drawing, figure, breach)


def _time(seconds: float) -> str:
    minutes, left = divmod(round(seconds, 1), 60)
    return f"{minutes:.0f} min {left:g} s" if minutes else f"{left:g} s"


def _balls_of(run: Sequence[Action], player: int) -> list[SendBall]:
    return [action for action in run if isinstance(action, SendBall) and action.player == player]


def _waits_of(run: Sequence[Action], plan: Plan, player: int) -> Iterator[tuple[int, float]]:
    """Every wait of one player, with the ball that ends it, or the last one before its end."""
    before_s, ball, until_s = 0.0, 0, 0.0
    working = ""  # the station of work that was called, whose time is not known yet
    for action in run:
        if isinstance(action, StartStations):
            until_s = action.until_s
        elif isinstance(action, SendBall) and action.player == player:
            ball = action.ball
            yield ball, action.at_s - before_s
            before_s = action.at_s
        elif isinstance(action, Speak) and player in action.players:
            if not working:
                yield ball, action.at_s - before_s
            working, before_s = action.station, until_s
        elif isinstance(action, Pause) and working and action.station == working:
            working, before_s = "", action.until_s
    yield ball, time_of(plan, run) - before_s


def _row_of(run: Sequence[Action], family: frozenset[int], most: int) -> int | None:
    """The ball with which a row of this family grows past ``most``."""
    rows: dict[int, int] = {}
    for action in run:
        if isinstance(action, SendBall | WatchSpeed):
            row = rows.get(action.launcher, 0) + 1 if action.feed in family else 0
            rows[action.launcher] = row
            if row > most:
                return action.ball
    return None
