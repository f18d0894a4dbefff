"""What flying and aiming cost: ratios measured in one run, on one core. Run by hand:

    python tests/benchmarks/flight.py [--slow-flights 300]

Times are processor time, the least of several interleaved repeats, so that a busy machine spoils
the ratios little. "1 mm" means: the worst landing of the batch is within 1 mm of a reference (the
C kernel at a step of 1 ms).
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy: one core

import argparse
import ctypes
import platform
import resource
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import msgspec
import numpy as np
from scipy.integrate import solve_ivp

from feedscript.flight.aim.aiming import Targets, aim
from feedscript.flight.bounce import SURFACES, rebound
from feedscript.flight.launches import Launches
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.flights import fly, land

CONDITIONS = Conditions()
SOURCE = Path(__file__).with_name("flight_kernel.c")


def least(action: Callable[[], object], repeats: int = 5) -> float:
    """Seconds of processor time of the quickest repeat."""
    best = float("inf")
    for _ in range(repeats):
        start = time.process_time()
        action()
        best = min(best, time.process_time() - start)
    return best


def launches(count: int, seed: int = 0) -> Launches:
    """The whole promised range: 8 to 45 m/s, -5 to 60 degrees, spin to 3,500 rpm."""
    random = np.random.default_rng(seed)
    return Launches.of(
        random.uniform(8, 45, count),
        random.uniform(-5, 60, count),
        top_rpm=random.uniform(-2500, 2500, count),
        side_rpm=random.uniform(-2500, 2500, count),
    )


def slow_flight(place: np.ndarray, velocity: np.ndarray, spin: np.ndarray) -> None:
    """One flight by solve_ivp: DOP853, landing event, rtol 1e-8."""
    ball, half = CONDITIONS.ball, CONDITIONS.equations(spin[:, None]).per_m
    rate = float(np.linalg.norm(spin))
    axis, surface = spin / max(rate, 1e-12), rate * ball.radius_m

    def motion(_t: float, y: np.ndarray) -> list[float]:
        _, _, _, u, v, w = y
        speed = (u * u + v * v + w * w) ** 0.5
        ratio = surface / speed
        drag = half * speed * (0.508 + ratio / (22.503 * ratio**2.5 + 4.196) ** 0.4)
        lift = half * speed * ratio / (2.022 * ratio + 0.981)
        a, b, c = axis
        return [
            u,
            v,
            w,
            -drag * u + lift * (b * w - c * v),
            -drag * v + lift * (c * u - a * w),
            -drag * w + lift * (a * v - b * u) - 9.80665,
        ]

    def ground(_t: float, y: np.ndarray) -> float:
        return float(y[2] - ball.radius_m)

    ground.terminal, ground.direction = True, -1  # type: ignore[attr-defined]
    solve_ivp(
        motion, (0, 30), np.concatenate([place, velocity]), method="DOP853", events=ground,
        rtol=1e-8, atol=1e-8,
    )  # fmt: skip


class Kernel:
    """The C kernel, built for this machine."""

    def __init__(self, flown: Launches) -> None:
        folder = tempfile.mkdtemp()
        library = Path(folder) / "kernel.so"
        subprocess.run(
            ["gcc", "-O3", "-march=native", "-shared", "-fPIC", "-o", library, SOURCE, "-lm"],
            check=True,
        )
        self.call = ctypes.CDLL(str(library)).land
        release = flown.release()
        equations = CONDITIONS.equations(release.spin_radps)
        self.count = len(flown)
        self.start = np.ascontiguousarray(np.vstack([release.place_m, release.velocity_mps]).T)
        self.spin = np.ascontiguousarray(np.vstack([equations.axis, equations.surface_mps]).T)
        self.per_m = np.full(self.count, equations.per_m)

    def land(self, step_s: float) -> np.ndarray:
        out = np.empty((self.count, 3))
        pointers = [
            array.ctypes.data_as(ctypes.c_void_p) for array in (self.start, self.spin, self.per_m)
        ]
        self.call(
            ctypes.c_long(self.count), *pointers, ctypes.c_double(CONDITIONS.ball.radius_m),
            ctypes.c_double(step_s), out.ctypes.data_as(ctypes.c_void_p),
        )  # fmt: skip
        return out

    def step_for(self, reference: np.ndarray, worst_m: float) -> float:
        """The longest step whose worst landing is that near to the reference."""
        low, high = 0.005, 0.5
        for _ in range(12):
            middle = (low * high) ** 0.5
            good = gap(self.land(middle), reference) <= worst_m
            low, high = (middle, high) if good else (low, middle)
        return low


def gap(landed: np.ndarray, reference: np.ndarray) -> float:
    return float(np.hypot(*(landed[:, :2] - reference[:, :2]).T).max())


def against_others(slow: int) -> None:
    flown = launches(10_000)
    kernel = Kernel(flown)
    reference = kernel.land(0.001)
    ours = land(flown)
    worst = gap(np.stack([ours.landing_x_m, ours.landing_y_m], axis=1), reference)
    step_s = kernel.step_for(reference, 1e-3)
    mine = theirs = float("inf")
    for _ in range(7):  # interleaved
        mine = min(mine, least(lambda: land(flown), 1))
        theirs = min(theirs, least(lambda: kernel.land(step_s), 1))
    release = flown.release()
    parts = (release.place_m.T, release.velocity_mps.T, release.spin_radps.T)
    some = list(zip(*(part[:slow] for part in parts), strict=True))
    scipy_s = least(lambda: [slow_flight(*one) for one in some], 1) / slow
    print(f"10,000 flights, ours: {mine / 1e4 * 1e6:.2f} us a flight, worst {worst * 1e3:.2f} mm")
    print(
        f"solve_ivp, DOP853, rtol 1e-8 ({slow} of them): {scipy_s * 1e6:.0f} us a flight; "
        f"ours are {scipy_s / (mine / 1e4):.0f} times as many a second (asked: 300)"
    )
    print(
        f"C kernel, RK4 steps of {step_s * 1e3:.0f} ms for 1 mm: {theirs / 1e4 * 1e6:.2f} us a "
        f"flight; ours have {theirs / mine:.2f} of its throughput (asked: 0.5)"
    )


def aimed(count: int, seed: int = 1) -> tuple[Targets, Launches]:
    """Feeds as programs have them, and where their throws land: distinct, all within reach."""
    random = np.random.default_rng(seed)
    thrown = Launches.of(
        random.uniform(12, 35, count),
        random.uniform(0, 30, count),
        random.uniform(-10, 10, count),
        top_rpm=random.uniform(-2500, 2500, count),
        side_rpm=random.uniform(-1000, 1000, count),
        y_m=-12,
    ).thrown_by_wheels()
    flights = land(thrown)
    targets = Targets.of(
        flights.landing_x_m, flights.landing_y_m, thrown.speed_mps,
        top_rpm=thrown.top_rpm, side_rpm=thrown.side_rpm,
    )  # fmt: skip
    return targets, thrown


def aiming() -> None:
    targets, thrown = aimed(1000)
    aim_s = fly_s = float("inf")
    for _ in range(7):
        aim_s = min(aim_s, least(lambda: aim(targets), 1))
        fly_s = min(fly_s, least(lambda: fly(thrown), 1))
    print(
        f"aiming 1,000 feeds: {aim_s * 1e3:.0f} ms, {aim_s / fly_s:.1f} times flying them once "
        "(asked: at most 12)"
    )


def growth() -> None:
    print("cost of aiming, by the number of distinct feeds")
    for count in (10, 100, 1000, 10_000, 100_000):
        targets, _ = aimed(count)
        seconds = least(lambda targets=targets: aim(targets), 3 if count < 100_000 else 1)
        print(f"  {count:>7,}: {seconds:8.3f} s, {seconds / count * 1e6:9.1f} us a feed")


def strayed(launches: Launches, random: np.random.Generator) -> Launches:
    """The same balls, each strayed in speed, elevation, azimuth and both spins."""
    sigmas = {"speed_mps": 0.2, "elevation_deg": 0.25, "azimuth_deg": 0.2, "top_rpm": 50.0,
              "side_rpm": 50.0}  # fmt: skip
    moved = {
        name: getattr(launches, name) + sigma * random.standard_normal(len(launches))
        for name, sigma in sigmas.items()
    }
    return msgspec.structs.replace(launches, **moved).thrown_by_wheels()


def million() -> None:
    """The tester's draws: 1,000,000 scattered balls through landing and bounce."""
    targets, _ = aimed(100)
    aims = aim(targets)
    random = np.random.default_rng(5)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    wall, start = time.perf_counter(), time.process_time()
    balls, bounced, total = 0, 0, np.zeros(2)
    for feed in range(100):
        drawn = strayed(aims.launches.some(np.full(10_000, feed)), random)
        flights = land(drawn, CONDITIONS)
        release = rebound(flights, CONDITIONS, SURFACES["hard"]).release
        balls += len(drawn)
        bounced += int(np.isfinite(release.velocity_mps[2]).sum())
        total += [flights.landing_x_m.sum(), flights.landing_y_m.sum()]
    seconds, wall = time.process_time() - start, time.perf_counter() - wall
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(
        f"{balls:,} scattered balls, {bounced:,} landed and bounced: {seconds:.1f} s of processor "
        f"time ({wall:.1f} s by the clock), peak memory of the process {most / 1024:.0f} MB "
        f"({before / 1024:.0f} MB before; asked: under 500)"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--slow-flights", type=int, default=300, help="flights by solve_ivp")
    print(f"Python {platform.python_version()}, numpy {np.__version__}, {platform.processor()}")
    slow = parser.parse_args().slow_flights
    million()  # first: the peak of memory is the process's
    against_others(slow)
    aiming()
    growth()


if __name__ == "__main__":
    main()
