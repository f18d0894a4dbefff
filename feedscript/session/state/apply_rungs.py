"""What moves a player in a progression does to the state."""

from __future__ import annotations

from msgspec.structs import replace

from feedscript.plan.interpreter.actions import NOBODY
from feedscript.plan.model import Plan
from feedscript.session.operator.phases import ENDED, Phase
from feedscript.session.state import events as e
from feedscript.session.state.impossible import impossible
from feedscript.session.state.run_state import RunState


def stood_on(plan: Plan, state: RunState, event: e.StoodOn) -> RunState:
    """Only of somebody who has had no ball yet, and was not moved."""
    if state.phase in ENDED:
        raise impossible("a player is put on a rung after the lesson has ended")
    key = (_progression(plan, event), _player(state, event.player))
    if has_begun(state, event.player) or was_moved(state, key):
        raise impossible(f"{event.player!r} is put on a rung, and has had a ball")
    before = {} if event.by else {key: event.rung}
    return replace(
        state,
        first_stands={**state.first_stands, key: event.rung},
        stands={**state.stands, key: event.rung},
        as_last_time={**state.as_last_time, **before},
    )


def has_begun(state: RunState, player: str) -> bool:
    """Whether a ball was asked for, for this player."""
    asked = any(ball.player == player for ball in state.under_way.values())
    return asked or any(ball.player == player for ball in state.left.values())


def was_moved(state: RunState, key: tuple[int, int]) -> bool:
    """Whether the lesson has moved this player in this progression."""
    return state.stands.get(key) != state.first_stands.get(key)


def stepped(plan: Plan, state: RunState, event: e.Stepped) -> RunState:
    """It is said, and not said again."""
    if state.phase not in (Phase.RUNNING, Phase.CONNECTING):
        raise impossible(f"a player is moved while the lesson is {state.phase}")
    key = (_progression(plan, event), _player(state, event.player))
    return replace(
        state,
        stands={**state.stands, key: event.rung},
        decisions={**state.decisions, (event.lane, event.number): True},
    )


def _progression(plan: Plan, event: e.StoodOn | e.Stepped) -> int:
    for number, found in enumerate(plan.progressions):
        if found.name == event.progression:
            if found.rungs[event.rung : event.rung + 1] != (event.feed,):
                raise impossible(f"rung {event.rung} of {found.name!r} is not {event.feed!r}")
            return number
    raise impossible(f"there is no progression {event.progression!r}")


def _player(state: RunState, name: str | None) -> int:
    if name is None:
        return NOBODY
    names = [player.name for player in state.roster.players]
    if name not in names:
        raise impossible(f"{name!r} is moved, and is not in the group")
    return names.index(name)
