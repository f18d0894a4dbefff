"""``feedscript stand-in``: a simulated launcher to try things on."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from feedscript.cli.options import (
    GARAGE,
    fault_option,
    format_option,
    launcher_option,
    scatter_seed_option,
)
from feedscript.cli.output import Exit, refuse, tell
from feedscript.cli.prove.named_faults import striking_options
from feedscript.cli.setting_up.link import profile_at
from feedscript.launcher.port import LauncherError
from feedscript.launcher.tools import tool

if TYPE_CHECKING:
    from feedscript.launcher.trials.trial import Trial


@click.command("stand-in")
@click.option("--pty", "on_pty", is_flag=True, help="On a pseudo-terminal, like a serial port.")
@click.option(
    "--tcp", "tcp_port", type=click.IntRange(0, 65535), metavar="PORT", help="On a TCP port here."
)
@click.option(
    "--unkeyed",
    is_flag=True,
    help="With --tcp: without a key, as on a cable; only a host on this machine believes it.",
)
@launcher_option(GARAGE)
@scatter_seed_option
@click.option(
    "--arms-by-itself",
    is_flag=True,
    help="A simulated person fills the hopper and turns the arming switch two seconds after it is "
    "asked for. Without this, type `a` and Enter here: the person at the launcher is you.",
)
@fault_option
@striking_options
@format_option
def command(
    on_pty: bool,
    tcp_port: int | None,
    unkeyed: bool,
    launcher: Path | None,
    scatter_seed: int,
    arms_by_itself: bool,
    faults: tuple[str, ...],
    trials: tuple[Trial, ...],
    output_format: str,
) -> None:
    """Be a launcher: wheels with inertia, a hopper, a watchdog, and balls that fly by the model.

    Prints the address to use with --on, then what the launcher does: each ball that leaves and
    where it lands, each change of state, each stop of its own. Ends with Ctrl-C.
    """
    if on_pty + (tcp_port is not None) != 1:
        raise click.UsageError("say where: --pty or --tcp PORT")
    if unkeyed and tcp_port is None:
        raise click.UsageError("--unkeyed goes with --tcp PORT")
    try:
        options = tool("stand-in-options")(
            profile=profile_at(launcher, output_format),
            tcp_port=tcp_port,
            unkeyed=unkeyed,
            seed=scatter_seed,
            arms_by_itself=arms_by_itself,
            faults=faults,
            trials=trials,
            as_json=output_format == "json",
        )
        tool("stand-in")(options, tell)
    except LauncherError as error:
        refuse(Exit.LAUNCHER, [error.diagnostic], output_format)
