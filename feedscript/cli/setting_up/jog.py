"""``feedscript jog``: move a launcher by hand, a line at a time."""

from __future__ import annotations

import sys
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click
import msgspec

from feedscript.cli.options import GARAGE, format_option, launcher_option, on_option
from feedscript.cli.output import Exit, leave, print_diagnostics, tell
from feedscript.cli.setting_up.link import way_to
from feedscript.diagnostics import Diagnostic, as_json
from feedscript.formats import headed
from feedscript.launcher.faults import fault_words, where_to_look
from feedscript.launcher.kinematics import drive_names, drive_range
from feedscript.launcher.port import (
    CommandRefusedError,
    Fault,
    Gauged,
    GivenUpError,
    LauncherError,
    LauncherPort,
    Left,
    LinkLost,
    NotSent,
    OutcomeUnknown,
    ScheduledFeed,
    StateChanged,
    StopCategory,
)
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.setting import Setting
from feedscript.session.operator.jog import (
    HELP,
    JogAct,
    act_in,
    first_wish,
    read_line,
    setting_of,
    taken_back,
)

if TYPE_CHECKING:
    import anyio

_FEED_IN_S = 3.0
_T = TypeVar("_T")


@click.command()
@on_option()
@launcher_option(GARAGE)
@format_option
def command(url: str, launcher: Path | None, output_format: str) -> None:
    """Set speed, spin and aim by hand, and send single balls, within every limit.

    Stand behind the launcher, with nobody in front of it. Lines are read from standard input and
    done one after another; a stop, a hold or the end waits for none of them, and what would move
    the launcher and still waits is not done any more. The end of input stops the launcher, as
    leaving in any way does. As JSON, one object a line.
    """
    import anyio

    connect, profile = way_to(url, launcher, output_format)
    told = _Told(as_json=output_format == "json")

    async def jog() -> None:
        async with connect() as port, anyio.create_task_group() as tasks:
            tasks.start_soon(_tell, port, told)
            await _obey_lines(port, profile, told)
            tasks.cancel_scope.cancel()

    try:
        anyio.run(jog)
    except LauncherError as error:
        told.trouble(error.diagnostic)
        leave(Exit.LAUNCHER)


class _Told(msgspec.Struct, frozen=True):
    """How what happens is told: words for people, or one JSON object a line."""

    as_json: bool

    def say(self, words: str, facts: object) -> None:
        plain = headed("jog-line", msgspec.to_builtins(facts))
        tell(msgspec.json.encode(plain).decode() if self.as_json else words)

    def trouble(self, diagnostic: Diagnostic) -> None:
        if self.as_json:
            self.say("", {"diagnostics": [as_json(diagnostic)]})
        else:
            print_diagnostics([diagnostic], {})


async def _tell(launcher: LauncherPort, told: _Told) -> None:
    """Print what the launcher does."""
    async for event in launcher.events():
        match event:
            case StateChanged(state=state, reason=reason):
                words = f"{state} ({reason})"
            case Left(feed_id=feed_id):
                words = f"ball {feed_id} left"
            case NotSent(feed_id=feed_id, reason=reason):
                words = f"ball {feed_id} was not sent ({reason})"
            case OutcomeUnknown(feed_id=feed_id, reason=reason):
                words = f"whether ball {feed_id} left is not known ({reason})"
            case Gauged():
                continue  # `status` tells it
            case Fault(kind=kind, detail=detail):
                words = f"fault: {fault_words(kind, detail)}"
                look = where_to_look(kind, detail)
                words += f"; {look}" if look else ""
            case LinkLost(detail=detail):
                words = f"the link is lost: {detail}"
            case _:
                words = type(event).__name__
        told.say("  " + words, event)


#: What waits for no line before it, and takes back what would move the launcher and still waits.
_AT_ONCE = (JogAct.STOP, JogAct.EMERGENCY, JogAct.HOLD, JogAct.QUIT)
#: What moves the launcher, or lets it be moved.
_MOVES = (JogAct.ARM, JogAct.MOVE, JogAct.FEED, JogAct.GO_ON)


async def _obey_lines(launcher: LauncherPort, profile: Profile, told: _Told) -> None:
    """Read on whatever is being done: a stop, a hold or the end is never behind another line."""
    import anyio
    import anyio.to_thread

    told.say(HELP, {"help": HELP})
    hand = _Hand(launcher, profile, told)
    async with anyio.create_task_group() as tasks:
        tasks.start_soon(hand.do_waiting)
        while True:
            line = await anyio.to_thread.run_sync(sys.stdin.readline, abandon_on_cancel=True)
            act = act_in(line) if line else JogAct.QUIT
            if act in _AT_ONCE:
                hand.take_back(act)
            if act is JogAct.QUIT:
                break
            if act in _AT_ONCE:
                tasks.start_soon(hand.try_to, hand.do, act)
            else:
                hand.wait_for(line)
        await hand.try_to(hand.do, JogAct.STOP)
        await hand.done.wait()
        tasks.cancel_scope.cancel()


class _Hand:
    """The lines that wait, done one after another, and what is wished so far."""

    def __init__(self, launcher: LauncherPort, profile: Profile, told: _Told) -> None:
        import anyio

        self._launcher = launcher
        self._profile = profile
        self._told = told
        self._wish, self._feed_id = first_wish(profile), 0
        self._waiting: list[str] = []
        self._come, self.done = anyio.Event(), anyio.Event()
        self._moving: anyio.CancelScope | None = None

    def wait_for(self, line: str) -> None:
        """To be done after all others."""
        import anyio

        if self.done.is_set():
            self.done = anyio.Event()
        self._waiting.append(line)
        self._come.set()

    def take_back(self, act: JogAct) -> None:
        """What moves the launcher is not done any more."""
        for line in self._waiting:
            if act_in(line) in _MOVES:
                self._told.trouble(taken_back(line, act))
        self._waiting = [line for line in self._waiting if act_in(line) not in _MOVES]
        if self._moving is not None:
            self._moving.cancel()

    async def do_waiting(self) -> None:
        """As they come, one after another."""
        import anyio

        while True:
            self._come = anyio.Event()
            while self._waiting:
                await self.try_to(self._obey, self._waiting.pop(0))
            self.done.set()
            await self._come.wait()

    async def try_to(self, do: Callable[[_T], Awaitable[None]], what: _T) -> None:
        """Do it, and tell where it is refused, or was overtaken by a stop or hold."""
        try:
            await do(what)
        except (CommandRefusedError, GivenUpError) as error:
            self._told.trouble(error.diagnostic)

    async def _obey(self, line: str) -> None:
        import anyio

        step = read_line(line, self._wish)
        if isinstance(step, Diagnostic):
            self._told.trouble(step)
        elif not isinstance(step, JogAct):
            self._wish = step
        elif step not in _MOVES:
            await self.do(step)
        else:
            with anyio.CancelScope() as self._moving:
                await self._move(step)
            self._moving = None

    async def _move(self, step: JogAct) -> None:
        if step not in (JogAct.MOVE, JogAct.FEED):
            await self.do(step)
            return
        setting = setting_of(self._profile, self._wish)
        if isinstance(setting, Diagnostic):
            self._told.trouble(setting)
        elif step is JogAct.MOVE:
            await self._launcher.prepare(setting)
        else:
            self._feed_id += 1
            await _feed(self._launcher, self._feed_id, setting, self._told)

    async def do(self, step: JogAct) -> None:
        """Whatever needs no setting; a stop is never kept from the launcher by a wish."""
        await _do(self._launcher, step, self._profile, self._told)


async def _do(launcher: LauncherPort, step: JogAct, profile: Profile, told: _Told) -> None:
    match step:
        case JogAct.ARM:
            most = drive_range(profile.drive).most
            await launcher.arm((most,) * len(drive_names(profile.drive)))
            words = "now turn the arming switch at the launcher"
            told.say("  " + words, {"person": words})
        case JogAct.HOLD:
            await launcher.hold()
        case JogAct.GO_ON:
            await launcher.go_on()
        case JogAct.STOP:
            await launcher.stop(StopCategory.RUN_DOWN)
        case JogAct.EMERGENCY:
            await launcher.stop(StopCategory.POWER_OFF)
        case JogAct.STATUS:
            status = await launcher.status()
            drives = ", ".join(f"{drive:.0f}" for drive in status.drives)
            sensed = [] if status.supply_v is None else [f"supply {status.supply_v:.1f} V"]
            if status.temperature_c is not None:
                sensed.append(f"motor {status.temperature_c:.0f} °C")
            facts = [f"{status.state.value} ({status.reason})", f"drives {drives}", *sensed]
            told.say("  " + ", ".join(facts), status)


async def _feed(launcher: LauncherPort, feed_id: int, setting: Setting, told: _Told) -> None:
    import anyio

    clock = await launcher.measure_clock()
    leave_at = anyio.current_time() + clock.offset_s + _FEED_IN_S
    feed = ScheduledFeed(feed_id=feed_id, setting=setting, leave_at_device_s=leave_at)
    await launcher.schedule(feed)
    told.say(f"  a ball leaves in {_FEED_IN_S:g} s", {"feed_id": feed_id, "in_s": _FEED_IN_S})
