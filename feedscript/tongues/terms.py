"""Terms of the trade that programs are written with and people read: courts, balls, levels, sides.

A term that has no words here is shown as it was written.
"""

from __future__ import annotations

from collections.abc import Mapping

from feedscript.tongues.text import _, p_

_COURTS = {
    "singles": p_("court", "singles"),
    "doubles": p_("court", "doubles"),
    "red": p_("court", "red"),
    "orange": p_("court", "orange"),
    "green": p_("court", "green"),
}
_BALLS = {
    "type 1": p_("balls", "type 1"),
    "type 2": p_("balls", "type 2"),
    "type 3": p_("balls", "type 3"),
    "high altitude": p_("balls", "high altitude"),
    "foam": p_("balls", "foam"),
    "stage red": p_("balls", "stage red"),
    "stage orange": p_("balls", "stage orange"),
    "stage green": p_("balls", "stage green"),
}
_STAGES = {
    "red": p_("stage", "red"),
    "orange": p_("stage", "orange"),
    "green": p_("stage", "green"),
    "yellow": p_("stage", "yellow"),
}
_LEVELS = {
    "beginner": p_("level", "beginner"),
    "improver": p_("level", "improver"),
    "club": p_("level", "club"),
    "county": p_("level", "county"),
    "touring": p_("level", "touring"),
}
_RESULTS = {
    "target": p_("result", "in target"),
    "in": p_("result", "in"),
    "net": p_("result", "net"),
    "long": p_("result", "long"),
    "left": p_("result", "left"),
    "right": p_("result", "right"),
}
_RESULT_HEADS = {
    "target": _("In target"),
    "in": _("In"),
    "net": _("Net"),
    "long": _("Long"),
    "left": _("Left"),
    "right": _("Right"),
}
_SIDES = {"ad": p_("side", "ad"), "deuce": p_("side", "deuce")}
_SURFACES = {
    "clay": p_("surface", "clay"),
    "hard": p_("surface", "hard"),
    "grass": p_("surface", "grass"),
    "carpet": p_("surface", "carpet"),
}


#: How a plan calls what a left-hander gets instead of a feed.
MIRRORED = " (left-hander)"
#: How it calls the ground of the coach, and that of players who work by themselves.
_COACH, _STATION = "coach", "station "


def _told(words: Mapping[str, str], term: str) -> str:
    return words.get(term, term)


def court(kind: str) -> str:
    """The kind of court."""
    return _told(_COURTS, kind)


def balls(kind: str) -> str:
    """The kind of ball."""
    return _told(_BALLS, kind)


def stage(stage: str) -> str:
    """The stage of a player or a group."""
    return _told(_STAGES, stage)


def level(level: str) -> str:
    """The level of a player or a group."""
    return _told(_LEVELS, level)


def result(value: str) -> str:
    """What a ball became."""
    return _told(_RESULTS, value)


def result_head(value: str) -> str:
    """The same at the head of a column."""
    return _told(_RESULT_HEADS, value)


def side(side: str) -> str:
    """A side of the court, as the receiver has it."""
    return _told(_SIDES, side)


def surface(surface: str) -> str:
    """The surface of the court."""
    return _told(_SURFACES, surface)


def feed(name: str) -> str:
    """A feed by its name; what a left-hander gets instead of one has none of its own."""
    own, mirrored, rest = name.partition(MIRRORED)
    its = own + rest
    return _("{feed} (left-hander)", feed=its) if mirrored else name


def feed_in_words(name: str) -> str:
    """The same as words of everyday language, for whoever did not write the program."""
    return feed(name.replace("_", " ").replace(".", " "))


def area(name: str) -> str:
    """Ground that is kept clear of balls, by its name."""
    if name == _COACH:
        return p_("area", "coach")
    if name.startswith(_STATION):
        return _("station {station}", station=name.removeprefix(_STATION))
    return name
