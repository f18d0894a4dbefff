"""What a group's `keep together` and `keep apart` ask of a lesson, and why it may not be had."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import msgspec

from feedscript.diagnostics import Diagnostic, Page, Span
from feedscript.plan.model import Station, Step, Turns

_KEPT = """feedscript 1
court {{ lines doubles  surface hard }}
balls {{ type 2  load 40 }}
launcher west {{ profile "garage.toml"  stands 1 m behind baseline, 2.5 m to ad of centre mark }}
launcher east {{ profile "garage.toml"  stands 1 m behind baseline, 2.5 m to deuce of centre mark }}
group {{ players "A", "B", "C", "D"  level club  {kept} }}
feed left {{
    land 3 m inside baseline, 2.5 m to deuce of centre line  speed 85 km/h  receiver at -2.5 m, 13 m
}}
feed right {{
    land 3 m inside baseline, 2.5 m to ad of centre line  speed 85 km/h  receiver at 2.5 m, 13 m
}}
lesson {{
    show speed of left
    show speed of right
    together {{
        station "west" on launcher west {{
            for each player {{ repeat 5 {{ send left after 5 s }}  rest 5 s }}
        }}
        station "east" on launcher east {{
            for each player {{ repeat 5 {{ send right after 5 s }}  rest 5 s }}
        }}
    }}
}}
"""

KEPT_OTHERWISE = Page(
    slug="kept-otherwise",
    title="Players who cannot be kept so",
    why="""Those who are kept together play at the same time, at stations side by side; those who
are kept apart never do, and stand at different stations where that can be. That needs stations
whose turns change at the same moments, and room for it; where it cannot be, the program is
refused.""",
    wrong=_KEPT.format(kept='keep together "A", "B", "C"'),
    corrected=_KEPT.format(kept='keep together "A", "B"  keep apart "A", "C"'),
)


def no_room(players: int, stations: int, span: Span) -> Diagnostic:
    """The group has no order in which all that is asked holds."""
    return KEPT_OTHERWISE.report(
        f"{players} players at {stations} stations cannot be kept together and apart as the group "
        "says",
        help="take a `keep` line out: together are at most as many as there are stations, and "
        "apart takes a turn for each",
        span=span,
    )


def out_of_step(span: Span) -> Diagnostic:
    """Nobody knows who plays at the same time."""
    return KEPT_OTHERWISE.report(
        "players are kept together or apart, and turns at these stations do not change at the same "
        "moments",
        help="give each station `for each player` with the same times, or turn the whole with "
        "`rotate group every T { together { … } }`",
        span=span,
    )


def no_stations(span: Span) -> Diagnostic:
    """There is nothing to keep."""
    return KEPT_OTHERWISE.report(
        "players are kept together or apart, and the lesson has no stations side by side: one "
        "player is on at a time",
        help="take the `keep` lines out of the group",
        span=span,
    )


#: How long a step of a station takes, in ms; None where that is not the same in every run.
Fixed = Callable[[Step, Station], int | None]


def in_step(stations: Sequence[Station], fixed_ms: Fixed) -> bool:
    """Whether turns at all stations begin together and are as long as each other."""
    stations = [station for station in stations if station.launcher is not None]
    times = {_turn_times(station, fixed_ms) for station in stations}
    return len(stations) < 2 or (len(times) == 1 and None not in times)


def _turn_times(station: Station, fixed_ms: Fixed) -> tuple[int, int] | None:
    """When a station's turns begin and how long each is, in ms; None where that is not fixed."""
    begins_ms = 0
    for number, step in enumerate(station.body):
        if isinstance(step, Turns):
            length_ms = fixed_ms(msgspec.structs.replace(step, slots=1), station)
            more = any(isinstance(later, Turns) for later in station.body[number + 1 :])
            return None if length_ms is None or more else (begins_ms, length_ms)
        passed_ms = fixed_ms(step, station)
        if passed_ms is None:
            return None
        begins_ms += passed_ms
    return None
