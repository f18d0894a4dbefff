"""The renderer's pictures against what they claim to show."""

from __future__ import annotations

import cv2
import msgspec
import numpy as np
import pytest

from tests.watch.scene.court import FULL
from tests.watch.scene.flying import Air, Flight, Launch, fly
from tests.watch.scene.lens import PLACES, stood
from tests.watch.scene.recipe import Look, Scene, Shooting
from tests.watch.scene.render import render

SIZE = (640, 360)
EVEN = Look(grain=0.0, sun_deg=None, ball=(255.0, 255.0, 255.0))


def feed() -> Flight:
    return fly(
        Launch(
            at_s=0.1,
            place_m=(0.2, -12.5, 1.0),
            speed_mps=22.0,
            elevation_deg=11.0,
            azimuth_deg=4.0,
            top_rpm=900.0,
        )
    )


def scene(place: str = "beside", **shooting: float) -> Scene:
    lens = stood(place, SIZE, np.random.default_rng(2))
    return Scene(
        shooting=Shooting(lens=lens, noise=0.0, **shooting),
        flights=(feed(),),
        duration_s=1.4,
        look=EVEN,
    )


def only_ball(made: Scene) -> list[np.ndarray]:
    """Frames less the frames of the same scene without its balls, as shares of a white ball."""
    empty = next(render(msgspec.structs.replace(made, flights=())).frames()).astype(float)
    return [(frame - empty) / (255 - empty) for frame in render(made).frames()]


def test_the_ball_is_drawn_where_the_truth_says() -> None:
    made = scene()
    track = render(made).truth.balls[0].track
    shown = only_ball(made)
    v, u = np.mgrid[: SIZE[1], : SIZE[0]]
    checked = 0
    for frame, middle, radius in zip(track.frame, track.middle_px, track.radius_px, strict=True):
        share = shown[frame]
        inside = (middle > 30).all() and (middle < np.array(SIZE) - 30).all()
        if not inside or share.sum() < 3:
            continue
        found = np.array([(share * u).sum(), (share * v).sum()]) / share.sum()
        # The bright upper side of a ball draws its middle of light up by a small part of it.
        assert found == pytest.approx(middle, abs=0.15 + 0.08 * radius)
        checked += 1
    assert checked > 20


def test_a_streak_is_as_long_as_speed_times_exposure() -> None:
    short, long = scene(exposure_s=1 / 1000), scene(exposure_s=1 / 60)
    track = render(long).truth.balls[0].track
    lens, flight = long.shooting.lens, long.flights[0]
    inside = ((track.middle_px > 40) & (track.middle_px < np.array(SIZE) - 40)).all(1)
    at = int(np.argmax(inside * np.linalg.norm(track.shut_px - track.opened_px, axis=1)))
    opens = render(long).truth.times_s[track.frame[at]]
    ends, _ = lens.project(flight.at(opens + np.array([0.0, 1 / 60])))
    gone = np.linalg.norm(ends[1] - ends[0])
    assert gone > 5
    along = (ends[1] - ends[0]) / gone
    v, u = np.mgrid[: SIZE[1], : SIZE[0]]
    deviations = []
    for made in (short, long):
        share = only_ball(made)[track.frame[at]]
        way = u * along[0] + v * along[1]
        mean = (share * way).sum() / share.sum()
        deviations.append((share * (way - mean) ** 2).sum() / share.sum())
    # An even spread over a length has a variance of its square over 12.
    assert np.sqrt(12 * (deviations[1] - deviations[0])) == pytest.approx(gone, rel=0.06)


@pytest.mark.parametrize(
    "place",
    [each if each == "beside" else pytest.param(each, marks=pytest.mark.long) for each in PLACES],
)
def test_lines_stand_where_the_lens_puts_them(place: str) -> None:
    """Cut square across, a line's middle of light is the projected middle of its paint."""
    made = scene(place)
    lens = made.shooting.lens
    dark = (20.0, 20.0, 20.0)
    look = Look(grain=0.0, sun_deg=None, court=dark, around=dark)
    empty = msgspec.structs.replace(made, flights=(), look=look)
    frame = next(render(empty).frames()).astype(np.float32)
    steps = np.arange(-6, 6.01, 0.125)
    off = []
    for strip in FULL.strips():
        middle = np.array([strip.west + strip.east, strip.south + strip.north, 0.0]) / 2
        wide, long = strip.east - strip.west, strip.north - strip.south
        way = np.array([wide, 0.0, 0.0]) if wide > long else np.array([0.0, long, 0.0])
        for share in np.linspace(-0.45, 0.45, 31):
            places = middle + np.outer((share, share + 0.002), way)
            if places[0, 1] * lens.position_m[1] < 0:
                continue  # seen through the net
            (here, on), far = lens.project(places)
            width_px = lens.focal_px * min(wide, long) / far[0]
            if width_px < 0.3 or (here < 20).any() or (here > np.array(SIZE) - 20).any():
                continue
            across = np.array([[0, -1], [1, 0]]) @ (on - here) / np.linalg.norm(on - here)
            cut = (here + steps[:, None] * across).astype(np.float32)
            light = cv2.remap(frame, cut[None], None, cv2.INTER_LINEAR)[0]
            beside = light[np.abs(steps) > 3.5]
            if beside.max() - beside.min() > 3:
                continue  # another line is near, or the net
            light = light - beside.min()
            off.append((light * steps).sum() / light.sum())
    assert len(off) > 40
    assert np.median(np.abs(off)) < 0.03
    assert np.quantile(np.abs(off), 0.9) < 0.1


def test_the_same_recipe_gives_the_same_bytes() -> None:
    shooting = msgspec.structs.replace(scene().shooting, noise=4.0, uneven_s=0.002)
    made = msgspec.structs.replace(scene(), shooting=shooting, duration_s=0.4)
    other = msgspec.structs.replace(made, seed=1)
    first, again, third = (render(each) for each in (made, made, other))
    assert (first.truth.times_s == again.truth.times_s).all()
    assert not (first.truth.times_s == third.truth.times_s).all()
    pairs = zip(first.frames(), again.frames(), third.frames(), strict=True)
    for ours, same, different in pairs:
        assert (ours == same).all()
        assert not (ours == different).all()


def test_the_landing_is_the_flights_first_bounce() -> None:
    made = msgspec.structs.replace(scene(), air=Air(1.2))
    ball = render(made).truth.balls[0]
    assert ball.bounce is not None
    assert ball.landing_m == ball.bounce.place_m[:2]
    assert 0 < ball.landing_m[1] < FULL.half_long_m + 3
