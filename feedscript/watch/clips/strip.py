"""A ball in one picture, as often as it can be seen apart; and its bounce, picture by picture.

What the camera saw of the ball is cut out of each picture and laid onto the one of the bounce: like
a photograph under a flashing lamp. The fitted flight is drawn beside it, not over what is judged.
"""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.watch.clips.way import Way
from feedscript.watch.frames.video import Frame, Frames, Video

Picture = NDArray[np.uint8]  # blue, green, red

#: The picture is made as large as this allows; small parts are enlarged so many times at most.
WIDE_PX, HIGH_PX, _MOST_TIMES = 1120, 840, 2.5
#: So many pictures of the bounce, each so large.
CLOSE, TILE_PX = 7, 160
#: Around the landing they show at least so many of the ball's radii, and more where the ball comes
#: from or flies farther, up to so many: an empty one would look as if it had not been seen.
_TILE_REACH, _MOST_TILE_REACH = 9.0, 22.0
#: At most so many cut-outs are laid into one picture; further ones are left out.
_MOST_LAID = 60
#: Two cut-outs lie at least so many of the ball's radii apart, and each reaches so many of them
#: around the fitted place; further around the place of a ball that was not found.
_APART, _REACH, _REACH_LOST = 4.0, 1.3, 8.0
#: Room around the flight, and the least that is shown; pixels of a picture 1280 wide.
_ROOM_PX, _LEAST_PX = 50.0, (480, 270)
#: What differs by less, in steps of a colour, is taken for the same ground.
_OTHER = 10
#: For so long a shutter is taken to stay open: a streak is cut out whole.
_OPEN_S = 0.01
#: Blue, green, red: light over dark, so that it is seen on any ground.
LIGHT, DARK = (255, 255, 255), (20, 20, 20)
FLIGHT = (0, 165, 255)
_NEVER = np.empty(0)


class Part(msgspec.Struct, frozen=True):
    """A part of the film's pictures, in pixels, and how it is scaled where it is shown."""

    left: int
    top: int
    right: int
    bottom: int
    scale: float

    def of(self, whole: Picture) -> Picture:
        cut = whole[self.top : self.bottom, self.left : self.right]
        return cut.copy() if self.scale == 1 else _scaled(cut, self.scale)

    def at(self, px: NDArray[np.float64]) -> NDArray[np.float64]:
        """Places of the film's picture, (n, 2), in this one."""
        return np.asarray((px - (self.left, self.top) + 0.5) * self.scale - 0.5)


class Strip(msgspec.Struct, frozen=True, eq=False):
    """The whole flight in one picture, and the pictures around the bounce side by side (None where
    none shows it); blue, green, red."""

    flight: Picture
    bounce: Picture | None

    @property
    def whole(self) -> Picture:
        """Both, one below the other."""
        if self.bounce is None:
            return self.flight
        wide = max(self.flight.shape[1], self.bounce.shape[1])
        rows = [
            cv2.copyMakeBorder(one, 0, 0, 0, wide - one.shape[1], cv2.BORDER_CONSTANT)
            for one in (self.flight, self.bounce)
        ]
        return np.vstack(rows).astype(np.uint8)


def strip_of(video: Video, way: Way) -> Strip | None:
    """The pictures of one ball; None where the film shows nothing of its way.

    Raises FeedscriptError (``video-unusable``).
    """
    part = part_of(way)
    if part is None:
        return None
    tile_half = _tile_half_px(way, video.rate_hz)
    laid: list[tuple[float, Picture]] = []
    close: list[tuple[float, Picture]] = []
    last_px: NDArray[np.float64] | None = None
    for frame in frames_of(video, way):
        px = way.px(np.array([frame.time_s]))[0]
        near = abs(frame.time_s - way.bounce_s) < (CLOSE / 2 + 1) / video.rate_hz
        apart = last_px is None or _far(px, last_px) > _APART * way.radius_px(frame.time_s)
        apart = apart and bool(np.isfinite(px).all()) and len(laid) < _MOST_LAID
        if not (near or apart):
            continue
        coloured = frame.coloured()
        if near:
            close.append((frame.time_s, _tile(coloured, way, frame.time_s, tile_half)))
        if apart:
            laid.append((frame.time_s, part.of(coloured)))
            last_px = px
    return Strip(_flight(laid, way, part), _bounce(close, way)) if laid else None


def frames_of(video: Video, way: Way) -> Iterator[Frame]:
    """The film's pictures from when the ball leaves until it has bounced."""
    with Frames(video, from_s=max(way.from_s, 0.0)) as frames:
        for frame in frames:
            if frame.time_s > way.to_s:
                return
            yield frame


def part_of(
    way: Way, most_px: tuple[int, int] = (WIDE_PX, HIGH_PX), most_times: float = _MOST_TIMES
) -> Part | None:
    """What is shown of the pictures, no larger than this: the ball's way with some room; None where
    it is outside."""
    camera = way.camera
    px = way.px(np.linspace(way.from_s, way.to_s, 200))
    px = px[np.isfinite(px).all(-1)]
    if not len(px):
        return None
    scale = camera.width_px / 1280
    size = np.array([camera.width_px, camera.height_px])
    low, high = px.min(0) - _ROOM_PX * scale, px.max(0) + _ROOM_PX * scale
    more = np.maximum(np.array(_LEAST_PX) * scale - (high - low), 0) / 2
    low, high = np.maximum(low - more, 0).astype(int), np.ceil(np.minimum(high + more, size))
    width, height = (high - low).tolist()
    left, top = low.tolist()
    shown = min(most_times, most_px[0] / width, most_px[1] / height)
    return Part(left, top, int(high[0]), int(high[1]), shown)


def _far(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    return float(np.hypot(*(one - other)))


def _flight(laid: list[tuple[float, Picture]], way: Way, part: Part) -> Picture:
    """All cut-outs on the picture nearest to the bounce, and the flight."""
    base = min(laid, key=lambda one: abs(one[0] - way.bounce_s))[1]
    whole = base.copy()
    for time_s, picture in laid:
        ends = part.at(way.px(np.array([time_s, time_s + _OPEN_S])))
        if np.isfinite(ends).all():
            reach = _REACH if way.measured else _REACH_LOST
            _lay(whole, base, picture, ends, max(reach * way.radius_px(time_s) * part.scale, 2.0))
    besides = np.array([time_s for time_s, _ in laid]) if way.measured else _NEVER
    draw_flight(whole, way, part, way.to_s, besides)
    draw_landing(whole, way, part)
    return whole


def _lay(
    whole: Picture, base: Picture, picture: Picture, ends: NDArray[np.float64], radius: float
) -> None:
    """Lay onto ``whole`` what is along the streak between these ends and is not in ``base``."""
    beside = radius + 4
    left, top = np.maximum(np.floor(ends.min(0) - beside), 0).astype(int).tolist()
    right, bottom = np.ceil(ends.max(0) + beside).astype(int).tolist()
    cut = slice(top, bottom), slice(left, right)
    mask = np.zeros(whole[cut].shape[:2], np.uint8)
    one, other = (tuple(end) for end in np.round(ends - (left, top)).astype(int).tolist())
    cv2.line(mask, one, other, 255, round(2 * radius) + 1)
    soft = cv2.GaussianBlur(mask, (0, 0), 1.0).astype(np.float32) / 255
    differs = cv2.absdiff(picture[cut], base[cut]).max(-1).astype(np.float32)
    share = (soft * np.clip((differs - _OTHER) / _OTHER, 0, 1))[..., None]
    whole[cut] = np.round(share * picture[cut] + (1 - share) * whole[cut])


def draw_flight(
    picture: Picture, way: Way, part: Part, until_s: float, besides: NDArray[np.float64] = _NEVER
) -> None:
    """The flight as a line of dots up to a moment, without those that would hide the ball in the
    pictures of these times."""
    laid = part.at(way.px(besides))
    places = part.at(way.px(np.arange(way.from_s, until_s, 0.008)))
    radius = 1.6 * way.radius_px(way.bounce_s) * part.scale + 1
    for place in places[np.isfinite(places).all(-1)]:
        if not (np.linalg.norm(laid - place, axis=1) < radius).any():
            at = tuple(np.round(place * 8).astype(int).tolist())
            cv2.circle(picture, at, 12, FLIGHT, cv2.FILLED, cv2.LINE_AA, 3)


def draw_landing(picture: Picture, way: Way, part: Part) -> None:
    """The mark on the ground and its region; of a ball that was not measured nothing."""
    if way.region_px is None:
        return
    outline = np.round(part.at(way.region_px) * 8).astype(np.int32)
    centre = part.at(np.array([way.landing_px]))[0]
    reach = float(np.abs(part.at(way.region_px) - centre).max()) + 5
    for colour, thick in ((DARK, 3), (LIGHT, 1)):
        cv2.polylines(picture, [outline], True, colour, thick, cv2.LINE_AA, 3)
        for side in (-1, 1):
            ends = [np.add(centre, (side * far, 0)) for far in (reach, reach + 14)]
            one, other = (tuple(np.round(end * 8).astype(int).tolist()) for end in ends)
            cv2.line(picture, one, other, colour, thick, cv2.LINE_AA, 3)


def _tile_half_px(way: Way, rate_hz: float) -> int:
    """How far from the landing the pictures of the bounce reach, of the film's pixels."""
    times = way.bounce_s + np.linspace(-CLOSE / 2, CLOSE / 2, CLOSE + 1) / rate_hz
    radius = way.radius_px(way.bounce_s)
    away = np.abs(way.px(times) - way.landing_px).max(initial=0.0, where=np.isfinite(way.px(times)))
    reach = np.clip(away + 4 * radius, _TILE_REACH * radius, _MOST_TILE_REACH * radius)
    return int(np.clip(reach, 24, 240))


def _tile(coloured: Picture, way: Way, time_s: float, half: int) -> Picture:
    """What is around the landing in one picture, enlarged, with the fitted place ringed."""
    left, top = (round(one) - half for one in way.landing_px)
    cut = np.asarray(
        cv2.copyMakeBorder(coloured, half, half, half, half, cv2.BORDER_REPLICATE), np.uint8
    )
    size = 2 * half
    left, top = (
        int(np.clip(one + half, 0, most - size))
        for one, most in zip((left, top), cut.shape[1::-1], strict=True)
    )
    scale = TILE_PX / size
    tile = _scaled(cut[top : top + size, left : left + size], scale)
    part = Part(left - half, top - half, left - half + size, top - half + size, scale)
    place = part.at(way.px(np.array([time_s])))[0]
    if np.isfinite(place).all():
        radius = round((2.2 * way.radius_px(time_s) + 3) * scale)
        at = tuple(np.round(place).astype(int).tolist())
        cv2.circle(tile, at, radius, FLIGHT, 1, cv2.LINE_AA)
    return tile


def _bounce(close: list[tuple[float, Picture]], way: Way) -> Picture | None:
    """The pictures nearest to the bounce in their order, each with its time from it."""
    nearest = sorted(close, key=lambda one: abs(one[0] - way.bounce_s))[:CLOSE]
    if not nearest:
        return None
    tiles = []
    for time_s, tile in sorted(nearest, key=lambda one: one[0]):
        words = f"{(time_s - way.bounce_s) * 1000:+.0f} ms"
        for colour, thick in ((DARK, 3), (LIGHT, 1)):
            cv2.putText(
                tile, words, (6, TILE_PX - 8), cv2.FONT_HERSHEY_SIMPLEX, 0.45, colour, thick,
                cv2.LINE_AA,
            )  # fmt: skip
        tile[:, -1] = 0  # parts it from the next; all of them are as wide as the flight's picture
        tiles.append(tile)
    return np.hstack(tiles).astype(np.uint8)


def _scaled(picture: Picture, scale: float) -> Picture:
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    size = tuple(max(round(one * scale), 1) for one in picture.shape[1::-1])
    return np.asarray(cv2.resize(picture, size, interpolation=way), np.uint8)
