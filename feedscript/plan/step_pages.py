"""The pages of steps that cannot stand as they are written."""

from __future__ import annotations

from feedscript.diagnostics import Diagnostic, Page, Related
from feedscript.language.program import StationStatement

TURN_TOO_SHORT = Page(
    slug="turn-too-short",
    title="A turn that cannot hold its feeds",
    why="""Turns change on the clock, and a turn repeats its body whole. When even one run of the
body can take longer than the turn, the change would come in the middle of a series.""",
    wrong="""feedscript 1
group { 4 players }
feed deep { land 2 m inside baseline, on centre line  speed 66 km/h }
lesson {
    show speed of deep
    rotate group every 20 s { rest 4 s  repeat 10 { send deep after 4 s } }
}
""",
    corrected="""feedscript 1
group { 4 players }
feed deep { land 2 m inside baseline, on centre line  speed 66 km/h }
lesson {
    show speed of deep
    rotate group every 44 s { rest 4 s  repeat 10 { send deep after 4 s } }
}
""",
)

_FOR = """feedscript 1
feed deep {{ land 2 m inside baseline, on centre line  speed 66 km/h }}
lesson {{
    show speed of deep
    for {time} {{ repeat 6 {{ send deep after 4 s }}  rest 20 s }}
}}
"""

TIME_TOO_SHORT = Page(
    slug="time-too-short",
    title="A block that does not fit into its time",
    why="""`for 5 min { … }` runs its block whole, as often as the longest run of it surely fits
into the time, and at least once. A block that is longer than its time even once would
run past it, and one that takes no time would have no end.""",
    wrong=_FOR.format(time="40 s"),
    corrected=_FOR.format(time="44 s"),
)

_STATIONS = """feedscript 1
court {{ lines doubles  surface hard }}
launcher west {{ profile "garage.toml"  stands 1 m behind baseline, 2.5 m to ad of centre mark }}
launcher east {{ profile "garage.toml"  stands 1 m behind baseline, 2.5 m to deuce of centre mark }}
group {{ players "A", "B", "C", "D" }}
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
        station "west" on launcher west {{ repeat 5 {{ send left after 5 s }}{inside} }}
        station "east" on launcher east {{ repeat 5 {{ send right after 5 s }} }}
    }}
{after}}}
"""

STATION_STEP = Page(
    slug="station-step",
    title="A step that cannot stand in a station",
    why="""Stations run side by side, each with people of its own. Collecting balls and showing a
speed need every launcher still and every person looking. Such steps stand before or after the
stations.""",
    wrong=_STATIONS.format(inside="  collect", after=""),
    corrected=_STATIONS.format(inside="", after="    collect\n"),
)

_ASKED = "send left when coach taps, at most 6, not before 5 s"

REQUEST_TIMED = Page(
    slug="request-timed",
    title="Balls on request where nothing says how long",
    why="""A ball on request leaves when the coach taps, and the coach may take any time. Stations
side by side end together, so what stands in one needs a time: the round's own, as in `rotate
stations every 6 min`, or a block's, `for 3 min { … }`. The end of that time ends the balls on
request. One coach can ask at one station at a time; the others send by time.""",
    wrong=_STATIONS.format(inside=f"  {_ASKED}", after=""),
    corrected=_STATIONS.format(inside=f"  for 1 min {{ {_ASKED} }}", after=""),
)


def no_time_of_its_own(station: StationStatement) -> Diagnostic:
    """Balls on request at a station of which nothing says how long it is."""
    return REQUEST_TIMED.report(
        f"balls on request stand at station {station.name!r}, and nothing says how long it takes",
        help="put them into `for 3 min { … }`, or write `rotate stations every 6 min { … }`",
        span=station.span,
    )


def two_ask(one: StationStatement, other: StationStatement) -> Diagnostic:
    """Balls on request at two stations side by side."""
    return REQUEST_TIMED.report(
        f"balls come on request at station {one.name!r} and at station {other.name!r} at once, and "
        "a coach taps for one",
        help="send by time at one of them, such as `send deep after 5 s`",
        span=other.span,
        related=(Related(one.span, "on request here too"),),
    )


_NAMED = """    together {{
        station "west" on launcher west {{
            for "A", "B" {{ repeat 5 {{ send left after 5 s }}  rest 8 s }}
        }}
        station "east" on launcher east {{
            for {east} {{ repeat 5 {{ send right after 5 s }}  rest 8 s }}
        }}
    }}
"""


def _named(east: str) -> str:
    head = _STATIONS.format(inside="", after="").split("    together", maxsplit=1)[0]
    return head + _NAMED.format(east=east) + "}\n"


TWO_PLACES = Page(
    slug="two-places",
    title="Somebody at two stations at once",
    why="""Stations run side by side. Whom a station names with `for "Ana" { … }` is there as long
as the stations run, so no other station beside it can name the same player.""",
    wrong=_named('"B", "C"'),
    corrected=_named('"C", "D"'),
)


def two_places(name: str, one: StationStatement, other: StationStatement) -> Diagnostic:
    """A player whom two stations side by side name."""
    return TWO_PLACES.report(
        f"{name} is named at station {one.name!r} and at station {other.name!r} at once",
        help="name each player at one of the stations",
        span=other.span,
        related=(Related(one.span, "named here too"),),
    )
