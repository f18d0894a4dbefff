"""The conditions in which a plan's balls fly."""

from __future__ import annotations

from feedscript.diagnostics import Diagnostic, Page
from feedscript.flight.air import air_at, isa_pressure_pa
from feedscript.flight.ball import BALLS, ball_named
from feedscript.flight.bounce import SURFACES, Surface
from feedscript.flight.models import DEFAULT_MODEL
from feedscript.flight.motion.conditions import Conditions
from feedscript.launcher.profile.model import Profile
from feedscript.nearest import nearest
from feedscript.plan.scene import Balls, Court

#: Raised whenever the same setting flies another way, so that an old plan is not trusted.
FLIGHT_VERSION = 1
FLIGHT_MODEL = f"{DEFAULT_MODEL.name}/{FLIGHT_VERSION}"

UNKNOWN_BALL = Page(
    slug="unknown-ball",
    title="A kind of ball nobody knows",
    why=(
        "How far a ball flies depends on its weight and size, so feeds are aimed for one kind of "
        "ball. The kinds are the types of the rules of tennis and the balls of the three stages."
    ),
)

IMPOSSIBLE_AIR = Page(
    slug="impossible-air",
    title="Air that no court has",
    why=(
        "Air density comes from altitude, temperature, pressure and humidity. Outside what any "
        "court has the numbers are wrong, and the feeds would be aimed for air that is not there. "
        "Where altitude and pressure are both said they must fit together: a weather report gives "
        "the pressure as it would be at sea level, and `pressure` is the one at the court. Weather "
        "moves it by 7 % at most from the standard atmosphere's (design value)."
    ),
    wrong=(
        "feedscript 1\ncourt { altitude 1600 m  pressure 1013 hPa }\n"
        "feed deep { land 2 m inside baseline, on centre line  speed 66 km/h }\n"
        "lesson { show speed of deep }\n"
    ),
    corrected=(
        "feedscript 1\ncourt { altitude 1600 m  pressure 835 hPa }\n"
        "feed deep { land 2 m inside baseline, on centre line  speed 66 km/h }\n"
        "lesson { show speed of deep }\n"
    ),
)

#: How far weather moves the pressure from the standard atmosphere's. Design value.
_WEATHER = 0.07


def conditions_for(court: Court, balls: Balls, profile: Profile) -> Conditions:
    """Ball, air and model of one launcher's flights, its calibration taken in.

    KeyError for a ball nobody knows, ValueError for air or wear that cannot be.
    """
    ball = ball_named(balls.kind).worn(balls.wear)
    tuned = profile.calibration
    ball = ball.with_factors(
        ball.wear.drag_factor * tuned.drag_factor, ball.wear.lift_factor * tuned.lift_factor
    )
    air = air_at(court.altitude_m, court.air_c, court.pressure_hpa, court.humidity, court.wind_mps)
    return Conditions(ball=ball, air=air, model=DEFAULT_MODEL)


def conditions_or_why(court: Court, balls: Balls, profile: Profile) -> Conditions | Diagnostic:
    """The conditions, or what is wrong with what the program says of ball and air."""
    try:
        return conditions_for(court, balls, profile)
    except KeyError:
        close = nearest(balls.kind, BALLS)
        return UNKNOWN_BALL.report(
            f"{balls.kind!r} is not a kind of ball",
            help=(f"did you mean {close!r}? " if close else "") + f"known: {', '.join(BALLS)}",
        )
    except ValueError as trouble:
        return IMPOSSIBLE_AIR.report(str(trouble), help="write what the court really has")


def pressure_apart(court: Court) -> Diagnostic | None:
    """A pressure that no weather brings to the stated altitude."""
    if court.pressure_hpa is None or not court.altitude_m:
        return None
    usual_hpa = isa_pressure_pa(court.altitude_m) / 100
    if abs(court.pressure_hpa / usual_hpa - 1) <= _WEATHER:
        return None
    return IMPOSSIBLE_AIR.report(
        f"{court.pressure_hpa:g} hPa is no pressure at {court.altitude_m:g} m, where "
        f"{usual_hpa:.0f} hPa is usual",
        help="write the pressure at the court, not the one reduced to sea level; or leave it out",
    )


UNKNOWN_BOUNCE = Page(
    slug="unknown-bounce",
    title="A contact point on a court whose bounce is not known",
    why="""Where a player meets the ball after its bounce depends on the surface: a slow court
throws it up, a fast one lets it skid. A feed given by its contact point, or an expectation of the
height at which a ball arrives, needs `surface` in `court`. A measured court may state its pace
rating and restitution together.""",
    wrong="""feedscript 1
feed drive { land 2 m inside baseline, on centre line  contact 1 m high, 2 m behind bounce }
lesson { show speed of drive  send drive after 5 s }
""",
    corrected="""feedscript 1
court { surface hard }
feed drive { land 2 m inside baseline, on centre line  contact 1 m high, 2 m behind bounce }
lesson { show speed of drive  send drive after 5 s }
""",
)


IMPOSSIBLE_SURFACE = Page(
    slug="impossible-surface",
    title="A measured surface that cannot be",
    why="""How a ball leaves a measured court follows from its pace rating and its restitution
together; one without the other says nothing, and some pairs belong to no surface: they would need
no friction at all, or a ball that leaves backwards.""",
    wrong="""feedscript 1
court { rating 23 }
feed deep { land 2 m inside baseline, on centre line  speed 66 km/h }
lesson { show speed of deep }
""",
    corrected="""feedscript 1
court { rating 23  restitution 0.85 }
feed deep { land 2 m inside baseline, on centre line  speed 66 km/h }
lesson { show speed of deep }
""",
)


def impossible_surface(court: Court) -> Diagnostic | None:
    """What is wrong with a court's measured figures; None where there are none, or good ones."""
    if court.pace_rating is None and court.restitution is None:
        return None
    found = surface_for(court)
    if isinstance(found, Surface):
        return None
    return IMPOSSIBLE_SURFACE.report(
        found, help="state `rating` and `restitution` as they were measured, or only `surface`"
    )


def surface_for(court: Court) -> Surface | str:
    """The surface that balls bounce on, or why it is not known."""
    measured = (court.pace_rating, court.restitution)
    if court.pace_rating is not None and court.restitution is not None:
        try:
            return Surface.rated(court.pace_rating, court.restitution, court.surface or "measured")
        except ValueError as trouble:
            return str(trouble)
    if measured != (None, None):
        return "a measured court states both its pace rating and its restitution"
    if court.surface is None:
        return "the court's surface is not declared"
    if court.surface not in SURFACES:
        return f"{court.surface!r} is not a surface; known: {', '.join(SURFACES)}"
    return SURFACES[court.surface]
