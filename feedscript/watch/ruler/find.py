"""From a still of the court to the camera, or the reason why not."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np
from scipy.spatial.transform import Rotation

from feedscript.court.landmarks import End
from feedscript.court.lines import Court
from feedscript.diagnostics import Diagnostic
from feedscript.watch.camera.camera import PARAMETERS, Camera, Floats, as_covariance
from feedscript.watch.camera.geometry import ground, project
from feedscript.watch.ruler.guess import Guess, guesses, sampled
from feedscript.watch.ruler.pages import COURT_UNSURE, GROUND_UNSURE, NO_COURT, WHICH_END
from feedscript.watch.ruler.paint import Line, white_lines
from feedscript.watch.ruler.points import nearest_camera, start_from
from feedscript.watch.ruler.ridges import Picture, find_ridges
from feedscript.watch.ruler.settle import Settled, settle
from feedscript.watch.ruler.straight import find_straight

#: So many guesses are settled, and lines are looked for within this of where each has them, px.
_MOST_GUESSES = 6
_CLOSE_GATES_PX, _WIDE_GATES_PX = (5.0, 4.0, 4.0), (14.0, 8.0, 5.0, 4.0, 4.0)
#: Widths of lines or a net that are further from usual than this, in deviations, are another court.
_MOST_STRAIN = 4.0
#: The share of the court's lines that must be found where they should be.
_LEAST_SHARE = 0.7
#: The same where a person has shown points: which line is which is known then.
_LEAST_SHARE_SHOWN = 0.4
#: Another way to see the court that has this share of the best one's support makes it unsure.
_RIVAL = 0.9
#: A court is another where one of its lines, looked for in so many places where it would be wide,
#: is there in less than this share of them.
_BARE_PLACES, _BARE_SHARE = 20, 0.2
#: Ways to see the court that differ by less than this in the landing area are the same, metres.
_SAME_M = 0.05
#: What is asked of the ground where nothing else is said: the worst standard deviation, metres.
USUAL_MOST_SD_M = 0.05
_SHOWN = 0.25  # of a landing area that is in the picture


class Ruler(msgspec.Struct, frozen=True, eq=False):
    """The camera, and what it rests on."""

    camera: Camera
    by_lines: bool  # False: the lines were not found, and the points alone were used
    worst_sd_m: float  # on the ground, over what is seen of the landing area
    shown: float  # share of the landing area that is in the picture


def find_camera(
    grey: Picture,
    court: Court,
    *,
    camera_at: End | None = None,
    start: Camera | None = None,
    most_sd_m: float = USUAL_MOST_SD_M,
) -> Ruler | Diagnostic:
    """The camera that took this still, shape (height, width).

    ``camera_at``: on whose side of the net it stands, where that is known; ``start``: a camera to
    begin with, as from points. A diagnostic: ``no-court-seen``, ``court-unsure``, ``which-end`` or
    ``ground-unsure``.
    """
    lines = white_lines(court)
    if start is not None:
        near = _court_near(grey, start, lines, _LEAST_SHARE_SHOWN)
        return judged(near.camera if near else start, near is not None, court, most_sd_m)
    found = _found(grey, lines)
    if not found:
        return NO_COURT.report(
            "the court's lines are not found in the picture",
            help="show some points of the court with --points, or film from higher up",
        )
    best = found[0]
    if rival := _rival(found, court):
        return COURT_UNSURE.report(
            f"the court's lines can be read in two ways, {rival:.1f} m apart on the ground",
            help="show some points of the court with --points",
        )
    if why := _another_court(best, lines, court):
        return COURT_UNSURE.report(
            f"the court's lines may be read wrongly: {why}",
            help="show some points of the court with --points",
        )
    camera = _at_its_end(best.camera, camera_at, court)
    if isinstance(camera, Diagnostic):
        return camera
    return judged(camera, True, court, most_sd_m)


def _found(grey: Picture, lines: Sequence[Line]) -> list[Settled]:
    """Every way to see the court, best first."""
    ridges = find_ridges(grey)
    straight = find_straight(ridges)
    tried = guesses(straight, lines, ridges, _MOST_GUESSES) if len(straight) > 3 else []
    size_px = (grey.shape[1], grey.shape[0])
    starts = [_start(guess, lines, size_px) for guess in tried]
    return _settled_from(grey, [one for one in starts if one is not None], lines)


def _start(guess: Guess, lines: Sequence[Line], size_px: tuple[int, int]) -> Camera | None:
    """A camera that draws the court about as the guess does."""
    points, _ = sampled(lines)
    drawn = np.column_stack([points, np.ones(len(points))]) @ guess.to_px.T
    px = drawn[:, :2] / drawn[:, 2:]
    shown = (drawn[:, 2] > 0) & (px > 0).all(1) & (px < size_px).all(1)
    if shown.sum() < 8:
        return None
    space = np.column_stack([points[shown], np.zeros(shown.sum())])
    start = start_from(space, px[shown], size_px)
    return None if start is None else nearest_camera(start, space, px[shown], 5.0)


def _settled_from(grey: Picture, starts: Sequence[Camera], lines: Sequence[Line]) -> list[Settled]:
    """What the starts settle on, where that could be a court, best first."""
    found = [
        settled for start in starts if (settled := _court_near(grey, start, lines, _LEAST_SHARE))
    ]
    return sorted(found, key=lambda one: -one.support)


def _court_near(
    grey: Picture, start: Camera, lines: Sequence[Line], least_share: float
) -> Settled | None:
    """A court that is drawn about as by this camera.

    Close by first: far lines lie within few pixels of one another, and the wrong ones would be
    taken if one looked further than need be.
    """
    for gates_px in (_CLOSE_GATES_PX, _WIDE_GATES_PX):
        found = settle(grey, start, lines, gates_px=gates_px)
        if found and found.strain < _MOST_STRAIN and found.share > least_share:
            return found
    return None


def _rival(found: Sequence[Settled], court: Court) -> float | None:
    """By how much the next way that is about as good differs on the ground, metres."""
    best = found[0]
    for other in found[1:]:
        if other.support < _RIVAL * best.support:
            break
        apart_m = min(
            _apart_m(best.camera, one, court) for one in (other.camera, turned(other.camera))
        )
        if apart_m > _SAME_M:
            return apart_m
    return None


def _another_court(found: Settled, lines: Sequence[Line], court: Court) -> str | None:
    """Why what fits may be lines of another court, of which some are missing; None: it is this.

    Four lines of a doubles court without singles lines are drawn just as another four of a whole
    one are, from nearer and lower.
    """
    wide = court.doubles_half_width_m or court.singles_half_width_m
    x_m, y_m, _ = found.camera.position_m
    if abs(x_m) < wide and abs(y_m) < court.half_length_m:
        return "the camera would stand on the court itself"
    for index in found.bare(_BARE_PLACES, _BARE_SHARE):
        if lines[index].ground:
            return f"no paint is seen where the {lines[index].name} m would be"
    return None


def _apart_m(one: Camera, two: Camera, court: Court) -> float:
    """The middle distance on the ground between what two cameras make of the same pixels."""
    spots = landing_area(court, None)
    px = project(one, spots)
    px = px[in_picture(one, px)]
    if not len(px):
        return np.inf
    other = ground(two, px).points_m
    apart = np.linalg.norm(ground(one, px).points_m - other, axis=1)
    return float(np.median(np.nan_to_num(apart, nan=np.inf)))


def _at_its_end(camera: Camera, at: End | None, court: Court) -> Camera | Diagnostic:
    """The camera, or the one that stands alike at the other end."""
    ways = (camera, turned(camera))
    if at is not None:
        return max(ways, key=lambda one: at.y_sign * one.position_m[1])
    shown = [shown_share(one, court) for one in ways]
    if max(shown) > 0.9 and min(shown) < 0.3:
        return ways[int(np.argmax(shown))]
    return WHICH_END.report(
        "both ends of the court are in the picture, and they look the same",
        help="say on whose side of the net the camera stands",
    )


def turned(camera: Camera) -> Camera:
    """The camera in a court that is turned by half, which looks the same."""
    x, y, z = camera.position_m
    half = np.diag([-1.0, -1.0, 1.0])
    rotation = Rotation.from_matrix(camera.axes @ half).as_rotvec()
    signs = np.ones(len(PARAMETERS))
    signs[:2] = -1
    spread = camera.uncertainty * np.outer(signs, signs)
    return msgspec.structs.replace(
        camera,
        position_m=(-x, -y, z),
        rotation=tuple(float(one) for one in rotation),
        covariance=None if camera.covariance is None else as_covariance(spread),
    )


def landing_area(court: Court, end: End | None) -> Floats:
    """Places on the ground, shape (n, 3), over the court of one end (None: of both)."""
    wide, back = court.half_width_m + 0.5, court.half_length_m + 0.5
    deep = np.linspace(0.5, back, 9)
    deep = np.concatenate([-deep, deep]) if end is None else end.y_sign * deep
    x, y = np.meshgrid(np.linspace(-wide, wide, 7), deep)
    return np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)])


def in_picture(camera: Camera, px: Floats) -> Floats:
    """Which pixels, shape (n, 2), are in the picture: true or false, shape (n,)."""
    return np.asarray((px > 0).all(-1) & (px < (camera.width_px - 1, camera.height_px - 1)).all(-1))


def shown_share(camera: Camera, court: Court) -> float:
    """How much of the landing area is in the picture, 0 to 1."""
    return float(in_picture(camera, project(camera, landing_area(court, End.RECEIVER))).mean())


def judged(camera: Camera, by_lines: bool, court: Court, most_sd_m: float) -> Ruler | Diagnostic:
    """The camera, if it determines the ground as surely as asked (``ground-unsure``)."""
    spots = landing_area(court, End.RECEIVER)
    px = project(camera, spots)
    seen = in_picture(camera, px)
    if seen.mean() < _SHOWN:
        return GROUND_UNSURE.report(
            f"only {seen.mean():.0%} of the receiver's half is in the picture",
            help="turn the camera so that it sees where balls land",
        )
    worst = np.sqrt(np.linalg.eigvalsh(ground(camera, px[seen]).covariance_m2)[:, -1])
    index = int(worst.argmax())
    if not worst[index] <= most_sd_m:
        x, y, _ = spots[seen][index]
        return GROUND_UNSURE.report(
            f"{y:.1f} m behind the net and {x:+.1f} m from the middle a place is known to "
            f"{worst[index]:.2f} m only (one standard deviation); {most_sd_m:.2f} m are asked for",
            help="film from higher up, nearer, or so that more of the court's lines are seen",
        )
    return Ruler(camera, by_lines, float(worst[index]), float(seen.mean()))
