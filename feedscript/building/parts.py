"""Every part with what it must bear, worked out from a profile and a build file, and from where."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from feedscript.building import feed_path, series
from feedscript.building.build_file import Build
from feedscript.building.electrics import (
    Brake,
    MotorCurrents,
    battery_ah,
    brake,
    capacitor_f,
    motor_currents,
    ripple_a,
    wire_drop_v,
)
from feedscript.building.grip import grip_at, widest_gap_m
from feedscript.building.wheels import Wheeled, WheelWork, wheel_work
from feedscript.diagnostics import Diagnostic, Page
from feedscript.launcher.change import wheel_rates
from feedscript.launcher.profile.drives import Air, Arm, Spring, TwoWheels, Valve
from feedscript.launcher.profile.model import Profile

PARTS_UNRATED = Page(
    slug="parts-unrated",
    title="A launcher whose parts cannot be rated",
    why=(
        "Ratings are worked out for wheels on brushed motors. They follow from how fast the "
        "profile says that the wheels change their speed, and from the motor in the build file; "
        "where these contradict each other, or the launcher throws in another way, no rating is "
        "given rather than a wrong one."
    ),
)
_MECHANICS = "mechanics, any text"
_MACHINES = "electrical machines, any text"
_PRACTICE = "common practice, no source"


class Rating(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that a part must bear. ``choose`` is empty where there is nothing to buy."""

    part: str
    what: str
    figure: float
    unit: str
    choose: str
    source: str
    caution: str = ""

    @property
    def shown(self) -> str:
        """The figure with its unit, to three places."""
        figure = f"{self.figure:.0f}" if self.figure >= 100 else f"{self.figure:.3g}"
        return f"{figure} {self.unit}".rstrip()


def rated(profile: Profile, build: Build) -> tuple[Rating, ...] | Diagnostic:
    """Every rating, or why there are none."""
    drive = profile.drive
    if isinstance(drive, Air | Valve | Arm | Spring):
        return PARTS_UNRATED.report(
            f"{profile.name!r} throws by {profile.kind.value}, and ratings are for wheels",
            help="rate its parts by the makers' manuals, with somebody who knows such machines",
        )
    if isinstance(drive, TwoWheels) and drive.bottom_wheel_diameter_m:
        return PARTS_UNRATED.report(
            f"{profile.name!r} has wheels of different size, and ratings are for equal ones",
            help="rate it once for each size, both wheels alike, and take the stronger part",
        )
    if min(wheel_rates(drive.response)) <= 0:
        return PARTS_UNRATED.report(
            "by its profile a wheel never changes its speed: friction outweighs the motor",
            help='measure [drive.response] again, or take by = "measured"',
        )
    work = wheel_work(profile, drive, build)
    currents = motor_currents(work, build)
    if currents is None:
        return PARTS_UNRATED.report(
            f"{build.friction_nm:g} N m of friction stalls this motor at full duty",
            help="look at friction_nm, motor_resistance_ohm and wheel_rpm_at_full_duty again",
        )
    supply_a = work.count * currents.spin_up_a + build.servos_gate_a
    return (
        *_wheels(work),
        *_grip(profile, drive, build, work),
        *_motor(work, currents),
        *_copper(work, currents, build, supply_a),
        *_supply(work, currents, build, supply_a),
        *_feed_path(profile, build),
        *_guard(build),
    )


def _wheels(work: WheelWork) -> Iterator[Rating]:
    yield Rating(
        part="wheel", what="inertia about its axle", figure=work.inertia_kgm2, unit="kg m²",
        choose="", source=_MECHANICS,
    )  # fmt: skip
    yield Rating(
        part="wheel", what="energy that the fastest ball takes from it", figure=work.ball_j,
        unit="J", choose="", source=f"{_MECHANICS}: m v r = n I Δω",
    )  # fmt: skip
    yield Rating(
        part="wheel", what="share of its speed that this ball takes", figure=100 * work.drop_share,
        unit="%", choose="", source="the same",
        caution="a heavier wheel would lose less: 10 % and more are felt in the ball's scatter "
        f"({_PRACTICE})" if work.drop_share > 0.1 else "",
    )  # fmt: skip
    yield Rating(
        part="wheel", what="energy in each at the fastest: what a guard must hold",
        figure=work.stored_j, unit="J", choose="", source=_MECHANICS,
    )  # fmt: skip


def _grip(profile: Profile, drive: Wheeled, build: Build, work: WheelWork) -> Iterator[Rating]:
    speed_mps = profile.limits.speed_mps.most
    grip = grip_at(drive.gap_m, drive, work, speed_mps)
    widest_mm = 1000 * widest_gap_m(build.felt_friction, drive, work, speed_mps)
    spring = "ITF Rules of Tennis, Appendix I (from memory), as a straight spring"
    yield Rating(
        part="gap", what="the ball is pressed in by", figure=1000 * grip.squeeze_m, unit="mm",
        choose="", source="the ball's size less the profile's gap",
    )  # fmt: skip
    yield Rating(
        part="gap", what="a wheel's bearing carries, at the narrowest", figure=grip.press_n,
        unit="N", choose="", source=spring,
    )  # fmt: skip
    yield Rating(
        part="gap", what="the wheels touch the ball for", figure=1000 * grip.contact_s, unit="ms",
        choose="", source="geometry, a steady force",
    )  # fmt: skip
    short = grip.needed_friction > build.felt_friction
    yield Rating(
        part="gap", what="friction that the fastest ball needs", figure=grip.needed_friction,
        unit="", choose=f"a gap of {widest_mm:.0f} mm or less", source=spring,
        caution=f"the felt gives {build.felt_friction:g}: at the fastest this ball slips, its "
        "speed scatters and the tyre wears" if short else "",
    )  # fmt: skip


def _motor(work: WheelWork, currents: MotorCurrents) -> Iterator[Rating]:
    # A brushed motor bears twice its rating while a wheel speeds up: common practice, no source.
    watts = series.next_in_decades(max(work.steady_w, work.spin_up_w / 2), series.R10)
    yield Rating(
        part="motor", what="power while feeding the fastest ball", figure=work.steady_w, unit="W",
        choose="", source=_MECHANICS,
    )  # fmt: skip
    yield Rating(
        part="motor", what=f"power for {work.spin_up_s:.1f} s of run-up, at its end",
        figure=work.spin_up_w, unit="W", choose=f"brushed motor of {watts:g} W",
        source=f"{_MECHANICS}; rated at half of the run-up: {_PRACTICE}; ISO 3:1973, R10",
        caution=f"at the fastest it lacks {-currents.left_v:.1f} V for the profile's run-up: less "
        "winding resistance, a faster motor, or a slower run-up" if currents.left_v < 0 else "",
    )  # fmt: skip
    yield Rating(
        part="driver", what="current of the run-up", figure=currents.spin_up_a, unit="A",
        choose=f"half bridge for {currents.spin_up_a:.0f} A that bears "
        f"{currents.stall_a:.0f} A until the fuse opens, or limits the current by itself",
        source=_MACHINES,
    )  # fmt: skip
    yield Rating(
        part="driver", what="current of a wheel held fast", figure=currents.stall_a, unit="A",
        choose="", source="V / R",
    )  # fmt: skip


def _copper(
    work: WheelWork, currents: MotorCurrents, build: Build, supply_a: float
) -> Iterator[Rating]:
    steady_a = work.count * currents.steady_a + build.servos_gate_a
    for part, needs_a, stall_a in (
        ("motor's lead", currents.fuse_a, currents.stall_a),
        ("battery's lead", max(supply_a, steady_a / 0.8), work.count * currents.stall_a),
    ):
        fuse_a = series.next_of(needs_a, series.FUSES_A)
        wire = None if fuse_a is None else series.wire_for(fuse_a)
        yield Rating(
            part=part, what="its fuse must let pass", figure=needs_a, unit="A",
            choose="none of the table" if fuse_a is None else f"fuse of {fuse_a:g} A",
            source="ISO 8820-3:2015, ratings (from memory)",
            caution=_too_slow(fuse_a, stall_a),
        )  # fmt: skip
        if fuse_a is not None and wire is not None:
            yield Rating(
                part=part, what="copper that outlasts this fuse", figure=wire[1], unit="A",
                choose=f"{wire[0]:g} mm²{_gauge(wire[0])}, "
                f"{wire_drop_v(needs_a, wire[0], build):.2f} V lost over {build.wire_m:g} m",
                source="IEC 60204-1:2016, Table 6, B1 (from memory); IEC 60028:1925; ASTM B258",
            )  # fmt: skip


def _gauge(area_mm2: float) -> str:
    gauge = series.awg_for(area_mm2)
    return "" if gauge is None else f" or AWG {gauge}"


def _too_slow(fuse_a: float | None, stall_a: float) -> str:
    if fuse_a is None:
        return "more than 100 A: not with this page; ask somebody qualified"
    if stall_a < 2 * fuse_a:
        return (
            f"a wheel held fast draws {stall_a:.0f} A, less than twice the fuse: it may not open "
            "for minutes; take a driver that limits the current or senses the motor's warmth"
        )
    return ""


def _supply(
    work: WheelWork, currents: MotorCurrents, build: Build, supply_a: float
) -> Iterator[Rating]:
    least_f = capacitor_f(work.count * currents.spin_up_a, build)
    microfarads = series.next_in_decades(least_f * 1e6, series.E6)
    volts = series.next_of(1.5 * build.brake_v, series.CAPACITOR_V)
    yield Rating(
        part="contactor", what="breaks direct current", figure=supply_a, unit="A",
        choose=f"for {build.supply_v:g} V direct current, a motor's load (category DC-3)",
        source="IEC 60947-4-1, categories (from memory)",
        caution="a relay rated for alternating current does not break this",
    )  # fmt: skip
    yield Rating(
        part="battery", what=f"charge for {build.hours:g} h of the fastest ball",
        figure=battery_ah(work, currents, build), unit="Ah", choose="", source="power balance",
    )  # fmt: skip
    yield Rating(
        part="bulk capacitor", what=f"for a ripple of {build.ripple_v:g} V", figure=least_f * 1e6,
        unit="µF", choose=f"{microfarads:g} µF" + (f", {volts:g} V" if volts else ""),
        source=f"balance of charge; IEC 60063:2015, E6; 1.5 times the voltage: {_PRACTICE}",
        caution="it stays charged: 1 kΩ across it, and wait before you touch",
    )  # fmt: skip
    yield Rating(
        part="bulk capacitor", what="alternating current, r.m.s.",
        figure=ripple_a(work.count * currents.spin_up_a), unit="A", choose="", source="the same",
    )  # fmt: skip
    slowed = brake(work, build, microfarads * 1e-6)
    if slowed is not None:
        yield from _brake(slowed, build)


def _brake(slowed: Brake, build: Build) -> Iterator[Rating]:
    yield Rating(
        part="brake resistor", what="takes at most", figure=slowed.peak_w, unit="W",
        choose=f"{slowed.most_ohm:.2g} Ω or less, switched in at {build.brake_v:g} V; none where "
        "drivers short the motor, or a battery that may be charged stays connected",
        source=f"{_MECHANICS}; V² / P",
    )  # fmt: skip
    yield Rating(
        part="brake resistor", what="takes in one stop", figure=slowed.energy_j, unit="J",
        choose=f"{slowed.mean_w:.0f} W if wheels go up and down without a pause", source=_MECHANICS,
        caution=f"were it all to go into the capacitor, with the contactor open: "
        f"{slowed.alone_v:.0f} V. Drivers must short their motors or let them coast, never pump "
        "back, when the contactor is open" if slowed.alone_v > build.brake_v else "",
    )  # fmt: skip


def _feed_path(profile: Profile, build: Build) -> Iterator[Rating]:
    yield Rating(
        part="hopper", what=f"room for {profile.limits.hopper_balls} balls, poured in",
        figure=feed_path.hopper_litres(profile, build), unit="l", choose="", source="geometry",
    )  # fmt: skip
    yield Rating(
        part="chute", what="inner width and height", figure=1000 * feed_path.chute_m(), unit="mm",
        choose="", source=f"the widest ball of the rules, and 8 mm: {_PRACTICE}",
    )  # fmt: skip
    yield Rating(
        part="chute", what="from the gate to where the wheels take the ball",
        figure=1000 * feed_path.gate_to_wheels_m(profile, build), unit="mm",
        choose="", source=f"{_MECHANICS}: a rolling shell, in the profile's gate_lead_s",
    )  # fmt: skip


def _guard(build: Build) -> Iterator[Rating]:
    reach_mm = series.reach_mm(build.mesh_mm)
    yield Rating(
        part="guard", what=f"behind openings of {build.mesh_mm:g} mm a finger reaches",
        figure=reach_mm or 0.0, unit="mm", choose="", source="ISO 13857:2019, Table 4, square",
        caution=f"the guard stands at {build.guard_mm:g} mm: too near, by this table"
        if reach_mm is None or reach_mm > build.guard_mm else "",
    )  # fmt: skip
    mouth_mm = 1000 * feed_path.chute_m()
    arm_mm = series.reach_mm(mouth_mm) or 0.0
    yield Rating(
        part="guard", what=f"through a mouth of {mouth_mm:.0f} mm an arm reaches", figure=arm_mm,
        unit="mm", choose="", source="the same",
        caution=f"the tunnel is {build.tunnel_mm:g} mm long: a hand gets to the wheels. Bars that "
        "leave only the ball's way, and nobody near while the lamp is lit or the wheels coast"
        if arm_mm > build.tunnel_mm else "",
    )  # fmt: skip
