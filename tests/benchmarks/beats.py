"""What a heartbeat costs: driver and codec at both ends, an armed stand-in, on a clock that leaps.

Run by hand: `python tests/benchmarks/beats.py [--beats N] [--rounds N]`. Prints the processor's
time of a beat, least and median of the rounds.
"""

from __future__ import annotations

import argparse
import statistics
import time

import anyio
import trio
from feedscript_drivers.wire.protocol import Times
from feedscript_simulator.links.in_process import SimLauncher, connect

from feedscript.launcher.port import ConnectOptions, LauncherState
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.session.rehearsal.leaping_clock import LeapingClock
from feedscript.shipped import shipped_folder


async def beat_s(beats: int) -> float:
    """Processor seconds of a beat, of so many."""
    profile = read_profile(shipped_folder() / "launchers" / "garage.toml").profile
    assert profile is not None
    async with connect("", ConnectOptions(profile=profile, session=5)) as launcher:
        assert isinstance(launcher, SimLauncher)
        await launcher.arm((3000.0, 3000.0, 0.0))
        await anyio.sleep(5.0)  # its person arms it
        before_s = time.process_time()
        await anyio.sleep(beats * Times.HEARTBEAT / 1000)
        took_s = time.process_time() - before_s
        assert launcher.pulse.state is LauncherState.ARMED, "it stopped, so it heard no beats"
    return took_s / beats


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--beats", type=int, default=3000)
    asked.add_argument("--rounds", type=int, default=9)
    options = asked.parse_args()
    taken = [trio.run(beat_s, options.beats, clock=LeapingClock()) for _ in range(options.rounds)]
    print(f"least {min(taken) * 1e6:.0f}, median {statistics.median(taken) * 1e6:.0f} µs a beat")


if __name__ == "__main__":
    main()
