"""The stand-in as a program: what ``feedscript stand-in`` runs."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager
from typing import TypeAlias

import anyio
from feedscript_drivers.setting_up.keys import keep_key, new_key
from msgspec import Struct

from feedscript.diagnostics import Page
from feedscript.host.ended_by import EndedBy
from feedscript.host.endings import endings
from feedscript.host.keyboard import typed
from feedscript.launcher.port import LauncherError, LauncherState
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.trials.trial import Trial
from feedscript_simulator.balls import Balls
from feedscript_simulator.faults import UNKNOWN_FAULT, LineFaults, read_faults
from feedscript_simulator.links.on_tcp import on_tcp
from feedscript_simulator.log import Log
from feedscript_simulator.stand_in import StandIn, build

KEYS_HELP = "a turns the arming switch on, o turns it off, e presses or releases the emergency stop"


NO_PTY = Page(
    slug="no-pty",
    title="A system without pseudo-terminals",
    why=(
        "The stand-in looks like a serial port where the system can give a program a "
        "pseudo-terminal: Linux and macOS can, Windows cannot. Over TCP it is the same launcher, "
        "behind the same wire."
    ),
)


#: Carries the bytes of a simulated launcher by radio, and says under which name it is found.
Radio: TypeAlias = Callable[[StandIn], AbstractAsyncContextManager[str]]


class StandInOptions(Struct, frozen=True):
    """On a pty, unless a TCP port or a radio is asked for."""

    profile: Profile
    tcp_port: int | None = None
    radio: Radio | None = None
    unkeyed: bool = False  # on a TCP port: as a cable would be, for @unkeyed
    seed: int = 0
    arms_by_itself: bool = False
    faults: tuple[str, ...] = ()
    trials: tuple[Trial, ...] = ()  # named faults; those of coach and players are the host's
    as_json: bool = False


def serve(options: StandInOptions, say: Callable[[str], None]) -> None:
    """Run until interrupted. Raises LauncherError for faults that are not known."""
    anyio.run(_serve, options, say)


async def _serve(options: StandInOptions, say: Callable[[str], None]) -> None:
    faults = read_faults(options.faults)
    if faults.cut_at is not None:
        raise LauncherError(
            UNKNOWN_FAULT.report(
                "`cut` is for rehearsals: this line is a real one",
                help="end this command, to cut it",
            )
        )
    log = Log(Balls(options.profile, options.seed), options.as_json, say)
    cable = options.unkeyed or (options.tcp_port is None and options.radio is None)
    stand_in = build(
        options.profile,
        seed=options.seed,
        faults=faults,
        trials=options.trials,
        powered_s=anyio.current_time(),
        arms_by_itself=options.arms_by_itself,
        cable=cable,
        key=None if cable else _pair(options.profile),
        watch=log.watch,
        # A network host must not take this run for one of before.
        boots=int.from_bytes(os.urandom(3), "big"),
    )
    log.stand_in = stand_in
    # From the first word on that it is there, Ctrl-C ends it in order.
    with endings() as asked:
        await _serve_until(asked, options, stand_in, log)
    log.tell("end", f"{len(stand_in.departures)} balls left", balls=len(stand_in.departures))


async def _serve_until(
    asked: AsyncIterator[EndedBy], options: StandInOptions, stand_in: StandIn, log: Log
) -> None:
    async with _carried(options, stand_in) as address, anyio.create_task_group() as tasks:
        log.tell("ready", f"use --on {address}", address=address)
        if not options.arms_by_itself:
            log.tell("keys", f"keys, each with Enter: {KEYS_HELP}")
        tasks.start_soon(_keys, stand_in, log)
        await anext(asked)
        tasks.cancel_scope.cancel()


def _pair(profile: Profile) -> bytes:
    """A network link needs a key: pair with this user, as a person does over the cable."""
    key = new_key()
    keep_key(profile.serial or "stand-in", key)
    return key


@contextlib.asynccontextmanager
async def _carried(options: StandInOptions, stand_in: StandIn) -> AsyncIterator[str]:
    where: AbstractAsyncContextManager[str]
    line = read_faults(options.faults).line
    if options.radio is not None:
        scheme, where = "ble", options.radio(stand_in)
    elif options.tcp_port is None:
        scheme, where = "serial", _on_pty(stand_in, line)
    else:
        scheme, where = "tcp", on_tcp(stand_in, options.tcp_port, line)
    async with where as address:
        yield f"{scheme}:{address}" + ("@unkeyed" if options.unkeyed else "")


def _on_pty(stand_in: StandIn, line: LineFaults) -> AbstractAsyncContextManager[str]:
    """Raises LauncherError where the system has no pseudo-terminals."""
    if sys.platform == "win32":
        raise LauncherError(
            NO_PTY.report(
                "Windows has no pseudo-terminals that a serial driver can open",
                help="use --tcp PORT; with --unkeyed it needs no key, as on a cable",
            )
        )
    from feedscript_simulator.links.on_pty import on_pty

    return on_pty(stand_in, line)


async def _keys(stand_in: StandIn, log: Log) -> None:
    """Read keys from standard input, line by line, until it ends."""
    rest = b""
    async with typed() as read:
        while data := await read():
            *lines, rest = (rest + data).split(b"\n")
            for line in lines:
                _press(line.strip().decode("ascii", "replace"), stand_in, log)


def _press(key: str, stand_in: StandIn, log: Log) -> None:
    now_s = anyio.current_time()
    stand_in.advance(now_s)
    machine = stand_in.end.machine
    match key:
        case "a":
            stand_in.person.turn_key(now_s)
        case "o":
            machine.turn_switch(False)
        case "e":
            machine.press_emergency(not machine.emergency_input)
        case "":
            return
        case _:
            log.tell("keys", f"not a key; {KEYS_HELP}")
    if key == "a" and machine.state is not LauncherState.ARMED:
        log.tell("keys", "the switch is on; it arms only while the launcher waits for it")
    stand_in.advance(now_s)
    stand_in.changed()
