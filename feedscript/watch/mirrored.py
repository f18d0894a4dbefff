"""A film that was mirrored, as some phones mirror what the front camera films: by its balls.

A court looks the same in a mirror. Balls that were to land off the middle do not: they are seen to
fly to the other side.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import msgspec

from feedscript.court.lines import Court
from feedscript.diagnostics import Diagnostic, Page
from feedscript.watch.fit.measure import measure
from feedscript.watch.fit.measured import Measured, NotSeen
from feedscript.watch.frames.video import Video
from feedscript.watch.look import gathered
from feedscript.watch.ruler.anew import Standing
from feedscript.watch.seek.expected import Expected
from feedscript.watch.seek.paths import paths

#: A ball that was to land so far beside the middle tells: twice that lies between it and its
#: image, which is more than a launcher strays. Design value.
_ASIDE_M = 0.8
#: So many are looked for in the mirror at most; so many must be seen there, which is most of them.
_TRIED, _LEAST = 6, 3

FILM_MIRRORED = Page(
    slug="film-mirrored",
    title="The film is mirrored",
    why=(
        "Some phones mirror what the front camera films. A court looks the same in a mirror, and "
        "its lines fit; but left and right are exchanged in all that would be told. Balls that "
        "were to land on one side are seen to fly to the other."
    ),
)


def in_mirror(one: Expected) -> Expected:
    """The same feed with left and right exchanged."""
    x, y, z = one.mouth_m
    return msgspec.structs.replace(
        one, mouth_m=(-x, y, z), azimuth_deg=-one.azimuth_deg, side_rpm=-one.side_rpm
    )


def telling(expected: Sequence[Expected]) -> list[Expected]:
    """The balls that tell a film from its mirror image."""
    aside = [abs(float(paths(one.middle[None], one).landing_m[0, 0])) for one in expected]
    return [one for one, each in zip(expected, aside, strict=True) if each > _ASIDE_M]


def mirrored(
    video: Video,
    places: Sequence[Standing],
    expected: Sequence[Expected],
    found: Mapping[int, Measured | NotSeen],
    court: Court,
    progress: Callable[[float], None] | None = None,
) -> Diagnostic | None:
    """Whether this film is mirrored, by balls that were looked for and not found
    (``film-mirrored``). It is looked at again only where most of those that tell were not."""
    told = telling(expected)
    lost = [one for one in told if not isinstance(found[one.number], Measured)]
    if len(lost) < _LEAST or 2 * len(lost) <= len(told):
        return None
    tried = [in_mirror(one) for one in lost[:_TRIED]]
    there = gathered(video, places, tried, court, progress)
    seen = sum(isinstance(measure(one), Measured) for one in there)
    if seen < _LEAST or 2 * seen <= len(tried) or seen <= len(told) - len(lost):
        return None
    return report(video, f"{seen} of {len(tried)} balls that were to land on one side are seen")


def report(video: Video, seen: str) -> Diagnostic:
    """What to do about it; ``seen``: by what it is known."""
    return FILM_MIRRORED.report(
        f"{seen} to fly to the other: left and right are exchanged in the film",
        device=str(video.path),
        help="give the same command with --mirrored; next time film with the back camera",
    )
