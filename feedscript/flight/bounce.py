"""The bounce: sliding or gripping, by surface; and the ITF's test of a court's pace.

How much of its speed downwards a ball keeps is not one number. Two measurements pin it: the ball's
own rule, a drop onto a rigid floor (:mod:`feedscript.flight.ball`), and the court's test, a fast
shallow ball, for which ITF found 0.81 over all surfaces (CS 01/02): more than the same ball keeps
from a drop of equal speed. Oblique impacts keep more than upright ones ("Low Speed Impact of an
Elastic Ball with Tapes and Clay Court", Appl. Sci. 2024, 14:5674, section 1), and hard ones less
than soft ones (Haake, Carre & Goodwill 2003, J. Sports Sci. 21:839; Dignall & Haake 2000, who fired
balls at 6.7 to 20 m/s onto a rigid floor; both read in abstract). The loss with speed is a straight
line whose slope is from memory of such measurements; between 16 degrees and upright we interpolate
by the square of the cosine, which is our convention.

Warmth makes a ball livelier; ITF corrects its court test by 0.003 for each degree of the ball
(the same page). It is left out here, as nobody measures the balls: at a ball of 13 C expect a
bounce some 7 % lower than said, at 33 C as much higher.

A rigid ball meets a rigid court. Friction takes horizontal speed while the ball slides; if it
would take more than brings the contact point to rest, the ball grips, and leaves with the share
``tangential`` of the contact point's speed turned round (Cross 2002, Am. J. Phys. 70:1093; Cross
2005, Am. J. Phys. 73:914). With tangential 0 that is Brody's rolling exit (Brody 1984, Phys. Teach.
22:494; from memory). Spin about the vertical is taken to pass through the bounce unchanged.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import msgspec
import numpy as np

from feedscript.court.ranges import RESTITUTION
from feedscript.flight.ball import BALLS, DEFAULT_BALL, Ball
from feedscript.flight.launches import Release
from feedscript.flight.models import Array, Mask
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.flights import Flights

#: The ITF's test (CS 01/02; ITF technical booklet 2015, p. 40): a ball without spin.
TEST_SPEED_MPS, TEST_ANGLE_DEG = 30.0, 16.0
#: Share of the restitution lost per m/s of speed downwards: from memory of measurements on rigid
#: floors (about 0.78 at 7 m/s, 0.62 at 20 m/s). Beyond the fastest of them nothing more is lost.
_LOSS_PER_MPS, _FASTEST_MPS = 0.0148, 30.0
#: The same page: 100 (1 - mu) + 150 (0.81 - e), e at a ball temperature of 23 C.
_PACE_CONSTANT, _MEAN_RESTITUTION = 150.0, 0.81

FRICTION_RANGE = (0.05, 1.5)
_MOST_TANGENTIAL = 0.8


class Surface(msgspec.Struct, frozen=True):
    """A court's surface as a ball feels it.

    ``restitution`` is normal speed after over before, of an ordinary ball at 23 C in the ITF's test
    of a court's pace; ``friction`` the sliding coefficient; ``tangential`` what a gripping ball
    turns round; ``drop_share`` how high a dropped ball rises, as a share of its rise from a rigid
    floor.
    """

    name: str
    friction: float
    restitution: float
    tangential: float = 0.0
    source: str = ""
    drop_share: float = 1.0

    @classmethod
    def rated(
        cls,
        pace_rating: float,
        restitution: float,
        name: str = "measured",
        source: str = "",
        drop_share: float = 1.0,
    ) -> Surface:
        """The surface that the ITF's test gives this Court Pace Rating.

        The rating's formula supposes a ball that slides throughout. On slow courts the test's ball
        grips before; ``tangential`` is then what still gives the rating back. ValueError when no
        friction in :data:`FRICTION_RANGE` or no restitution in :data:`RESTITUTION` does.
        """
        low, high = RESTITUTION
        if not low <= restitution <= high:
            raise ValueError(
                f"a restitution of {restitution:g} is not between {low:g} and {high:g}"
            )
        friction = 1 - (pace_rating - _PACE_CONSTANT * (_MEAN_RESTITUTION - restitution)) / 100
        low, high = FRICTION_RANGE
        if not low <= friction <= high:
            raise ValueError(
                f"a pace rating of {pace_rating:g} with a restitution of {restitution:g} needs a "
                f"friction of {friction:.2f}, which is not between {low:g} and {high:g}"
            )
        inertia = DEFAULT_BALL.inertia_factor
        taken = friction * (1 + restitution) * np.tan(np.radians(TEST_ANGLE_DEG))
        tangential = max(0.0, float(taken * (1 + inertia) / inertia - 1))
        if tangential > _MOST_TANGENTIAL:
            raise ValueError(
                f"a pace rating of {pace_rating:g} with a restitution of {restitution:g} would "
                f"need a ball that leaves faster backwards than any court throws it"
            )
        return cls(name, friction, restitution, tangential, source, drop_share)

    def restitution_of(self, ball: Ball, velocity_mps: Array) -> Array:
        """Normal speed after over before, (n), for impacts with these velocities, (3, n).

        It meets the ball's rebound rule in the drop and ``restitution`` in the ITF's test. Another
        type of ball keeps as much more or less in both as its rebound rule says (our convention, no
        source).
        """
        down = np.abs(velocity_mps[2])
        speed = np.sqrt(np.sum(velocity_mps**2, axis=0))
        share = np.where(speed > 0, np.hypot(*velocity_mps[:2]) / np.where(speed > 0, speed, 1), 0)
        shallow = (share / np.cos(np.radians(TEST_ANGLE_DEG))) ** 2
        usual = BALLS["type-2"].dropped.restitution
        upright = usual * np.sqrt(self.drop_share)
        oblique = self.restitution / _kept(_TEST_DOWN_MPS, DEFAULT_BALL)
        kept = (upright + (oblique - upright) * shallow) * _kept(down, ball)
        lively = ball.dropped.restitution / usual
        return np.asarray(np.minimum(kept * lively, RESTITUTION[1]))


_TEST_DOWN_MPS = TEST_SPEED_MPS * np.sin(np.radians(TEST_ANGLE_DEG))


def _kept(down_mps: Array | float, ball: Ball) -> Array:
    """Restitution at this speed downwards over that in the ball's own drop."""
    return 1 - _LOSS_PER_MPS * (np.minimum(down_mps, _FASTEST_MPS) - ball.dropped.impact_mps)


_CHOICE = (
    "a rating of our choice inside the ITF's category for such courts; restitution and the height "
    "to which a dropped ball rises likewise"
)
#: Surfaces by name. ITF Rules, Appendix I names the categories, not one number a surface.
SURFACES: Mapping[str, Surface] = MappingProxyType(
    {
        surface.name: surface
        for surface in (
            Surface.rated(25.0, 0.84, "clay", f"category 1, slow: {_CHOICE}", 0.95),
            Surface.rated(37.0, 0.80, "hard", f"category 3, medium: {_CHOICE}"),
            Surface.rated(42.0, 0.79, "carpet", f"category 4, medium-fast: {_CHOICE}", 0.95),
            Surface.rated(52.0, 0.75, "grass", f"category 5, fast: {_CHOICE}", 0.75),
        )
    }
)


class Rebound(msgspec.Struct, frozen=True, eq=False):
    """Balls just after a bounce; ``gripped`` marks those that stopped sliding in it."""

    release: Release
    gripped: Mask


def bounce(
    velocity_mps: Array, spin_radps: Array, ball: Ball, surface: Surface
) -> tuple[Array, ...]:
    """Velocity and spin after the bounce, (3, n) each, and which balls gripped, (n)."""
    restitution = surface.restitution_of(ball, velocity_mps)
    return impact(velocity_mps, spin_radps, ball, surface, restitution)


def impact(
    velocity_mps: Array, spin_radps: Array, ball: Ball, surface: Surface, restitution: Array | float
) -> tuple[Array, ...]:
    """The same for a restitution that is known."""
    alpha, radius = ball.inertia_factor, ball.radius_m
    vx, vy, vz = velocity_mps
    slip = np.stack([vx - radius * spin_radps[1], vy + radius * spin_radps[0]])
    slipping = np.hypot(*slip)
    direction = slip / np.where(slipping > 0, slipping, 1.0)
    sliding = surface.friction * (1 + restitution) * np.abs(vz)
    gripping = (1 + surface.tangential) * slipping * alpha / (1 + alpha)
    push = np.minimum(sliding, gripping)
    along, across = push * direction
    velocity = np.stack([vx - along, vy - across, -restitution * vz])
    spin = spin_radps.copy()
    spin[0] -= across / (alpha * radius)
    spin[1] += along / (alpha * radius)
    return velocity, spin, gripping <= sliding


def rebound(flights: Flights, conditions: Conditions, surface: Surface) -> Rebound:
    """The balls of ``flights`` just after their bounce, ready to fly on."""
    ball = conditions.ball
    velocity, spin, gripped = bounce(
        flights.bounce_velocity_mps, flights.bounce_spin_radps, ball, surface
    )
    height = np.where(flights.landed, ball.radius_m, np.nan)
    place = np.stack([flights.landing_x_m, flights.landing_y_m, height])
    return Rebound(Release(place, velocity, spin), gripped.astype(bool))
