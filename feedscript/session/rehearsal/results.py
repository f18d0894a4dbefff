"""Results of a rehearsal: drawn players, recorded when a coach could have seen their shots."""

from __future__ import annotations

import anyio

from feedscript.plan.interpreter.players import DrawnPlayer
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.commands import RecordResult
from feedscript.session.state.shots import target_of


async def record_drawn(engine: Engine, seed: int) -> None:
    """Record every ball's result, player by player, until it is cancelled."""
    lesson, players, done = engine.lesson, dict[str, DrawnPlayer](), 0
    async for _ in engine.changes():
        while done < len(lesson.recording.balls):
            ball = lesson.recording.balls[done]
            done += 1
            if ball.shown:
                continue
            await anyio.sleep(max(0.0, ball.seen_utc_s - lesson.now_utc_s()))
            who = ball.player or ""
            player = players.setdefault(who, DrawnPlayer(seed, who))
            result = player.shot(target=target_of(lesson.plan, ball) is not None)
            await engine.command(RecordResult(result=result, feed_id=ball.feed_id), by="script")
