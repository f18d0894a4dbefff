"""The renderer's flights against closed forms and printed figures."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest

from tests.watch.scene.court import FULL
from tests.watch.scene.flying import GRAVITY_MPS2, Air, Ball, Launch, bounced, fly

OPEN = msgspec.structs.replace(FULL, behind_m=200.0, beside_m=200.0)
VACUUM = Air(0.0)


def thrown(height_m: float, ball: Ball, **launch: float) -> Launch:
    """Past the net, so high that the ball's lowest point falls by ``height_m``."""
    return Launch(at_s=0.5, place_m=(0.0, 0.5, height_m + ball.radius_m), azimuth_deg=0.0, **launch)


def test_without_air_a_ball_flies_its_parabola() -> None:
    ball = Ball()
    flight = fly(thrown(1.0, ball, speed_mps=30.0, elevation_deg=0.0), ball, VACUUM, OPEN)
    bounce = flight.bounces()[0]
    falls_s = math.sqrt(2 * 1.0 / GRAVITY_MPS2)
    assert bounce.at_s - 0.5 == pytest.approx(falls_s, abs=1e-7)
    assert bounce.place_m[1] - 0.5 == pytest.approx(30 * falls_s, abs=1e-5)
    times = np.linspace(0.5, 0.5 + falls_s, 37)
    high = 1.0 + ball.radius_m - GRAVITY_MPS2 * (times - 0.5) ** 2 / 2
    np.testing.assert_allclose(flight.at(times)[:, 2], high, atol=1e-5)


def test_a_drop_through_air_meets_its_closed_form() -> None:
    """v = Vt sqrt(1 - exp(-2 g h / Vt^2)), t = (Vt / g) acosh(exp(g h / Vt^2))."""
    ball, air = Ball(drag=0.55), Air(1.2)
    most = math.sqrt(2 * ball.mass_kg * GRAVITY_MPS2 / (1.2 * math.pi * ball.radius_m**2 * 0.55))
    dropped = thrown(2.54, ball, speed_mps=1e-9, elevation_deg=0.0)
    bounce = fly(dropped, ball, air, OPEN).bounces()[0]
    share = GRAVITY_MPS2 * 2.54 / most**2
    assert bounce.speed_mps == pytest.approx(most * math.sqrt(1 - math.exp(-2 * share)), rel=1e-6)
    assert bounce.at_s - 0.5 == pytest.approx(
        most / GRAVITY_MPS2 * math.acosh(math.exp(share)), rel=1e-6
    )


#: W. Gander and J. Hrebicek, "Solving Problems in Scientific Computing Using Maple and MATLAB",
#: chapter 1 (the topspin lob): 50 g, 63 mm, 1.29 kg/m^3, from 1 m at 25 m/s and 15 degrees, the
#: surface at 20 m/s; with the coefficients as Stepanek has them. Figures worked out anew with
#: g = 9.81; ours has 9.80665.
LOB = Ball(mass_kg=0.05, radius_m=0.0315, drag=0.508)


@pytest.mark.parametrize(("surface_mps", "flies_s", "far_m"), [
    (0.0, 1.3620, 25.077),
    (20.0, 0.9306, 17.055),
    (-20.0, 1.983, 28.601),
])  # fmt: skip
def test_the_textbook_lob(surface_mps: float, flies_s: float, far_m: float) -> None:
    rpm = surface_mps / LOB.radius_m * 30 / math.pi
    launch = thrown(1.0, LOB, speed_mps=25.0, elevation_deg=15.0, top_rpm=rpm)
    bounce = fly(launch, LOB, Air(1.29), OPEN).bounces()[0]
    assert bounce.at_s - 0.5 == pytest.approx(flies_s, rel=1e-3)
    assert bounce.place_m[1] - 0.5 == pytest.approx(far_m, rel=1e-3)


@pytest.mark.parametrize(
    ("speed", "angle", "rpm", "friction", "restitution", "after", "rising", "spin"),
    [
        (30, 16, 0, 0.6, 0.75, 20.1553, 6.2018, 4568.2),  # slides
        (20, 20, 0, 0.6, 0.75, 12.1251, 5.1303, 3508.7),  # grips
        (20, 25, -2500, 0.6, 0.75, 9.2512, 6.3393, 2169.4),
    ],
)
def test_bounces_worked_out_by_hand(
    speed: float, angle: float, rpm: float, friction: float, restitution: float, after: float,
    rising: float, spin: float,
) -> None:  # fmt: skip
    """Impulse as in Cross 2002 and Brody 1984, radius 33 mm, a = 0.55, rolling as it leaves."""
    ball = Ball(radius_m=0.033, friction=friction, restitution=restitution, grip=0.0)
    down = math.radians(angle)
    velocity = np.array([0.0, speed * math.cos(down), -speed * math.sin(down)])
    turning = np.array([-rpm * math.pi / 30, 0.0, 0.0])
    velocity, turning = bounced(ball, velocity, turning, 0.0)
    assert velocity == pytest.approx([0.0, after, rising], abs=1e-4)
    assert turning * 30 / math.pi == pytest.approx([-spin, 0.0, 0.0], abs=0.1)


def test_side_spin_curves_towards_the_side_it_is_named_for() -> None:
    launch = thrown(1.0, Ball(), speed_mps=20.0, elevation_deg=10.0, side_rpm=1500.0)
    assert fly(launch, Ball(), ground=OPEN).bounces()[0].place_m[0] > 0.4


def test_a_low_ball_stays_on_its_side_of_the_net() -> None:
    low = Launch(
        at_s=0.0, place_m=(0.0, -11.0, 0.8), speed_mps=20.0, elevation_deg=0.0, azimuth_deg=0.0
    )
    flight = fly(low)
    assert flight.touches[0].what == "ground"
    flight = fly(msgspec.structs.replace(low, elevation_deg=7.0))
    assert flight.touches[0].what == "net"
    assert flight.places_m[-1, 1] < 0
