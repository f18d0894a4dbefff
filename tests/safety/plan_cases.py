"""Unsafe plans that no program gives, or not so plainly; each with its nearest safe twin.

The names say what is wrong. All scenes are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec

from feedscript.check.check_program import check_program
from feedscript.launcher.profile.model import Profile, Range
from feedscript.plan.certificate import Requirement, Waiver
from feedscript.plan.model import (
    Choose,
    Collect,
    Condition,
    Option,
    Plan,
    Repeat,
    Rest,
    Result,
    Send,
    ShowSpeed,
    Shuffle,
    Station,
    Step,
    Together,
    Turns,
    Until,
    When,
)
from feedscript.plan.scene import Area, Balls, Court, Group, Player
from tests.safety.scenes import (
    COURT,
    PROFILE,
    Wish,
    bounded,
    launcher,
    scene,
)

Trial = tuple[Plan, tuple[Profile, ...]]


@dataclass(frozen=True)
class PlanCase:
    """A way to be unsafe: what must be refused, with which slug, and the twin that passes."""

    name: str
    slug: str
    unsafe: Callable[[], Trial]
    safe: Callable[[], Trial]


CASES: list[PlanCase] = []


def case(slug: str, unsafe: Trial | Any, safe: Trial | Any, name: str) -> None:
    CASES.append(PlanCase(name, slug, unsafe, safe))


def one(plan: Plan) -> Trial:
    return plan, (PROFILE,)


def changed(plan: Plan, **fields: Any) -> Plan:
    return msgspec.structs.replace(plan, **fields)


def first_feed(plan: Plan, **fields: Any) -> Plan:
    feeds = (msgspec.structs.replace(plan.feeds[0], **fields), *plan.feeds[1:])
    return bounded(changed(plan, feeds=feeds))


def with_limits(**fields: Any) -> Profile:
    limits = msgspec.structs.replace(PROFILE.limits, **fields)
    return msgspec.structs.replace(PROFILE, limits=limits)


def by(profile: Profile, *wishes: Wish, **fields: Any) -> Trial:
    """A plan aimed for a profile of its own."""
    plan = scene(*wishes, launchers=(launcher(profile),), profiles=(profile,), **fields)
    return plan, (profile,)


SHOW = ShowSpeed(feed=0, line=10)
END = Collect(line=19)


def send(feed: int = 0, after_s: float = 6.0, line: int = 11) -> Send:
    return Send(feeds=(feed,), after_s=(after_s, after_s), line=line)


def steps(*middle: Step) -> tuple[Step, ...]:
    return (SHOW, *middle, END)


# --- the plan itself

case(
    "sound-plan",
    lambda: one(changed(scene(), version=99)),
    lambda: one(scene()),
    "written by another version",
)
case(
    "sound-plan",
    lambda: one(changed(scene(), steps=steps(send(feed=7)))),
    lambda: one(scene(steps=steps(send(feed=0)))),
    "sends a feed that is not there",
)
case(
    "sound-plan",
    lambda: one(first_feed_unbounded(launcher=3)),
    lambda: one(first_feed_unbounded(launcher=0)),
    "feed of a launcher that is not there",
)
case(
    "sound-plan",
    lambda: one(first_feed_unbounded(net_clearance_m=float("nan"))),
    lambda: one(scene()),
    "a clearance that is not a number",
)
case(
    "sound-plan",
    lambda: one(
        changed(scene(), steps=steps(Send(feeds=(0,), after_s=(-3.0, 6.0), line=11), send()))
    ),
    lambda: one(scene(steps=steps(Send(feeds=(0,), after_s=(3.0, 6.0), line=11), send()))),
    "a gap that runs backwards",
)
case(
    "sound-plan",
    lambda: one(scene(keep_outs=(Area(name="bench", outline_m=(), height_m=1.0, line=5),))),
    lambda: one(scene(keep_outs=(bench(x_m=9.0),))),
    "a keep-out without an outline",
)
case(
    "bounds-differ",
    lambda: one(changed(scene(), bounds=msgspec.structs.replace(scene().bounds, balls=(1, 1)))),
    lambda: one(scene()),
    "fewer balls stated than sent",
)
case(
    "bounds-differ",
    lambda: one(changed(scene(), bounds=msgspec.structs.replace(scene().bounds, fastest_mps=15.0))),
    lambda: one(scene()),
    "a slower fastest ball stated",
)


def first_feed_unbounded(**fields: Any) -> Plan:
    plan = scene()
    return changed(plan, feeds=(msgspec.structs.replace(plan.feeds[0], **fields),))


# --- what the launcher can do

case(
    "past-speed",
    lambda: by(with_limits(speed_mps=Range(8.0, 20.9))),
    lambda: by(with_limits(speed_mps=Range(8.0, 21.1))),
    "faster than the launcher",
)
case(
    "past-speed",
    lambda: by(with_limits(speed_mps=Range(21.5, 33.0))),
    lambda: by(with_limits(speed_mps=Range(20.5, 33.0))),
    "slower than the launcher",
)
case(
    "past-spin",
    lambda: one(scene(Wish(top_rpm=3050.0, speed_mps=26.0))),
    lambda: one(scene(Wish(top_rpm=2950.0, speed_mps=26.0))),
    "more topspin than the launcher",
)
case(
    "past-spin",
    lambda: one(scene(Wish(top_rpm=-2550.0, speed_mps=20.0, land_m=(1.0, 8.0)))),
    lambda: one(scene(Wish(top_rpm=-2450.0, speed_mps=20.0, land_m=(1.0, 8.0)))),
    "more backspin than the launcher",
)
case(
    "past-elevation",
    lambda: by(with_limits(elevation_deg=Range(-4.0, 15.0))),
    lambda: by(with_limits(elevation_deg=Range(-4.0, 25.0))),
    "steeper than the launcher points",
)
case(
    "past-azimuth",
    lambda: by(with_limits(azimuth_deg=Range(-2.0, 2.0))),
    lambda: by(with_limits(azimuth_deg=Range(-3.0, 3.0))),
    "further round than the launcher turns",
)
case(
    "past-azimuth",
    lambda: one(scene(launchers=(launcher(heading_deg=-20.0),))),
    lambda: one(scene(launchers=(launcher(heading_deg=-15.0),))),
    "a launcher that is turned away",
)


def rolling(most_deg: float, side_rpm: float) -> Profile:
    """A garage launcher whose head rolls."""
    drive = msgspec.structs.replace(
        PROFILE.drive, roll_deg=Range(-most_deg, most_deg), roll_rate_dps=30.0
    )
    limits = msgspec.structs.replace(PROFILE.limits, side_rpm=Range(-side_rpm, side_rpm))
    return msgspec.structs.replace(PROFILE, drive=drive, limits=limits)


def rolled_too_far() -> Trial:
    """Aimed on a head that rolls further than the one it is for."""
    plan, _ = by(rolling(60.0, 500.0), Wish(side_rpm=400.0))
    return for_profile(plan, rolling(10.0, 500.0))


def for_profile(plan: Plan, profile: Profile) -> Trial:
    return changed(plan, launchers=(launcher(profile),)), (profile,)


case(
    "past-side-spin",
    lambda: by(rolling(60.0, 300.0), Wish(side_rpm=400.0)),
    lambda: by(rolling(60.0, 300.0), Wish(side_rpm=250.0)),
    "more side spin than the launcher",
)
case(
    "past-roll",
    rolled_too_far,
    lambda: by(rolling(60.0, 500.0), Wish(side_rpm=400.0)),
    "rolled further than the head goes",
)


def slow_wheels(most_rpm: float) -> Profile:
    drive = msgspec.structs.replace(PROFILE.drive, wheel_rpm=Range(300.0, most_rpm))
    return msgspec.structs.replace(PROFILE, drive=drive)


case(
    "past-drive",
    lambda: by(slow_wheels(2300.0)),
    lambda: by(slow_wheels(2700.0)),
    "a wheel faster than it turns",
)


def in_steps(*steps: float) -> Profile:
    drive = msgspec.structs.replace(PROFILE.drive, steps=steps)
    return msgspec.structs.replace(PROFILE, drive=drive)


case(
    "past-drive",
    lambda: for_profile(scene(), in_steps(1000.0, 3000.0)),
    lambda: for_profile(scene(), in_steps(*sorted(scene().feeds[0].setting.drives))),
    "a wheel between two of its steps",
)


def swung(furthest_deg: float) -> Trial:
    """A sweep from 9 degrees left to 9 right, whose directions go no further right than this."""
    text = """feedscript 1
court { surface hard  altitude 100 m  air 18 C }
balls { load 60 }
launcher { profile "swinging-head.toml"  stands 0.1 m behind centre mark }
group { 2 players  level club }
feed fan { sweep 4 m inside baseline  speed 72 km/h }
lesson { show speed of fan  send fan after 6 s  collect }
"""
    verdict = check_program(Path("swung.feed"), text=text)
    plan = verdict.plan
    assert plan is not None
    inside = [feed for feed in plan.feeds if feed.azimuth_deg <= furthest_deg]
    feeds = tuple(
        feed
        if feed.azimuth_deg <= furthest_deg
        else msgspec.structs.replace(max(inside, key=lambda one: one.azimuth_deg), name=feed.name)
        for feed in plan.feeds
    )
    return changed(plan, feeds=feeds, certificate=None), verdict.profiles


case(
    "part-of-sweep",
    lambda: swung(7.0),
    lambda: swung(9.0),
    "a swing that is proven in part",
)


def with_setting(**fields: Any) -> Plan:
    plan = scene()
    return first_feed(plan, setting=msgspec.structs.replace(plan.feeds[0].setting, **fields))


case(
    "setting-differs",
    lambda: one(with_setting(tilt_deg=scene().feeds[0].setting.tilt_deg + 0.5)),
    lambda: one(scene()),
    "tilted half a degree up",
)
case(
    "setting-differs",
    lambda: one(with_setting(drives=tuple(d * 1.05 for d in scene().feeds[0].setting.drives))),
    lambda: one(scene()),
    "wheels five per cent faster",
)

APART = (Wish("left", (-3.0, 9.0)), Wish("right", (3.0, 9.0), speed_mps=28.0, top_rpm=2400.0))
SHOW_BOTH = (ShowSpeed(feed=1, line=9), ShowSpeed(feed=0, line=10))


def alternating(gap_s: float, **fields: Any) -> Plan:
    body = (send(0, gap_s), send(1, gap_s))
    return scene(*APART, steps=(*SHOW_BOTH, Rest(seconds=9.0, line=11), *body, *body, END))


case(
    "too-soon",
    lambda: one(alternating(1.9)),
    lambda: one(alternating(2.8)),
    "wheels that cannot follow",
)


def follows(before_s: float) -> tuple[Step, ...]:
    """The fast feed can follow the slow one only by way of one branch."""
    ways = (
        Option(weight=1, body=(send(0),)),
        Option(weight=1, body=(send(1),)),
    )
    return (*SHOW_BOTH, Choose(options=ways, line=12), send(1, before_s), END)


case(
    "too-soon",
    lambda: one(scene(*APART, steps=follows(1.9))),
    lambda: one(scene(*APART, steps=follows(2.6))),
    "one branch of a choice only",
)


def shuffled(gap_s: float) -> tuple[Step, ...]:
    items = ((send(0, gap_s), Rest(seconds=4.0, line=13)), (send(1, gap_s),), (send(0, 5.0),))
    return (*SHOW_BOTH, Rest(seconds=9.0, line=11), Shuffle(items=items, line=12), END)


case(
    "too-soon",
    lambda: one(scene(*APART, steps=shuffled(1.9))),
    lambda: one(scene(*APART, steps=shuffled(2.8))),
    "one order of a shuffle only",
)
case(
    "too-soon",
    lambda: one(scene(steps=(SHOW, END, send(0, 1.0), END))),
    lambda: one(scene(steps=(SHOW, END, send(0, 6.0), END))),
    "from rest after a collect",
)
case(
    "too-soon",
    lambda: one(scene(steps=steps(send(0), Repeat(times=2, line=11, body=(send(0, 1.1),))))),
    lambda: one(scene(steps=steps(send(0), Repeat(times=2, line=11, body=(send(0, 1.9),))))),
    "sooner than the gate turns",
)
case(
    "least-interval",
    lambda: one(scene(steps=steps(send(0), Repeat(times=2, line=11, body=(send(0, 1.7),))))),
    lambda: one(scene(steps=steps(send(0), Repeat(times=2, line=11, body=(send(0, 1.9),))))),
    "sooner than the profile's least interval",
)
case(
    "least-interval",
    lambda: one(
        scene(
            steps=steps(send(0), send(0, 2.5)),
            requirements=(Requirement(rule="least-interval", value=3.0, line=4),),
        )
    ),
    lambda: one(
        scene(
            steps=steps(send(0), send(0, 3.5)),
            requirements=(Requirement(rule="least-interval", value=3.0, line=4),),
        )
    ),
    "sooner than the program asks",
)
case(
    "hopper-overfull",
    lambda: one(scene(launchers=(launcher(load=81),))),
    lambda: one(scene(launchers=(launcher(load=80),))),
    "one ball more than the hopper holds",
)


def loaded(load: int | None, *body: Step) -> Plan:
    return scene(steps=steps(*body), launchers=(launcher(load=load),))


case(
    "short-of-balls",
    lambda: one(loaded(10, Repeat(times=10, body=(send(),), line=11))),
    lambda: one(loaded(11, Repeat(times=10, body=(send(),), line=11))),
    "the shown ball counts too",
)
UNTIL = Condition(results=(Result.IN,), at_least=3, window=3)
case(
    "short-of-balls",
    lambda: one(loaded(8, Until(condition=UNTIL, at_most=8, body=(send(),), line=11))),
    lambda: one(loaded(9, Until(condition=UNTIL, at_most=8, body=(send(),), line=11))),
    "an until that never holds",
)
WHEN = Condition(results=(Result.NET,), at_least=1)
case(
    "short-of-balls",
    lambda: one(
        loaded(
            4,
            When(
                condition=WHEN,
                then=(send(), END, send()),
                otherwise=(send(), send(), send(), send()),
                line=11,
            ),
        )
    ),
    lambda: one(
        loaded(
            4,
            When(
                condition=WHEN,
                then=(send(), END, send()),
                otherwise=(send(), send(), END, send(), send()),
                line=11,
            ),
        )
    ),
    "a collect on one branch only",
)
case(
    "short-of-balls",
    lambda: one(loaded(None, Repeat(times=80, body=(send(),), line=11))),
    lambda: one(loaded(None, Repeat(times=79, body=(send(),), line=11))),
    "more than a full hopper",
)

# --- what the court holds

case(
    "flight-differs",
    lambda: one(first_feed(scene(), landing_m=(1.0, 8.5))),
    lambda: one(scene()),
    "said to land half a metre shorter",
)
case(
    "flight-differs",
    lambda: one(first_feed(scene(), speed_at_bounce_mps=9.0)),
    lambda: one(scene()),
    "said to come down slower",
)
case(
    "net-clearance",
    lambda: one(scene(Wish(speed_mps=27.0, top_rpm=0.0, land_m=(1.0, 5.0)))),
    lambda: one(scene(Wish(speed_mps=24.0, top_rpm=0.0, land_m=(1.0, 8.5)))),
    "too flat over the net",
)
case(
    "net-clearance",
    lambda: one(
        scene(requirements=(Requirement(rule="net-clearance", value=1.8, line=4),)),
    ),
    lambda: one(
        scene(requirements=(Requirement(rule="net-clearance", value=1.5, line=4),)),
    ),
    "lower than the program asks",
)
case(
    "lands-outside",
    lambda: one(scene(Wish(land_m=(1.0, 11.95)))),
    lambda: one(scene(Wish(land_m=(1.0, 11.8)))),
    "just past the baseline",
)
case(
    "lands-outside",
    lambda: one(scene(Wish(land_m=(-4.2, 9.0)))),
    lambda: one(
        scene(
            Wish(land_m=(-4.2, 9.0)),
            waivers=(Waiver(rule="lands-outside", because="trains leaving a ball", line=4),),
        )
    ),
    "in the alley of a singles court",
)
case(
    "strays-outside",
    lambda: one(scene(Wish(land_m=(0.0, 11.5)), court=changed_court(fence_behind_baseline_m=0.4))),
    lambda: one(scene(Wish(land_m=(0.0, 11.5)), court=changed_court(fence_behind_baseline_m=2.0))),
    "a wall right behind the baseline",
)


def changed_court(**fields: Any) -> Court:
    return msgspec.structs.replace(COURT, **fields)


def doubles(**fields: Any) -> Court:
    return changed_court(kind="doubles", **fields)


AT_THE_SIDE = Wish(land_m=(-5.4, 9.0))


case(
    "strays-outside",
    lambda: one(scene(AT_THE_SIDE, court=doubles(side_clearance_m=0.05))),
    lambda: one(scene(AT_THE_SIDE, court=doubles(side_clearance_m=1.0))),
    "a wall right beside the sideline",
)
case(
    "into-neighbour",
    lambda: one(
        scene(
            Wish(land_m=(3.8, 9.0)),
            court=changed_court(neighbours=("ad",), side_clearance_m=0.6),
            launchers=(launcher(mouth_m=(-3.0, -12.0, 0.95)),),
        )
    ),
    lambda: one(
        scene(
            Wish(land_m=(3.8, 9.0)),
            court=changed_court(neighbours=("ad",), side_clearance_m=3.0),
            launchers=(launcher(mouth_m=(-3.0, -12.0, 0.95)),),
        )
    ),
    "bounces on into the next court",
)
case(
    "into-neighbour",
    lambda: one(scene(court=changed_court(neighbours=("deuce",)))),
    lambda: one(scene(court=changed_court(neighbours=("deuce",), side_clearance_m=3.0))),
    "a court beside, but who knows where",
)
case(
    "over-fence",
    lambda: one(scene(court=changed_court(fence_height_m=1.2, fence_behind_baseline_m=2.0))),
    lambda: one(scene(court=changed_court(fence_height_m=3.0, fence_behind_baseline_m=2.0))),
    "bounces over a low fence",
)
case(
    "over-fence",
    lambda: one(scene(court=changed_court(fence_height_m=3.0))),
    lambda: one(scene(court=changed_court(fence_height_m=3.0, fence_behind_baseline_m=6.4))),
    "a fence, but who knows where",
)
case(
    "under-roof",
    lambda: one(scene(LOB, court=changed_court(roof_m=5.0))),
    lambda: one(scene(LOB, court=changed_court(roof_m=6.0))),
    "a lob in a low hall",
)

LOB = Wish(speed_mps=17.0, top_rpm=0.0, land_m=(1.0, 9.0))

# --- the people


def bench(x_m: float, height_m: float | None = 1.5, y_m: float = 5.0) -> Area:
    left, right = x_m - 0.5, x_m + 0.5
    outline = ((left, y_m - 2), (right, y_m - 2), (right, y_m + 2), (left, y_m + 2))
    return Area(name="the bench", outline_m=outline, height_m=height_m, line=5)


case(
    "into-keep-out",
    lambda: one(scene(keep_outs=(bench(1.6, y_m=12.0),))),
    lambda: one(scene(keep_outs=(bench(4.0, y_m=12.0),))),
    "behind the bounce",
)
case(
    "into-keep-out",
    lambda: one(scene(keep_outs=(bench(0.3, y_m=-9.0),))),
    lambda: one(scene(keep_outs=(bench(2.5, y_m=-9.0),))),
    "in front of the launcher",
)
case(
    "into-keep-out",
    lambda: one(scene(keep_outs=(bench(0.6, height_m=None, y_m=1.0),))),
    lambda: one(scene(keep_outs=(bench(0.6, height_m=1.0, y_m=1.0),))),
    "under the flight, of any height",
)
case(
    "into-keep-out",
    lambda: one(scene(keep_outs=(bench(2.0, y_m=9.0),))),
    lambda: one(scene(keep_outs=(bench(2.7, y_m=9.0),))),
    "only by its scatter and the room people need",
)

WAITING = Wish(receiver_m=(1.3, 13.0))
case(
    "receiver-in-keep-out",
    lambda: one(scene(WAITING, keep_outs=(waiting_room(1.0),))),
    lambda: one(scene(WAITING, keep_outs=(waiting_room(1.4),))),
    "a receiver in the coach's place, over which the ball flies",
)


def waiting_room(left_m: float) -> Area:
    """Low enough for the ball to pass over, so that nothing else is wrong with it."""
    outline = ((left_m, 12.5), (left_m, 13.5), (left_m + 2, 13.5), (left_m + 2, 12.5))
    return Area(name="the coach", outline_m=outline, height_m=0.3, line=5)


TWO = (
    launcher(name="north", mouth_m=(-2.5, -12.0, 0.95)),
    launcher(name="south", mouth_m=(2.5, -12.0, 0.95)),
)
BOTH = (PROFILE, PROFILE)


def side_by_side(left: Wish, right: Wish, inside: tuple[Step, ...] = (), **fields: Any) -> Trial:
    stations = (
        Station(name="north", launcher=0, players=(0,), body=(send(0), *inside), line=20),
        Station(name="south", launcher=1, players=(1,), body=(send(1),), line=21),
    )
    together = Together(stations=stations, for_s=30.0, line=19)
    feeds = (left, msgspec_launcher(right))
    plan = scene(
        *feeds,
        launchers=fields.pop("launchers", TWO),
        profiles=BOTH,
        steps=(ShowSpeed(feed=0, line=9), ShowSpeed(feed=1, line=10), together, END),
        **fields,
    )
    return plan, BOTH


def msgspec_launcher(wish: Wish) -> Wish:
    return Wish(**{**wish.__dict__, "launcher": 1})


LEFT = Wish("left", (-2.5, 9.0), receiver_m=(-2.5, 12.5))
RIGHT = Wish("right", (2.5, 9.0), receiver_m=(2.5, 12.5))
LEFT_ACROSS = Wish("left across", (0.1, 9.0), receiver_m=(-2.5, 12.5))
RIGHT_ACROSS = Wish("right across", (-0.1, 9.0), receiver_m=(2.5, 12.5))

case(
    "crossing-corridors",
    lambda: side_by_side(LEFT_ACROSS, RIGHT_ACROSS),
    lambda: side_by_side(LEFT, RIGHT),
    "two stations that feed across each other",
)

#: Feeds of the two launchers that cross, each beside the others' own side: 0 and 2 are the first
#: launcher's, 1 and 3 the second's; 2 crosses 1, and 3 crosses 0.
CROSSING = (
    Wish("left", (-2.5, 9.0), receiver_m=(-2.5, 12.5)),
    Wish("right", (2.5, 9.0), receiver_m=(2.5, 12.5), launcher=1),
    Wish("left across", (2.0, 9.0), receiver_m=(2.0, 12.5)),
    Wish("right across", (-2.0, 9.0), receiver_m=(-2.0, 12.5), launcher=1),
)


def one_after_the_other(*middle: Step) -> Trial:
    """Every speed shown, then these steps."""
    shown = tuple(ShowSpeed(feed=index, line=9) for index in range(4))
    plan = scene(*CROSSING, launchers=TWO, profiles=BOTH, steps=(*shown, *middle, END))
    return plan, BOTH


def beside(*bodies: tuple[Step, ...], for_s: float) -> Together:
    stations = tuple(
        Station(name=f"s{launcher}", launcher=launcher, players=(launcher,), body=body, line=20)
        for launcher, body in enumerate(bodies)
    )
    return Together(stations=stations, for_s=for_s, line=19)


def after_stations(gap_s: float) -> Trial:
    both = beside((send(0),), (send(1), send(1)), for_s=12.0)
    return one_after_the_other(both, send(2, after_s=gap_s))


def before_stations(gap_s: float) -> Trial:
    return one_after_the_other(send(2), beside((), (send(1, after_s=gap_s),), for_s=20.0))


def round_after_round(gap_s: float) -> Trial:
    first = beside((send(0), send(0)), (send(1),), for_s=12.0)
    return one_after_the_other(first, beside((), (send(3, after_s=gap_s),), for_s=20.0))


def again_and_again(rest_s: float) -> Trial:
    """The last ball of one pass meets the first of the next."""
    both = beside((), (send(1), Rest(seconds=rest_s, line=21)), for_s=6.0 + rest_s)
    body = (send(2, after_s=0.5), Rest(seconds=6.0, line=18), both)
    return one_after_the_other(Rest(seconds=6.0, line=17), Repeat(times=2, body=body, line=16))


def shown_after_stations(rest_s: float) -> Trial:
    both = beside((send(0), send(0)), (send(1),), for_s=12.0)
    return one_after_the_other(both, Rest(seconds=rest_s, line=22), ShowSpeed(feed=3, line=23))


for tried, soon_s, late_s, said in (
    (after_stations, 0.5, 4.0, "a ball right after the stations, across one that still flies"),
    (before_stations, 0.5, 4.0, "stations that begin while a ball still flies across them"),
    (round_after_round, 0.5, 4.0, "the next round's ball across the last one's"),
    (again_and_again, 0.5, 4.0, "the next pass begins across the last ball of the pass before"),
    (shown_after_stations, 0.5, 4.0, "a speed shown across a ball that still flies"),
):
    case(
        "crossing-corridors",
        lambda tried=tried, gap_s=soon_s: tried(gap_s),
        lambda tried=tried, gap_s=late_s: tried(gap_s),
        said,
    )
case(
    "past-other-players",
    lambda: side_by_side(LEFT, Wish("right", (2.5, 9.0), receiver_m=(-1.2, 12.0))),
    lambda: side_by_side(LEFT, RIGHT),
    "a receiver in the next station's way",
)
case(
    "past-other-players",
    lambda: side_by_side(LEFT, Wish("right", (2.5, 9.0))),
    lambda: side_by_side(LEFT, RIGHT),
    "receivers who knows where, beside one whose place is said",
)
case(
    "past-other-players",
    lambda: side_by_side(Wish("left", (-2.5, 9.0)), Wish("right", (2.5, 9.0))),
    lambda: side_by_side(LEFT, RIGHT),
    "receivers who knows where, at two stations",
)
IN_FRONT = (TWO[0], launcher(name="south", mouth_m=(-2.0, -9.5, 0.95)))
case(
    "through-launcher",
    lambda: (scene(LEFT, launchers=IN_FRONT, profiles=BOTH), BOTH),
    lambda: (scene(LEFT, launchers=TWO, profiles=BOTH), BOTH),
    "over the other launcher, and its person",
)
case(
    "receiver-elsewhere",
    lambda: one(scene(Wish(receiver_m=(-3.8, 12.0), land_m=(3.0, 9.0)))),
    lambda: one(scene(Wish(receiver_m=(2.0, 12.0), land_m=(3.0, 9.0)))),
    "a receiver in the other corner",
)
case(
    "receiver-elsewhere",
    lambda: one(scene(Wish(receiver_m=(1.0, -1.0)))),
    lambda: one(scene(Wish(receiver_m=(1.0, 1.5)))),
    "a receiver on the wrong side of the net",
)
case(
    "receiver-elsewhere",
    lambda: one(scene(Wish(receiver_m=(1.0, -0.3)))),
    lambda: one(scene(Wish(receiver_m=(1.0, 1.5)))),
    "a receiver on the wrong side of the net, but near it",
)


def group(**fields: Any) -> Group:
    return Group(players=(Player(name="Ada"), Player(name="Ben")), **fields)


FAST = Wish(speed_mps=31.0, top_rpm=1500.0, land_m=(1.0, 10.0), receiver_m=(1.1, 11.5))
HARD = Wish(speed_mps=30.0, top_rpm=0.0, land_m=(0.0, 9.0))
case(
    "too-fast-for-group",
    lambda: one(scene(HARD, balls=Balls(kind="stage red"), group=group(stage="red"))),
    lambda: one(scene(HARD, balls=Balls(kind="stage red"), group=group(stage="orange"))),
    "a red group fed hard",
)
case(
    "too-fast-for-group",
    lambda: one(scene(FAST, group=group())),
    lambda: one(scene(FAST, group=group(level="club"))),
    "nobody said who is playing",
)
case(
    "too-high-for-group",
    lambda: one(
        scene(
            Wish(speed_mps=19.0, land_m=(0.0, 10.0), receiver_m=(0.0, 1.0), top_rpm=0.0),
            balls=Balls(kind="stage green"),
            group=group(stage="green"),
        )
    ),
    lambda: one(
        scene(
            Wish(speed_mps=19.0, land_m=(0.0, 10.0), receiver_m=(0.0, 11.0), top_rpm=0.0),
            balls=Balls(kind="stage green"),
            group=group(stage="green"),
        )
    ),
    "over the heads of children at the net",
)
case(
    "wrong-ball",
    lambda: one(scene(balls=Balls(kind="type 2"), group=group(stage="green", level="club"))),
    lambda: one(scene(balls=Balls(kind="stage green"), group=group(stage="green", level="club"))),
    "ordinary balls for a green group",
)

# --- the order of things

case(
    "speed-not-shown",
    lambda: one(scene(steps=(send(), END))),
    lambda: one(scene(steps=(SHOW, send(), END))),
    "no shown ball at all",
)
case(
    "speed-not-shown",
    lambda: one(
        scene(
            steps=(
                When(condition=WHEN, then=(SHOW,), otherwise=(), line=9),
                send(),
                END,
            )
        )
    ),
    lambda: one(
        scene(
            steps=(
                When(condition=WHEN, then=(SHOW,), otherwise=(SHOW,), line=9),
                send(),
                END,
            )
        )
    ),
    "shown on one branch only",
)
case(
    "speed-not-shown",
    lambda: one(scene(steps=(Shuffle(items=((SHOW,), (send(),)), line=9), END))),
    lambda: one(scene(steps=(SHOW, Shuffle(items=((send(),), (send(),)), line=9), END))),
    "shown in the middle of a shuffle",
)
case(
    "speed-not-shown",
    lambda: one(scene(steps=(Repeat(times=0, body=(SHOW,), line=9), send(), END))),
    lambda: one(scene(steps=(Repeat(times=1, body=(SHOW,), line=9), send(), END))),
    "shown in a body that is passed over",
)
SLOW_AND_FAST = (Wish("slow"), Wish("fast", speed_mps=27.0, top_rpm=1500.0))
case(
    "faster-than-shown",
    lambda: one(scene(*SLOW_AND_FAST, steps=(SHOW, send(0), send(1), END))),
    lambda: one(
        scene(*SLOW_AND_FAST, steps=(SHOW, send(0), ShowSpeed(feed=1, line=12), send(1), END))
    ),
    "a fast ball after a slow one was shown",
)


def turn(*body: Step, **fields: Any) -> Turns:
    return Turns(slots=2, passes=1, body=body, line=12, **fields)


CLUB = group(level="club")


def club_turns(*body: Step, who: Group = CLUB, **fields: Any) -> Trial:
    """Turns of a club group, which needs 4.5 s from the call; a ball takes 1.1 s to come down."""
    return one(scene(steps=steps(turn(*body, **fields)), group=who))


def after_a_ball_for_everybody(first_s: float) -> Trial:
    turns = turn(send(after_s=first_s), Rest(seconds=9.0, line=13))
    return one(scene(steps=steps(send(), turns), group=CLUB))


def rounds_of_stations(rest_s: float) -> Trial:
    """Two rounds at two stations, 11 m apart from the one receiver to the other's."""
    far = (
        Wish("left", (-2.5, 9.0), receiver_m=(-2.5, 13.0)),
        Wish("right", (2.5, 9.0), receiver_m=(2.5, 4.0), launcher=1),
    )
    shown = tuple(ShowSpeed(feed=index, line=9) for index in range(2))
    rounds = [
        beside(
            *((Turns(slots=1, passes=1, body=(send(feed),), line=12),) for feed in (0, 1)),
            for_s=6.0 + rest_s,
        )
        for _ in range(2)
    ]
    plan = scene(*far, launchers=TWO, profiles=BOTH, steps=(*shown, *rounds, END))
    return plan, BOTH


IN_A_ROW = Condition(results=(Result.IN,), at_least=2, window=2)

for unsafe, safe, said in (
    (
        lambda: club_turns(send(after_s=5.8)),
        lambda: club_turns(send(after_s=5.9)),
        "a line drill without a rest",
    ),
    (
        lambda: club_turns(send(after_s=3.0), send(after_s=3.0), Rest(seconds=2.79, line=13)),
        lambda: club_turns(send(after_s=3.0), send(after_s=3.0), Rest(seconds=2.9, line=13)),
        "a rest that is too short",
    ),
    (
        lambda: club_turns(send(after_s=4.0), send(after_s=4.0), every_s=9.0),
        lambda: club_turns(send(after_s=4.0), send(after_s=4.0), every_s=10.0),
        "turns on the clock that leave no time",
    ),
    (
        lambda: club_turns(send(after_s=7.1), who=group(level="beginner")),
        lambda: club_turns(send(after_s=7.2), who=group(level="beginner")),
        "beginners walk on slower",
    ),
    (
        lambda: club_turns(
            Until(condition=IN_A_ROW, at_most=6, body=(send(after_s=6.0),), line=13),
            Rest(seconds=2.3, line=14),
        ),
        lambda: club_turns(
            Until(condition=IN_A_ROW, at_most=6, body=(send(after_s=6.0),), line=13),
            Rest(seconds=2.4, line=14),
        ),
        "the answer to a question comes before the call",
    ),
    (
        lambda: after_a_ball_for_everybody(5.8),
        lambda: after_a_ball_for_everybody(5.9),
        "the first turn right after a ball for everybody",
    ),
    (
        lambda: rounds_of_stations(1.5),
        lambda: rounds_of_stations(4.0),
        "the way from one station to the next is longer",
    ),
):
    case("short-change-over", unsafe, safe, said)
case(
    "faster-than-shown",
    lambda: one(
        scene(
            *SLOW_AND_FAST,
            steps=(SHOW, turn(send(1), ShowSpeed(feed=1, line=13)), END),
        )
    ),
    lambda: one(
        scene(
            *SLOW_AND_FAST,
            steps=(SHOW, turn(ShowSpeed(feed=1, line=13), send(1)), END),
        )
    ),
    "shown only after the first turn",
)
case(
    "collect-while-feeding",
    lambda: side_by_side(LEFT, RIGHT, inside=(Collect(line=22),)),
    lambda: side_by_side(LEFT, RIGHT),
    "a collect beside a station that feeds",
)
case(
    "collect-while-feeding",
    lambda: side_by_side(LEFT, RIGHT, inside=(Rest(seconds=5.0, line=22), SHOW)),
    lambda: side_by_side(LEFT, RIGHT, inside=(Rest(seconds=5.0, line=22),)),
    "a shown ball beside a station that feeds",
)

#: Guides warn and refuse nothing: (name, slug, plan that is noted, twin that is not).
GUIDES: list[PlanCase] = [
    PlanCase(
        "a ball that leaves no time",
        "little-time",
        lambda: one(
            scene(Wish(speed_mps=28.0, top_rpm=0.0, land_m=(0.0, 9.0), receiver_m=(0.0, 3.0)))
        ),
        lambda: one(scene(Wish(receiver_m=(1.2, 12.0)))),
    ),
    PlanCase(
        "three minutes without a break",
        "long-series",
        lambda: one(scene(steps=steps(Repeat(times=30, body=(send(),), line=11)))),
        lambda: one(scene(steps=steps(Repeat(times=15, body=(send(),), line=11)))),
    ),
    PlanCase(
        "a child with too many balls",
        "many-balls",
        lambda: one(
            scene(
                Wish(speed_mps=17.0, land_m=(0.5, 4.0), top_rpm=0.0),
                balls=Balls(kind="stage red"),
                group=Group(players=(Player(name="Cy"),), stage="red"),
                steps=tuple(
                    [SHOW]
                    + [
                        Repeat(times=9, body=(send(0, 5.0),), line=11),
                        END,
                        Rest(seconds=20, line=12),
                    ]
                    * 12
                ),
            )
        ),
        lambda: one(
            scene(
                Wish(speed_mps=17.0, land_m=(0.5, 4.0), top_rpm=0.0),
                balls=Balls(kind="stage red"),
                group=Group(players=(Player(name="Cy"), Player(name="Di")), stage="red"),
                steps=tuple(
                    [SHOW]
                    + [
                        Repeat(times=9, body=(send(0, 5.0),), line=11),
                        END,
                        Rest(seconds=20, line=12),
                    ]
                    * 12
                ),
            )
        ),
    ),
    PlanCase(
        "two hours",
        "long-lesson",
        lambda: one(scene(steps=steps(send(), Rest(seconds=7200.0, line=12)))),
        lambda: one(scene(steps=steps(send(), Rest(seconds=3600.0, line=12)))),
    ),
    PlanCase(
        "thirty-four degrees",
        "hot-day",
        lambda: one(scene(court=changed_court(air_c=34.0))),
        lambda: one(scene(court=changed_court(air_c=24.0))),
    ),
    PlanCase(
        "a target of a hand's width",
        "wide-of-target",
        lambda: one(scene(Wish(within_m=0.1))),
        lambda: one(scene(Wish(within_m=1.0))),
    ),
]
