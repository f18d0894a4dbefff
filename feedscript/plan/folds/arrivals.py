"""From which ground the players of a station come, who worked by themselves just before.

Stations side by side follow one another as the group moves round them. Whoever was at a station
without a launcher stood on its ground, where the program says one, and walks from there.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from feedscript.plan.bodies import bodies
from feedscript.plan.model import Plan, Repeat, Station, Step, Together, Until

#: Stations that are looked at in a plan, at most; nested repeats would double them without end.
_MOST = 4000


def arrivals(plan: Plan) -> dict[int, frozenset[str]]:
    """For each station, by ``id``, the names of those grounds; stations that have none are left
    out."""
    found: dict[int, frozenset[str]] = {}
    grounds = {area.name for area in plan.keep_outs}
    was: dict[int, str] = {}  # where each player stood last, if on a ground
    for number, step in enumerate(_in_order(plan.steps)):
        if number >= _MOST:
            break
        for station in step.stations:
            come = {was[player] for player in station.players if player in was}
            if come and station.launcher is not None:
                found[id(station)] = found.get(id(station), frozenset()) | come
        was.update(_stand(step.stations, grounds))
        for station in step.stations:
            if station.launcher is not None:
                for player in station.players:
                    was.pop(player, None)
    return found


def ground_of(station: Station) -> str:
    """What the ground of a station is called among the areas that are kept out."""
    return f"station {station.name}"


def _stand(stations: Sequence[Station], grounds: set[str]) -> Iterator[tuple[int, str]]:
    for station in stations:
        if station.launcher is None and ground_of(station) in grounds:
            yield from ((player, ground_of(station)) for player in station.players)


def _in_order(steps: Sequence[Step]) -> Iterator[Together]:
    """Stations side by side as they follow one another; what is repeated comes twice."""
    for step in steps:
        if isinstance(step, Together):
            yield step
        for _ in range(2 if isinstance(step, Repeat | Until) else 1):
            for body in bodies(step):
                yield from _in_order(body)
