"""``feedscript jog``: move a launcher by hand, a line at a time."""

from __future__ import annotations

import secrets
import sys
from pathlib import Path

import click

from feedscript.cli.launcher_choice import profile_option, read_profile_or_leave
from feedscript.cli.output import Exit, leave, print_diagnostics
from feedscript.diagnostics import Diagnostic
from feedscript.launcher.discovery import driver_for
from feedscript.launcher.kinematics import drive_names, drive_range
from feedscript.launcher.port import (
    CommandRefusedError,
    ConnectOptions,
    LauncherError,
    LauncherPort,
    ScheduledFeed,
    StopCategory,
)
from feedscript.launcher.profile import Profile
from feedscript.launcher.setting import Setting
from feedscript.session.jog import HELP, Do, first_wish, read_line, setting_of

_FEED_IN_S = 3.0


@click.command()
@click.argument("url")
@profile_option
def command(url: str, profile: Path | None) -> None:
    """Set speed, spin and aim by hand, and send single balls, within every limit.

    Stand behind the launcher, with nobody in front of it. Lines are read from standard input;
    the end of input stops the launcher, as leaving in any way does.
    """
    import anyio

    found = driver_for(url)
    if isinstance(found, Diagnostic):
        print_diagnostics([found], {})
        leave(Exit.LAUNCHER)
    connect, address = found
    known = read_profile_or_leave(profile)
    options = ConnectOptions(profile=known, session=secrets.randbits(32))

    async def jog() -> None:
        async with connect(address.rest, options) as launcher, anyio.create_task_group() as tasks:
            tasks.start_soon(_tell, launcher)
            await _obey_lines(launcher, known)
            tasks.cancel_scope.cancel()

    try:
        anyio.run(jog)
    except LauncherError as error:
        print_diagnostics([error.diagnostic], {})
        leave(Exit.LAUNCHER)


async def _tell(launcher: LauncherPort) -> None:
    """Print what the launcher does."""
    async for event in launcher.events():
        facts = [str(getattr(event, name, "")) for name in ("state", "feed_id", "kind", "reason")]
        click.echo(f"  {type(event).__name__} {' '.join(fact for fact in facts if fact)}")


async def _obey_lines(launcher: LauncherPort, profile: Profile) -> None:
    import anyio.to_thread

    click.echo(HELP)
    wish, feed_id = first_wish(profile), 0
    while True:
        line = await anyio.to_thread.run_sync(sys.stdin.readline, abandon_on_cancel=True)
        step = read_line(line, wish) if line else Do.QUIT
        if step is Do.QUIT:
            return
        if isinstance(step, Diagnostic):
            print_diagnostics([step], {})
            continue
        if not isinstance(step, Do):
            wish = step
            continue
        try:
            if step not in (Do.MOVE, Do.FEED):
                await _do(launcher, step, profile)
                continue
            setting = setting_of(profile, wish)
            if isinstance(setting, Diagnostic):
                print_diagnostics([setting], {})
            elif step is Do.MOVE:
                await launcher.prepare(setting)
            else:
                feed_id += 1
                await _feed(launcher, feed_id, setting)
        except CommandRefusedError as error:
            print_diagnostics([error.diagnostic], {})


async def _do(launcher: LauncherPort, step: Do, profile: Profile) -> None:
    """Whatever needs no setting; a stop is never kept from the launcher by a wish."""
    match step:
        case Do.ARM:
            most = drive_range(profile.drive).most
            await launcher.arm((most,) * len(drive_names(profile.drive)))
            click.echo("  now turn the arming switch at the launcher")
        case Do.HOLD:
            await launcher.hold()
        case Do.GO_ON:
            await launcher.go_on()
        case Do.STOP:
            await launcher.stop(StopCategory.RUN_DOWN)
        case Do.EMERGENCY:
            await launcher.stop(StopCategory.POWER_OFF)
        case Do.STATUS:
            status = await launcher.status()
            drives = ", ".join(f"{drive:.0f}" for drive in status.drives)
            click.echo(f"  {status.state.value} ({status.reason}), drives {drives}")


async def _feed(launcher: LauncherPort, feed_id: int, setting: Setting) -> None:
    import anyio

    clock = await launcher.measure_clock()
    leave_at = anyio.current_time() + clock.offset_s + _FEED_IN_S
    await launcher.schedule(
        ScheduledFeed(feed_id=feed_id, setting=setting, leave_at_device_s=leave_at)
    )
    click.echo(f"  a ball leaves in {_FEED_IN_S:g} s")
