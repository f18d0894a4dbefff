"""A rehearsal with named faults: what coach and players do at their moments, and when it ends."""

from __future__ import annotations

from itertools import takewhile
from pathlib import Path

import anyio
import msgspec
from anyio.abc import TaskGroup

from feedscript.launcher.trials.far_end import Kind, Seen, SeesItself
from feedscript.launcher.trials.meaning import BY_THE_COURT
from feedscript.launcher.trials.trial import Trial, What
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.commands import SimpleCommand
from feedscript.session.operator.phases import Act
from feedscript.session.rehearsal.late import Late, comes_late

_ACTS = {What.HOLDS: Act.HOLD, What.STOPS: Act.STOP, What.STOPS_AT_ONCE: Act.EMERGENCY_STOP}

#: A lesson in which no ball leaves for so long is ended: it waits for something that never comes.
#: Longer than any break. Design value.
NO_BALL_S = 1800.0
#: So long the coach looks at trouble before doing something about it. Design value.
LOOKS_S = 2.0
#: So long after a ball the coach acts. Design value.
REACTS_S = 0.4


class Tried(msgspec.Struct, frozen=True):
    """The faults of a rehearsal. With ``balls_after`` it is ended when so many balls have left
    after the first that struck; ``capture`` is to hold every byte of the link.
    ``replays``: captures, one a launcher, to be played back instead of simulated launchers."""

    trials: tuple[Trial, ...] = ()
    balls_after: int | None = None
    capture: Path | None = None
    replays: tuple[Path, ...] = ()

    @property
    def looks_s(self) -> float:
        return LOOKS_S if self.trials else 0.0


NOTHING_TRIED = Tried()


def seen_by(engine: Engine) -> tuple[tuple[Seen, ...], ...]:
    """What each launcher saw of itself, in the plan's order; nothing where it cannot tell."""
    ports = [launcher.port for launcher in engine.lesson.launchers]
    return tuple(port.seen() if isinstance(port, SeesItself) else () for port in ports)


def play_people(
    tasks: TaskGroup, engine: Engine, late: Late | None, tried: Tried, acts: list[Seen]
) -> None:
    """Begin what people do; the moments at which faults of theirs struck are added to ``acts``."""
    if late is not None:
        tasks.start_soon(comes_late, engine, late)
    for trial in tried.trials:
        if trial.what is What.COMES_LATE:
            tasks.start_soon(_comes_late, engine, trial, acts)
        elif trial.what in BY_THE_COURT:
            tasks.start_soon(_acts, engine, trial, acts)
    if tried.trials:
        tasks.start_soon(_ends, engine, tried, acts)


async def _comes_late(engine: Engine, trial: Trial, acts: list[Seen]) -> None:
    players = engine.lesson.plan.group.players
    if not players:
        return  # nobody who could: the fault never strikes
    acts.append(_struck(trial))
    await comes_late(engine, Late(players[-1].name, trial.ball or 1))


async def _acts(engine: Engine, trial: Trial, acts: list[Seen]) -> None:
    async for _ in engine.changes():
        if len(engine.lesson.recording.balls) >= (trial.ball or 1):
            await anyio.sleep(REACTS_S)
            acts.append(_struck(trial))
            await engine.command(SimpleCommand(act=_ACTS[trial.what]), by="coach")
            return


def _struck(trial: Trial) -> Seen:
    return Seen(at_s=anyio.current_time(), kind=Kind.STRUCK, fault=trial.name)


async def _ends(engine: Engine, tried: Tried, acts: list[Seen]) -> None:
    """Quit the lesson when enough is seen of it, or when it does not end."""
    balls = 0
    with anyio.move_on_after(NO_BALL_S) as waits:
        async for _ in engine.changes():
            if tried.balls_after is not None and _balls_after(engine, acts) >= tried.balls_after:
                break
            if balls != (balls := len(engine.lesson.recording.balls)):
                waits.deadline = anyio.current_time() + NO_BALL_S
    await engine.command(SimpleCommand(act=Act.QUIT), by="script")


def _balls_after(engine: Engine, acts: list[Seen]) -> int:
    rows = sorted((row for seen in (*seen_by(engine), acts) for row in seen), key=lambda r: r.at_s)
    before = sum(1 for _ in takewhile(lambda row: row.kind is not Kind.STRUCK, rows))
    return sum(row.kind is Kind.LEFT for row in rows[before:])
