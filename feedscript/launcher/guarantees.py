"""What every launcher should promise, and what it means for people where one does not.

``shared/guarantees.json`` says what each name is; a launcher's profile (``[guard] lacks``) and its
driver name those that it does not keep. No launcher is used whose driver names one that its profile
does not: then the plan was certified for another launcher, and nobody was told.
"""

from __future__ import annotations

from collections.abc import Iterable

from feedscript.tongues.text import _

#: What a person must know before the lesson, by the guarantee that is lacking.
WITHOUT = {
    "person-arms": _(
        "Nobody arms it at itself: whoever starts the lesson stands beside it and sees the court."
    ),
    "leaving-time": _(
        "It does not keep a ball's time itself: balls may come later than they should."
    ),
    "feed-id-in-device": _(
        "When its line repeats a command, one more ball may come than was asked for."
    ),
    "latched-emergency-stop": _(
        "Its emergency stop does not last: switch it off at itself before anybody walks to it."
    ),
    "watchdog": _(
        "It goes on when this computer falls silent: a person stays within reach of its switch all "
        "lesson."
    ),
    "ball-told": _(
        "It does not say that a ball left: it sends single balls, and a person says of each what "
        "became of it."
    ),
    "stops": _(
        "It cannot be told to stop: it sends a single ball each time it is connected, and a person "
        "switches it off at itself."
    ),
    "keyed-link": _(
        "Anybody in reach of its radio can command it: a person stays within reach of its switch "
        "all lesson."
    ),
    "spoilt-noticed": _(
        "What is spoilt on its line is not noticed: its cable is short and away from motors."
    ),
}


def in_order(names: Iterable[str]) -> tuple[str, ...]:
    """Names of guarantees in the order in which they are told, each once."""
    found = set(names)
    return tuple(name for name in WITHOUT if name in found)
