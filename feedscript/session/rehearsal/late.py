"""A player who is not there when the lesson begins, and comes while it runs."""

from __future__ import annotations

import msgspec

from feedscript.session.engine.engine import Engine
from feedscript.session.operator.commands import ChangeRoster, RosterChange


class Late(msgspec.Struct, frozen=True):
    """Who comes late, and after how many balls that left."""

    player: str
    after_balls: int


async def comes_late(engine: Engine, late: Late) -> None:
    """Take the player out of the group at once, and back in when so many balls have left."""
    away = ChangeRoster(change=RosterChange.LEAVE, player=late.player)
    back = ChangeRoster(change=RosterChange.JOIN, player=late.player)
    if await engine.command(away, by="script") is not None:
        return  # refused: the journal says why
    async for _ in engine.changes():
        if len(engine.lesson.recording.balls) >= late.after_balls:
            await engine.command(back, by="script")
            return
