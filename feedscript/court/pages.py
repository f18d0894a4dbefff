"""The pages of the diagnostics that places give rise to."""

from __future__ import annotations

from feedscript.diagnostics import Page


def _program(place: str) -> str:
    return (
        'feedscript 1\ntitle "Places"\n'
        "court { surface hard }\nballs { load 60 }\n"
        "launcher { stands 1 m behind centre mark }\n"
        f"feed deep {{ land {place}   speed 86 km/h   spin top 600 rpm }}\n"
        "lesson { show speed of deep   send deep after 5 s }\n"
    )


_GOOD = _program("2 m inside baseline, 1 m inside ad sideline")

UNKNOWN_PLACE = Page(
    slug="unknown-place",
    title="A place that is not on this court",
    why="""A place is named by the lines, points and areas of the court that the program declares.
The names are those of the ITF Rules of Tennis and of everyday coaching. A name that the court does
not have (an alley on a red court, say) cannot be turned into metres, and nothing is guessed.""",
    wrong=_program("2 m inside bassline, 1 m inside ad sideline"),
    corrected=_GOOD,
)

PLACE_DIRECTION = Page(
    slug="place-direction",
    title="A distance without a direction",
    why="""`inside` leads towards the middle of the court, `behind`, `past` and `beyond` away from
the net, `outside` away from the court, `ad of` and `deuce of` to the sides as the player at that
end names them. Some pairs say nothing: there is no `behind` for a sideline.""",
    wrong=_program("2 m inside baseline, 1 m behind ad sideline"),
    corrected=_GOOD,
)

PLACE_INCOMPLETE = Page(
    slug="place-incomplete",
    title="A place that leaves a coordinate open",
    why="""A landing needs two figures: how far from the net, and how far from the middle. With one
of them missing the launcher would have to guess, and it does not.""",
    wrong=_program("2 m inside baseline"),
    corrected=_GOOD,
)

PLACE_TWICE = Page(
    slug="place-twice",
    title="A coordinate said twice",
    why="""Two parts of a place fix the same coordinate at different figures. Only one can be
meant.""",
    wrong=_program("2 m inside baseline, 1 m behind service line, on centre line"),
    corrected=_GOOD,
)

PAGES = (UNKNOWN_PLACE, PLACE_DIRECTION, PLACE_INCOMPLETE, PLACE_TWICE)
