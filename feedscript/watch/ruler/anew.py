"""The camera of each place where it stood in a film: measured anew after every move."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import msgspec
import numpy as np

from feedscript.court.landmarks import End
from feedscript.court.lines import Court
from feedscript.diagnostics import Diagnostic
from feedscript.watch.camera.camera import Camera
from feedscript.watch.ruler.find import USUAL_MOST_SD_M, Ruler, find_camera
from feedscript.watch.ruler.follow import turned_along
from feedscript.watch.ruler.pages import CAMERA_MOVED, COURT_UNSURE, NO_COURT, UPSIDE_DOWN
from feedscript.watch.ruler.stands import Still
from feedscript.watch.ruler.still import way_onto


class Standing(msgspec.Struct, frozen=True, eq=False):
    """A part of the film in which the camera stood in one place: its camera, or why not."""

    still: Still
    ruler: Ruler | Diagnostic

    @property
    def known(self) -> Ruler | None:
        return self.ruler if isinstance(self.ruler, Ruler) else None


def standings(
    stills: Sequence[Still],
    court: Court,
    *,
    camera_at: End | None = None,
    start: Camera | None = None,
    most_sd_m: float = USUAL_MOST_SD_M,
) -> tuple[Standing, ...]:
    """Each part of a film with its camera; the words are those of ``find_camera``, and ``start``
    is of the first part."""
    found: list[Standing] = []
    for still in stills:
        ruler: Ruler | Diagnostic | None = None
        if found:
            ruler = _from_before(found[-1], still, court, most_sd_m)
        if ruler is None:
            ruler = find_camera(
                still.grey,
                court,
                camera_at=camera_at,
                start=None if found else start,
                most_sd_m=most_sd_m,
            )
        found.append(Standing(still, ruler))
    return tuple(found)


def _from_before(before: Standing, still: Still, court: Court, most_sd_m: float) -> Ruler | None:
    """Where the camera was only turned: found by where it stood before. None where it was not."""
    if before.known is None:
        return None
    way = way_onto(before.still.grey, still.grey)
    if way is None:
        return None
    start = turned_along(before.known.camera, way)
    ruler = find_camera(still.grey, court, start=start, most_sd_m=most_sd_m)
    return ruler if isinstance(ruler, Ruler) and ruler.by_lines else None


def moves(found: Sequence[Standing], device: str) -> tuple[Diagnostic, ...]:
    """What a person should know of a camera that was moved: when, and whether it is known since."""
    return tuple(
        CAMERA_MOVED.report(message, device=device, help=help_words)
        for message, help_words in (_told(*both) for both in pairwise(found))
    )


def why_not(found: Sequence[Standing], court: Court, device: str) -> Diagnostic:
    """Why none of the cameras is known: of the place where it stood longest, and whether the film
    stands on its head."""
    longest = max(found, key=lambda one: one.still.to_s - one.still.from_s)
    assert isinstance(longest.ruler, Diagnostic)
    told = longest.ruler
    if told.slug == NO_COURT.slug:
        grey = np.ascontiguousarray(longest.still.grey[::-1, ::-1])
        turned = find_camera(grey, court, camera_at=End.RECEIVER, most_sd_m=np.inf)
        if isinstance(turned, Ruler) or turned.slug == COURT_UNSURE.slug:
            told = UPSIDE_DOWN.report(
                "the court stands on its head in the picture",
                help="turn the film by half (players and phones can), and give the turned one",
            )
    return msgspec.structs.replace(told, device=device)


def _told(before: Standing, after: Standing) -> tuple[str, str]:
    """The message, and what to do."""
    at = _clock(before.still.to_s)
    alone = "by itself: cut the video there"
    if isinstance(after.ruler, Diagnostic):
        return (
            f"the camera was moved or covered at about {at} of the video, and balls after it are "
            f"not measured: {after.ruler.message}",
            f"look at what comes after it {alone}",
        )
    if isinstance(before.ruler, Diagnostic):
        return (
            f"the camera was moved or covered until about {at} of the video, and balls before it "
            f"are not measured: {before.ruler.message}",
            f"look at what comes before it {alone}",
        )
    return (
        f"the camera was moved at about {at} of the video; the court was found again after it",
        "look at every picture that -o FILE.png writes, one for each place it stood in",
    )


def _clock(seconds: float) -> str:
    """As a player shows it beside the film."""
    if seconds < 60:
        return f"{seconds:.1f} s"
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"
