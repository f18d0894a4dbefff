"""Each ball's flight time by sound alone: from the launcher's thump to the bounce, and what it says
about the speed.

Flights are drawn as the launcher may throw them, the speed as wide as an untuned launcher's; each
has a time from thump to bounce at the microphone, the ways of the sound among it. Those that agree
with what was heard say flight time and speed, and how surely (importance sampling). A sound that
may as well be another one's is taken for none.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from enum import Enum

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.court.landmarks import End
from feedscript.court.lines import Court
from feedscript.watch.camera.camera import Camera
from feedscript.watch.fit.measured import Value
from feedscript.watch.seek.expected import AT, Expected
from feedscript.watch.seek.paths import paths

Floats = NDArray[np.float64]

_DRAWN = 4000
#: How far a launcher's speed may be off what it was asked for: a share of it. Design value.
_SPEED_SHARE = 0.10
#: How well a sound's beginning is known. Design value, held to rendered sounds by a test.
_ONSET_SD_S = 0.003
#: How surely a sound must be the ball's own. How often a ball's is heard at all is seen from all
#: balls of the lesson: it begins as the first, and is never more than the second.
_SURELY, _HEARD, _MOST_HEARD = 0.9, 0.7, 0.98
#: In air of 20 degrees Celsius (from memory).
_SOUND_MPS = 343.0


class Microphone(msgspec.Struct, frozen=True):
    """Where it is, and how well that is known: one standard deviation in each direction."""

    place_m: tuple[float, float, float]
    sd_m: tuple[float, float, float] = (0.0, 0.0, 0.0)


def behind(end: End, court: Court) -> Microphone:
    """Somewhere on the fence behind this end. What it is not known by hardly matters: farther
    behind, both sounds come later."""
    side = 1.0 if end is End.RECEIVER else -1.0
    return Microphone((0.0, side * (court.half_length_m + 5.0), 1.5), (2.5, 2.0, 0.7))


class Unclear(Enum):
    """Why a ball's flight time is not known."""

    NO_THUMP = "it was not heard to leave"
    NO_BOUNCE = "it was not heard to bounce"
    OUTSIDE = "the sound does not hold the time of this ball"


class Heard(msgspec.Struct, frozen=True, kw_only=True, tag_field="sound", tag="heard"):
    """A ball that was heard to leave and to bounce.

    ``speed_mps`` at the mouth is what the flight time says of it, where the launcher's angle and
    spin are what was asked, but for its scatter.
    """

    number: int
    flight_s: Value
    speed_mps: Value
    asked_flight_s: float
    asked_speed_mps: float


class Unheard(msgspec.Struct, frozen=True, kw_only=True, tag_field="sound", tag="not-heard"):
    """A ball that was not, and why."""

    number: int
    reason: str
    why: str


def by_sound(
    expected: Sequence[Expected], sounds_s: Floats, length_s: float, microphone: Microphone
) -> tuple[Heard | Unheard, ...]:
    """Ball by ball; ``sounds_s`` are the sudden sounds of a film so long, in order."""
    inside = [one for one in expected if 0 <= one.left_s <= length_s]
    drawn = [_drawn(one, microphone) for one in inside]
    by_chance_hz = _others_hz(drawn, sounds_s)
    thumps = _own([_near(sounds_s, one.thump_s, by_chance_hz) for one in drawn])
    pairs = list(zip(inside, drawn, thumps, strict=True))
    bounces = _own([_after(sounds_s, at_s, one.gap_s, by_chance_hz) for _, one, at_s in pairs])
    found = {
        one.number: _told(one, ways, thump_s, bounce_s)
        for (one, ways, thump_s), bounce_s in zip(pairs, bounces, strict=True)
    }
    return tuple(found.get(one.number) or _unheard(one, Unclear.OUTSIDE) for one in expected)


def by_the_camera(
    expected: Sequence[Expected], sounds_s: Floats, length_s: float, camera: Camera
) -> dict[int, Heard]:
    """Of a film's sounds the balls that are heard, by their numbers: the microphone is the camera's
    own, where the court says that it stands."""
    if not len(sounds_s):
        return {}
    x_sd_m, y_sd_m, z_sd_m = np.sqrt(np.diag(camera.uncertainty)[:3]).tolist()
    found = by_sound(
        expected, sounds_s, length_s, Microphone(camera.position_m, (x_sd_m, y_sd_m, z_sd_m))
    )
    return {one.number: one for one in found if isinstance(one, Heard)}


def _others_hz(drawn: Sequence[_Drawn], sounds_s: Floats) -> float:
    """How many other sounds there are a second: those that come while a ball is in the air."""
    count, length_s = 1.0, 1.0
    for one in drawn:
        thump_s = float(one.thump_s.mean())
        from_s, to_s = thump_s + 0.12, thump_s + float(one.gap_s.mean() - 4 * one.gap_s.std())
        if to_s > from_s:
            count += int(((sounds_s > from_s) & (sounds_s < to_s)).sum())
            length_s += to_s - from_s
    return count / length_s


def _told(
    one: Expected, drawn: _Drawn, thump_s: float | None, bounce_s: float | None
) -> Heard | Unheard:
    if thump_s is None:
        return _unheard(one, Unclear.NO_THUMP)
    if bounce_s is None:
        return _unheard(one, Unclear.NO_BOUNCE)
    off = (bounce_s - thump_s - drawn.gap_s) / (math.sqrt(2) * _ONSET_SD_S)
    weight = np.exp(-0.5 * off**2)
    if weight.sum() < 5:  # nothing that the launcher throws flies so
        return _unheard(one, Unclear.NO_BOUNCE)
    return Heard(
        number=one.number,
        flight_s=_value(drawn.flight_s, weight),
        speed_mps=_value(drawn.speed_mps, weight),
        asked_flight_s=float(drawn.flight_s[0]),
        asked_speed_mps=one.speed_mps,
    )


def _unheard(one: Expected, why: Unclear) -> Unheard:
    reason = why.name.lower().replace("_", "-")
    return Unheard(number=one.number, reason=reason, why=why.value)


class _Drawn(msgspec.Struct, frozen=True, eq=False):
    """Balls as they may fly, (n,) each; the first is as it was asked."""

    speed_mps: Floats
    flight_s: Floats
    thump_s: Floats  # as it reaches the microphone, film time
    gap_s: Floats  # from then to the bounce, as that does


def _drawn(one: Expected, microphone: Microphone) -> _Drawn:
    random = np.random.default_rng((one.number, 6))
    balls = one.drawn(_DRAWN, random)
    speed = AT["speed_mps"]
    balls[1:, speed] = one.speed_mps * (1 + _SPEED_SHARE * random.standard_normal(_DRAWN - 1))
    ways = paths(balls, one)
    down = np.column_stack([ways.landing_m, np.zeros(_DRAWN)])
    ears = microphone.place_m + random.standard_normal((_DRAWN, 3)) * microphone.sd_m
    to_mouth, to_bounce = (
        np.linalg.norm(place - ears, axis=1) / _SOUND_MPS for place in (one.mouth_m, down)
    )
    gap_s = ways.flight_s + to_bounce - to_mouth
    known = np.isfinite(gap_s)
    return _Drawn(
        balls[known, speed],
        ways.flight_s[known],
        (ways.left_s + to_mouth)[known],
        gap_s[known],
    )


class _Near(msgspec.Struct, frozen=True, eq=False):
    """Sounds that may be a ball's own, and how much likelier each is that than one by chance."""

    at_s: Floats
    ratio: Floats


def _near(sounds_s: Floats, drawn_s: Floats, by_chance_hz: float) -> _Near:
    middle, sd = float(drawn_s.mean()), math.hypot(float(drawn_s.std()), _ONSET_SD_S)
    near = sounds_s[np.abs(sounds_s - middle) < 4 * sd]
    bell = np.exp(-0.5 * ((near - middle) / sd) ** 2) / (sd * math.sqrt(2 * math.pi))
    return _Near(near, bell / by_chance_hz)


def _after(sounds_s: Floats, thump_s: float | None, gap_s: Floats, by_chance_hz: float) -> _Near:
    if thump_s is None:
        return _Near(np.empty(0), np.empty(0))
    return _near(sounds_s[sounds_s > thump_s + 0.1], thump_s + gap_s, by_chance_hz)


def _own(every: Sequence[_Near]) -> list[float | None]:
    """Of each ball the sound that is surely its own; None where none is.

    The likelihood of a mixture, as in ``sync.align``: a ball's own sound, or lost among others. How
    many are heard is found with it, by expectation and maximisation (A. P. Dempster, N. M. Laird &
    D. B. Rubin, J. Royal Statist. Soc. B 39, 1977, 1; cited from memory).
    """
    share = _HEARD
    for _ in range(20):
        sums = [share * float(one.ratio.sum()) for one in every]
        heard = sum(each / (each + 1 - share) for each in sums)
        share = min((heard + _HEARD) / (len(every) + 1), _MOST_HEARD)
    found: list[float | None] = []
    for one in every:
        own = share * one.ratio
        sure = len(own) and own.max() >= _SURELY * (own.sum() + 1 - share)
        found.append(float(one.at_s[own.argmax()]) if sure else None)
    return found


def _value(values: Floats, weight: Floats) -> Value:
    mean = float(np.average(values, weights=weight))
    return Value(mean, float(np.sqrt(np.average((values - mean) ** 2, weights=weight))))
