"""Currents of a wheel's motor, and what follows from them: fuse, wire, capacitor, brake, battery.

A brushed motor with a permanent magnet: its voltage is k w + R I, its torque k I with the same k
(any text of electrical machines). k follows from the speed at full duty, where the current only
makes up for friction. Currents in the supply are no greater than in the motor: a driver that
switches lets them pass for a share of the time.
"""

from __future__ import annotations

import math

import msgspec

from feedscript.building.build_file import Build
from feedscript.building.wheels import WheelWork
from feedscript.launcher.wheels import RPM_PER_RADPS

#: Copper at 20 °C, ohm mm²/m: 1/58, IEC 60028:1925; and 0.39 % more a kelvin, to a warm 70 °C.
COPPER_OHM = 1 / 58 * (1 + 0.00393 * 50)
#: A fuse that carries its rating for hours is loaded to four fifths. Common practice, no source.
_STEADY_SHARE = 0.8


class MotorCurrents(msgspec.Struct, frozen=True, kw_only=True):
    """One motor."""

    nm_per_a: float
    spin_up_a: float
    steady_a: float
    stall_a: float
    left_v: float  # of the supply's voltage, at the fastest while speeding up; below 0: it cannot

    @property
    def fuse_a(self) -> float:
        """The least rating of its fuse: the run-up passes, and feeding for hours."""
        return max(self.spin_up_a, self.steady_a / _STEADY_SHARE)


def motor_currents(work: WheelWork, build: Build) -> MotorCurrents | None:
    """The currents of one motor; None where its friction alone stalls it at full duty."""
    full = build.wheel_rpm_at_full_duty / RPM_PER_RADPS
    # V = k w + R T / k, so k^2 w - V k + R T = 0; the greater root is the motor that turns freely.
    under = build.supply_v**2 - 4 * full * build.motor_resistance_ohm * build.friction_nm
    if under < 0:
        return None
    nm_per_a = (build.supply_v + math.sqrt(under)) / (2 * full)
    spin_up_a = work.spin_up_nm / nm_per_a
    needs_v = nm_per_a * work.fastest_radps + build.motor_resistance_ohm * spin_up_a
    return MotorCurrents(
        nm_per_a=nm_per_a,
        spin_up_a=spin_up_a,
        steady_a=work.steady_nm / nm_per_a,
        stall_a=build.supply_v / build.motor_resistance_ohm,
        left_v=build.supply_v - needs_v,
    )


def wire_drop_v(current_a: float, area_mm2: float, build: Build) -> float:
    """What the copper takes there and back, warm: 2 rho l I / A."""
    return 2 * COPPER_OHM * build.wire_m * current_a / area_mm2


def capacitor_f(current_a: float, build: Build) -> float:
    """The least capacitor beside the drivers for the ripple.

    A driver that switches with duty D takes I for D of each period while I D comes from the
    battery: C dV = I D (1 - D) / f, greatest at one half: C = I / (4 f dV). Balance of charge.
    """
    return current_a / (4 * build.pwm_hz * build.ripple_v)


def ripple_a(current_a: float) -> float:
    """The capacitor's alternating current, r.m.s.: I sqrt(D (1 - D)), at most I / 2. The same."""
    return current_a / 2


class Brake(msgspec.Struct, frozen=True, kw_only=True):
    """What comes back from the wheels when they are slowed down by their drivers."""

    peak_w: float
    most_ohm: float
    energy_j: float  # of one slowing down, from the fastest
    mean_w: float  # up and down without a pause
    alone_v: float  # the supply, had its capacitor to take it all: contactor open


def brake(work: WheelWork, build: Build, supply_f: float) -> Brake | None:
    """The brake of all wheels; None where friction alone slows them down."""
    peak_w = work.count * work.spin_down_nm * work.fastest_radps
    if peak_w <= 0:
        return None
    energy_j = work.count * work.stored_j
    return Brake(
        peak_w=peak_w,
        most_ohm=build.brake_v**2 / peak_w,
        energy_j=energy_j,
        mean_w=energy_j / (work.spin_up_s + work.spin_down_s),
        alone_v=math.sqrt(build.supply_v**2 + 2 * energy_j / supply_f),
    )


def battery_ah(work: WheelWork, currents: MotorCurrents, build: Build) -> float:
    """The charge that the fastest ball, fed for the hours, takes, over the usable share."""
    motor_w = work.steady_w + build.motor_resistance_ohm * currents.steady_a**2
    mean_a = work.count * motor_w / build.supply_v + build.servos_gate_a
    return mean_a * build.hours / build.usable_share
