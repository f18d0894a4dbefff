"""The page's pictures: the still, and each ball's, made when they are first asked for."""

from __future__ import annotations

import threading
from collections import OrderedDict
from typing import Literal

from feedscript.viewing.viewing import Viewing
from feedscript.watch.clips.files import as_jpeg
from feedscript.watch.clips.strip import strip_of

Part = Literal["flight", "bounce"]

#: So many balls' pictures are held. A few hundred kilobytes each.
_HELD = 48


class Pictures:
    """Of one film; any thread may ask. One ball's are read from the film at a time."""

    def __init__(self, viewing: Viewing) -> None:
        self._viewing = viewing
        self._held: OrderedDict[int, dict[Part, bytes]] = OrderedDict()
        self._lock = threading.Lock()
        self._stills: dict[int, bytes] = {}

    def still(self, part: int) -> bytes | None:
        """A part of the film without what moves, JPEG; from 1."""
        places = self._viewing.film.places
        if not 1 <= part <= len(places):
            return None
        if part not in self._stills:
            self._stills[part] = as_jpeg(places[part - 1].still.grey)
        return self._stills[part]

    def of_ball(self, number: int, part: Part) -> bytes | None:
        """JPEG; None where there is none. Raises FeedscriptError (``video-unusable``)."""
        sought = self._viewing.sought
        way = next((one for one in sought.ways if one.number == number), None) if sought else None
        if way is None:
            return None
        with self._lock:
            if self._viewing.finished:
                return None  # nobody looks at it any more, and the server waits for this
            if number not in self._held:
                strip = strip_of(self._viewing.film.video, way)
                made: dict[Part, bytes] = {}
                if strip is not None:
                    made["flight"] = as_jpeg(strip.flight)
                    if strip.bounce is not None:
                        made["bounce"] = as_jpeg(strip.bounce)
                self._held[number] = made
            self._held.move_to_end(number)
            while len(self._held) > _HELD:
                self._held.popitem(last=False)
            return self._held[number].get(part)

    def forget(self) -> None:
        """Balls are looked for anew."""
        with self._lock:
            self._held.clear()
