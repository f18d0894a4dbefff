"""Words of the page for what the program knows by English names: places, and reasons."""

from __future__ import annotations

from feedscript.court.lines import Court
from feedscript.tongues import terms
from feedscript.tongues.text import _

_ENDS = {"receiver": _("receiver's end"), "launcher": _("launcher's end")}
_PLACES = {
    "corner": _("outer corner"),
    "singles corner": _("singles corner"),
    "service corner": _("service line at the sideline"),
    "t": _("middle of the service line"),
    "centre mark": _("centre mark"),
    "net post foot": _("foot of the net post"),
    "net post top": _("top of the net post"),
    "middle of net": _("top of the net in the middle"),
}
#: Where a singles net ends, singles sticks stand: the posts of a wider net, which people see, are
#: four and a half feet farther out (Rules of Tennis, Rule 1).
_STICKS = {
    "net post foot": _("foot of the singles stick"),
    "net post top": _("top of the singles stick"),
}
_REASONS = {
    "no-pictures": _("the film does not show its time"),
    "camera-moved": _("the camera was moved, or something stood in front of it"),
    "not-in-view": _("its way is not in the picture"),
    "nothing-seen": _("nothing was seen along its way"),
    "too-few": _("it was seen in too few pictures"),
    "bounce-outside": _("it bounced outside the picture"),
    "bounce-unseen": _("it was not seen both before and after its bounce"),
    "not-likely": _("what was seen flies unlike the feed"),
    "two-ways": _("two flights fit what was seen, and land in different places"),
    "no-ball": _("what was seen there is thinner than a ball, or jumps about"),
    "not-sure": _("where it landed is not known well enough"),
}


def end_words(end: str) -> str:
    return _ENDS[end]


def place_words(name: str, court: Court) -> str:
    """A point of the court by its name in a file of points."""
    if name in _PLACES:
        return _PLACES[name]
    first, _rest, what = name.partition(" ")
    if first not in _ENDS:
        of_net = {**_PLACES, **_STICKS} if _has_sticks(court) else _PLACES
        return _("{what}, {side} side", what=of_net[what], side=terms.side(first))
    end, (side, _space, of_side) = _ENDS[first], what.partition(" ")
    if of_side in _PLACES:
        return _(
            "{what}, {side} side, {end}", what=_PLACES[of_side], side=terms.side(side), end=end
        )
    return _("{what}, {end}", what=_PLACES[what], end=end)


def _has_sticks(court: Court) -> bool:
    return court.net.support_x_m < (court.doubles_half_width_m or 0.0)


def reason_words(reason: str, otherwise: str) -> str:
    """Why a ball was not measured."""
    return _REASONS.get(reason, otherwise)
