"""A test of the link without balls: each part with its figure and its verdict."""

from __future__ import annotations

import statistics
from collections.abc import AsyncIterator, Awaitable, Callable
from typing import Final

import anyio
from msgspec import Struct

from feedscript.launcher.port import (
    CommandRefusedError,
    LauncherPort,
    LauncherState,
    StopCategory,
)
from feedscript_drivers.wire.protocol import Times
from feedscript_drivers.wire.wire_launcher import WireLauncher

_TRIPS: Final = 200
_SLOW_S: Final = 0.15  # an answer later than this is repeated by the driver
_MOST_LOSS: Final = 0.02
_PERSON_S: Final = 30.0
_SILENCE: Final = "silence of the host"
_EMERGENCY_STOP: Final = "emergency stop at the launcher"
S = LauncherState


class Part(Struct, frozen=True):
    """One part of the check."""

    name: str
    figure: str
    fine: bool
    help: str = ""


Ask = Callable[[str], Awaitable[None]]


async def check_link(launcher: LauncherPort, ask: Ask, *, person: bool) -> AsyncIterator[Part]:
    """Every part in turn. Without a ``person`` at the launcher the two that arm it are left out.

    ``ask`` tells the person what to do. No ball is fed: nothing is ever scheduled.
    """
    yield await _latency(launcher)
    yield _loss(launcher)
    if isinstance(launcher, WireLauncher):
        yield await _spoilt_since_power(launcher)
    yield await _clock(launcher)
    yield await _stop(launcher)
    if person and isinstance(launcher, WireLauncher):
        for name, part in _ARMED_PARTS.items():
            try:
                yield await part(launcher, ask)
            except CommandRefusedError as error:
                yield _refused(name, error)


async def _latency(launcher: LauncherPort) -> Part:
    trips = []
    for _ in range(_TRIPS):
        began = anyio.current_time()
        await launcher.status()
        trips.append(anyio.current_time() - began)
    cuts = statistics.quantiles(trips, n=100)
    figure = f"median {cuts[49] * 1e3:.1f} ms, 99th percentile {cuts[98] * 1e3:.1f} ms"
    return Part(
        "round trip of a status",
        figure,
        cuts[98] < _SLOW_S,
        help="a shorter or shielded cable, another port, nearer by radio, "
        "or less that runs beside it on this computer",
    )


def _loss(launcher: LauncherPort) -> Part:
    if not isinstance(launcher, WireLauncher):
        return Part("lines lost or spoilt", "cannot be told for this driver", True)
    counters = launcher.link.counters
    share = (counters.repeated + counters.refused) / _TRIPS
    figure = f"{counters.repeated} repeated, {counters.refused} spoilt, of {_TRIPS}"
    return Part("lines lost or spoilt", figure, share <= _MOST_LOSS, help="look at the cable")


async def _spoilt_since_power(launcher: WireLauncher) -> Part:
    """What the launcher counted: also what came while its wheels turned, in another session."""
    reply = await launcher.link.command("CNTS")
    spoilt, longer = int(reply.arguments[0]), int(reply.arguments[3])
    figure = f"{spoilt} spoilt, {longer} too long"
    return Part("lines that came spoilt to the launcher since it was switched on", figure, True)


async def _clock(launcher: LauncherPort) -> Part:
    reading = await launcher.measure_clock()
    figure = f"known to {reading.uncertainty_s * 1e3:.1f} ms"
    return Part(
        "the launcher's clock",
        figure,
        reading.uncertainty_s < 0.02,
        help="balls leave by the launcher's clock; this only shifts all of them alike",
    )


async def _stop(launcher: LauncherPort) -> Part:
    began = anyio.current_time()
    await launcher.stop(StopCategory.RUN_DOWN)
    took = anyio.current_time() - began
    figure = f"acknowledged in {took * 1e3:.1f} ms"
    return Part("stop", figure, took < Times.COMMAND_AGAIN / 1000, help="look at the cable")


async def _wait_for(launcher: WireLauncher, states: frozenset[LauncherState], most_s: float) -> S:
    with anyio.move_on_after(most_s):
        while launcher.pulse.state not in states:
            launcher.pulse.hurry()
            await anyio.sleep(0.02)
    return launcher.pulse.state


async def _arm(launcher: WireLauncher, ask: Ask) -> bool:
    await launcher.disarm()  # whatever the part before left behind
    await _wait_for(launcher, frozenset((S.SAFE,)), 1.0)
    await launcher.arm((0.0, 0.0, 0.0))  # under a ceiling of nothing: no drive may turn
    await ask("turn the arming switch off and on; no drive will turn")
    return await _wait_for(launcher, frozenset((S.ARMED,)), _PERSON_S) is S.ARMED


def _refused(name: str, error: CommandRefusedError) -> Part:
    """A launcher that latched an emergency stop refuses the rest. Nobody has to have pressed it:
    a byte that a bad line spoils can be read as the emergency character."""
    told = error.diagnostic
    return Part(name, f"not tried: {told.message}", False, help=told.help or "look at the cable")


async def _watchdog(launcher: WireLauncher, ask: Ask) -> Part:
    name = _SILENCE
    if not await _arm(launcher, ask):
        return Part(name, "nobody armed the launcher", False, help="repeat and turn the switch")
    launcher.pulse.mute = True
    began = anyio.current_time()
    most_s = Times.WATCHDOG / 1000
    while anyio.current_time() < began + 2 * most_s:
        # A question is no heartbeat: only what the host echoes of the clock counts as life.
        status = await launcher.status()
        if status.state is not S.ARMED:
            break
        await anyio.sleep(0.02)
    took_s = anyio.current_time() - began
    launcher.pulse.mute = False
    figure = f"{status.state.value} after {took_s:.2f} s of at most {most_s:g} s"
    fine = status.state in (S.SAFE, S.STOPPING) and took_s <= most_s
    return Part(name, figure, fine, help="do not use this launcher: it does not stop by itself")


async def _emergency(launcher: WireLauncher, ask: Ask) -> Part:
    name = _EMERGENCY_STOP
    if not await _arm(launcher, ask):
        return Part(name, "nobody armed the launcher", False, help="repeat and turn the switch")
    await ask("press the emergency stop")
    state = await _wait_for(launcher, frozenset((S.STOPPED,)), _PERSON_S)
    figure = "latched" if state is S.STOPPED else f"not seen; the launcher is {state.value}"
    await ask("release it, and turn the arming switch off")
    return Part(name, figure, state is S.STOPPED, help="do not use this launcher before it works")


#: The parts that arm the launcher, under a ceiling of nothing.
_ARMED_PARTS: Final = {_SILENCE: _watchdog, _EMERGENCY_STOP: _emergency}
