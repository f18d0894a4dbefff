"""Whole films by a few words: where the camera stands, what light there is, who is on court.

Everything is drawn from one seed. What a launcher was asked for and what its balls really did are
both told, so that a search may begin where a lesson's would: at the asked, scattered by as much.
"""

from __future__ import annotations

import math

import msgspec
import numpy as np

from tests.watch.scene.court import FULL, GROUNDS, Ground
from tests.watch.scene.flying import (
    KINDS,
    SURFACES,
    Air,
    Ball,
    Flight,
    Launch,
    aimed,
    drawn_ball,
    fly,
    lying,
)
from tests.watch.scene.lens import stood
from tests.watch.scene.people import Bird, Person
from tests.watch.scene.recipe import Colour, Look, Scene, Shooting
from tests.watch.scene.returns import Return, returned

CLAY = {"court": (176, 98, 66), "around": (168, 92, 62), "soft_ground": True, "marks": 250}
GREEN = {"court": (70, 118, 74), "around": (58, 104, 64), "fence": (44, 78, 50)}
GRASS = {"court": (96, 134, 62), "around": (88, 124, 58), "striped_m": 2.4, "grain": 9.0}

#: Ground and light: what is under the lines, and what is over them.
LOOKS: dict[str, Look] = {
    "noon": Look(),
    "clay": Look(**CLAY, dusty=0.25, grain=7.0),
    "green on green": Look(**GREEN),
    "grass": Look(**GRASS, dusty=0.3),
    "shadows": Look(
        sun_deg=(250.0, 28.0),
        shadows=((4.5, 7.0, 3.0, 2.0), (-2.0, 3.5, 1.6, 2.6), (0.5, 9.5, 2.4, 1.2)),
    ),
    "low sun": Look(**CLAY, sun_deg=(20.0, 9.0), veil=55.0, light=0.85, shade=0.5),
    "floodlit": Look(light=0.62, sky=(14, 16, 24), sun_deg=None, flicker=0.25, ball=(196, 214, 90)),
    "overcast": Look(light=0.8, sun_deg=None, sky=(176, 180, 184), cloud=0.3),
}
SURFACE_OF = {"clay": "clay", "low sun": "clay", "grass": "grass"}

#: How far a launcher's balls stray from what was asked: m/s, degrees, degrees, rpm, rpm.
SCATTER = (0.5, 0.5, 0.6, 120.0, 80.0)
MOUTH_M = (0.0, -12.9, 1.0)
GAP_S = 3.5
STEEPEST_DEG = 17.0


class Asked(msgspec.Struct, frozen=True):
    """What the launcher was asked for: the launch without its scatter, and the place to land."""

    launch: Launch
    landing_m: tuple[float, float]


class Practice(msgspec.Struct, frozen=True, eq=False):
    scene: Scene
    asked: tuple[Asked, ...]
    returns: tuple[Return | None, ...]  # of each ball, where somebody hits


#: The ball that a launcher is aimed for on each court: every kind's middle.
USUAL = {
    court: Ball(mass_kg=sum(kind.mass_kg) / 2, radius_m=sum(kind.radius_m) / 2)
    for court, kind in KINDS.items()
}


def feeds(
    count: int,
    random: np.random.Generator,
    *,
    surface: str = "hard",
    court: str = "full",
    air: Air | None = None,
    first_s: float = 0.6,
    gap_s: float = GAP_S,
) -> tuple[tuple[Asked, ...], tuple[Flight, ...]]:
    """Balls at deep and short places, slow and fast, over the net, one every ``gap_s``."""
    ground, air = GROUNDS[court], air or Air()
    scale = ground.half_long_m / FULL.half_long_m
    asked, flown = [], []
    for number in range(count):
        landing = (
            float(random.uniform(-0.75, 0.75) * (ground.singles_m or ground.half_wide_m)),
            float(random.uniform(0.5, 0.86) * ground.half_long_m),
        )
        launch = Launch(
            at_s=first_s + number * gap_s,
            place_m=(MOUTH_M[0], MOUTH_M[1] * scale, MOUTH_M[2]),
            speed_mps=float(random.uniform(17.5, 25.0)) * math.sqrt(scale),
            elevation_deg=8.0,
            azimuth_deg=0.0,
            top_rpm=float(random.choice([0.0, 300.0, 900.0, 1500.0])),
        )
        launch = _reaching(launch, landing, air, USUAL[court])
        asked.append(Asked(launch, landing))
        flown.append(_strayed(launch, random, surface, air, court))
    return tuple(asked), tuple(flown)


def _reaching(launch: Launch, landing_m: tuple[float, float], air: Air, ball: Ball) -> Launch:
    """Aimed there, and so fast that it is no lob."""
    for faster in range(12):
        quicker = msgspec.structs.replace(launch, speed_mps=launch.speed_mps + 0.8 * faster)
        try:
            found = aimed(quicker, landing_m, ball, air)
        except (ValueError, np.linalg.LinAlgError):
            continue
        if found.elevation_deg < STEEPEST_DEG:
            return found
    raise ValueError(f"nothing reaches {landing_m}")


def _strayed(
    launch: Launch, random: np.random.Generator, surface: str, air: Air, court: str
) -> Flight:
    """As it really flew: not into the net, which a launcher's feeds seldom meet."""
    for _ in range(20):
        speed, up, round_, top, side = random.normal(0, SCATTER).tolist()
        real = msgspec.structs.replace(
            launch,
            speed_mps=launch.speed_mps + speed,
            elevation_deg=launch.elevation_deg + up,
            azimuth_deg=launch.azimuth_deg + round_,
            top_rpm=launch.top_rpm + top,
            side_rpm=side,
        )
        flight = fly(real, drawn_ball(random, surface, court), air, GROUNDS[court])
        if flight.touches[0].what == "ground":
            break
    return flight


def walkers(random: np.random.Generator, duration_s: float, ground: Ground) -> tuple[Person, ...]:
    """A player who moves along the baseline, and a coach who walks beside the court."""
    scale = ground.half_long_m / FULL.half_long_m
    times = np.arange(0, duration_s + 4, 1.7)
    x = random.uniform(-3.2, 3.2, len(times)) * scale
    y = random.uniform(12.0, 13.0, len(times)) - (FULL.half_long_m - ground.half_long_m)
    coach_y = np.interp(times, [0, duration_s], random.uniform(-6, 8, 2)) * scale
    coach_x = -7.0 + (FULL.half_wide_m - ground.half_wide_m)
    player = zip(times.tolist(), x.tolist(), y.tolist(), strict=True)
    coach = ((t, coach_x, at) for t, at in zip(times.tolist(), coach_y.tolist(), strict=True))
    return (
        Person(way=tuple(player), colours=_clothes(random)),
        Person(way=tuple(coach), height_m=1.8, colours=_clothes(random)),
    )


#: One of them as bright as a ball.
SHIRTS = ((60, 66, 120), (196, 214, 92), (214, 214, 214), (150, 44, 44), (38, 40, 42))


def _clothes(random: np.random.Generator) -> tuple[Colour, ...]:
    skin, _, shorts, shoes, racket = Person(way=()).colours
    return skin, SHIRTS[random.integers(len(SHIRTS))], shorts, shoes, racket


def next_court(random: np.random.Generator, duration_s: float) -> tuple[Flight, ...]:
    """Rallies of the court beside, of which one ball comes over to this one."""
    flights = []
    for at_s in np.arange(0.2, duration_s, 1.6):
        end = 1 if len(flights) % 2 else -1
        launch = Launch(
            at_s=float(at_s),
            place_m=(16.5 + float(random.uniform(-3, 3)), end * 11.0, 0.9),
            speed_mps=float(random.uniform(18, 26)),
            elevation_deg=float(random.uniform(6, 12)),
            azimuth_deg=float(random.normal(0, 6)) + (180.0 if end > 0 else 0.0),
            top_rpm=900.0,
        )
        open_ground = msgspec.structs.replace(FULL, beside_m=40.0)
        flights.append(fly(launch, drawn_ball(random), ground=open_ground).until(at_s + 1.3))
    stray = Launch(
        at_s=1.0, place_m=(8.9, 2.0, 0.4), speed_mps=6.0, elevation_deg=8.0, azimuth_deg=-75.0
    )
    return (*flights, fly(stray, drawn_ball(random)))


def birds(random: np.random.Generator, duration_s: float) -> tuple[Bird, ...]:
    return tuple(
        Bird(
            at_s=float(at_s),
            place_m=(float(random.uniform(-25, 25)), float(random.uniform(-30, 5)), 7.0),
            velocity_mps=(float(random.normal(0, 8)), float(random.normal(0, 8)), 0.2),
        )
        for at_s in np.arange(0.5, duration_s, 2.5)
    )


def practice(
    seed: int = 0,
    *,
    balls: int = 6,
    place: str = "behind receiver",
    look: str = "noon",
    size: tuple[int, int] = (1280, 720),
    court: str = "full",
    busy: bool = False,
    hits: tuple[str, ...] = (),
    windy_mps: float = 0.5,
    gap_s: float = GAP_S,
    built: bool = False,
    **shooting: object,
) -> Practice:
    """A film of some feeds. ``busy``: people, a court next to it, birds, balls lying about;
    ``built``: the court is not to the millimetre.

    ``hits`` are what the player makes of the balls in turn: in, net, long, left, right, or none.
    ``shooting`` are words of :class:`Shooting`.
    """
    random = np.random.default_rng((seed, 7))
    surface = SURFACE_OF.get(look, "hard")
    assert surface in SURFACES
    air = Air(
        float(random.uniform(1.13, 1.225)),
        (float(random.normal(0, windy_mps)), float(random.normal(0, windy_mps)), 0.0),
    )
    lens = stood(place, size, random, GROUNDS[court])
    asked, flights = feeds(balls, random, surface=surface, court=court, air=air, gap_s=gap_s)
    duration_s = 0.6 + balls * gap_s
    made = [
        returned(flight, outcome, random, air) if outcome != "none" else None
        for flight, outcome in zip(flights, hits, strict=False)
    ]
    made += [None] * (balls - len(made))
    flown = [one.feed if one else flight for one, flight in zip(made, flights, strict=True)]
    backs = [one.back for one in made if one]
    people = [one.player for one in made if one]
    scene = Scene(
        shooting=Shooting(lens=lens, **shooting),  # type: ignore[arg-type]
        flights=tuple(flown),
        others=tuple(backs),
        people=tuple(people),
        duration_s=duration_s,
        look=LOOKS[look],
        court=court,
        built=seed if built else None,
        air=air,
        claps_s=(0.3,),
        hits=tuple(one.hit for one in made if one),
        seed=seed,
    )
    return Practice(_crowded(scene, random) if busy else scene, asked, tuple(made))


def _crowded(scene: Scene, random: np.random.Generator) -> Scene:
    about = tuple(
        lying(
            float(random.uniform(-6.5, 6.5)), float(random.choice([-1, 1]) * random.uniform(1, 16))
        )
        for _ in range(14)
    )
    return msgspec.structs.replace(
        scene,
        people=scene.people or walkers(random, scene.duration_s, scene.ground),
        others=(*scene.others, *about, *next_court(random, scene.duration_s)),
        birds=birds(random, scene.duration_s),
    )
