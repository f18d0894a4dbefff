"""Who of a group may get which feed, and what a figure that goes by stage and level asks of each.

Where a player states no stage or level, the group's holds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import msgspec

from feedscript.plan.bodies import bodies
from feedscript.plan.model import Plan, Send, Step, Turns
from feedscript.plan.scene import Group, Player


def who_gets(plan: Plan) -> tuple[frozenset[int], ...]:
    """For each feed the players who may get it, on any run and whoever else is out.

    A ball outside turns, or one that is only shown, may be anybody's. So may each of turns that
    are for everybody, at whichever station.
    """
    found: list[set[int]] = [set() for _ in plan.feeds]
    _look(plan, plan.steps, None, found)
    everyone = frozenset(range(len(plan.group.players)))
    return tuple(frozenset(players) or everyone for players in found)


def _look(
    plan: Plan, steps: Sequence[Step], on: Iterable[int] | None, found: list[set[int]]
) -> None:
    """``on``: who may be on turn; None outside turns."""
    players = plan.group.players
    for step in steps:
        if isinstance(step, Send):
            _note(players, step, on, found)
        inner = on
        if isinstance(step, Turns):
            inner = range(len(players)) if step.players is None else step.players
        for body in bodies(step):
            _look(plan, body, inner, found)


def _note(
    players: Sequence[Player], step: Send, on: Iterable[int] | None, found: list[set[int]]
) -> None:
    if on is None:
        for feed in step.all_feeds():
            found[feed].update(range(len(players)))
        return
    for number in on:
        player = players[number]
        for feed in step.feeds_on_any_rung(player.kind, left=player.left_handed):
            found[feed].add(number)


def as_group(group: Group, player: Player) -> Group:
    """The group as if all were like this player."""
    return msgspec.structs.replace(
        group, stage=player.stage or group.stage, level=player.level or group.level
    )


def each_group(group: Group) -> tuple[Group, ...]:
    """The group as if all were like each of its players; those alike once."""
    found = {
        (player.stage or group.stage, player.level or group.level): as_group(group, player)
        for player in group.players
    }
    return tuple(found.values()) or (group,)


def lowest(group: Group, figure: Callable[[Group], float]) -> float:
    """The lowest of a figure over all who are here."""
    return min(map(figure, each_group(group)))


def for_each_feed(
    group: Group,
    gets: Sequence[frozenset[int]],
    figure: Callable[[Group], float],
    strictest: Callable[[Iterable[float]], float],
) -> tuple[float, ...]:
    """For each feed the strictest of a figure over those who may get it, as :func:`who_gets` has
    them."""
    own = [figure(as_group(group, player)) for player in group.players] or [figure(group)]
    return tuple(strictest([own[number] for number in players] or own) for players in gets)


def for_whom(
    group: Group, gets: Sequence[frozenset[int]], figure: Callable[[Group], float]
) -> tuple[str, ...]:
    """For each feed in words for whom the lowest figure holds: a player's name, or the group."""
    if len(each_group(group)) == 1:
        return ("this group",) * len(gets)
    own = [figure(as_group(group, player)) for player in group.players]
    return tuple(
        group.players[min(players, key=lambda one: (own[one], one))].name for players in gets
    )
