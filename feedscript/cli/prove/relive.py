"""``feedscript relive``: a capture played back to the present driver."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click
import msgspec

from feedscript.check.check_program import Options, check_program
from feedscript.cli.names import PROGRAM
from feedscript.cli.options import (
    OF_THE_PROGRAM,
    capture_option,
    format_option,
    launcher_option,
    library_option,
    seed_option,
)
from feedscript.cli.output import Exit, leave, print_json, refuse, tell
from feedscript.cli.prove.named_faults import striking_options
from feedscript.diagnostics import FeedscriptError
from feedscript.formats import headed
from feedscript.launcher.port import LauncherError
from feedscript.shipped import program_path

if TYPE_CHECKING:
    from feedscript.bench.relived import Parted
    from feedscript.launcher.trials.trial import Trial


@click.command()
@click.argument("file", type=PROGRAM)
@capture_option("what is lived through again; once for each launcher.", multiple=True)
@striking_options
@launcher_option(OF_THE_PROGRAM)
@library_option
@seed_option
@format_option
def command(
    file: str,
    capture: tuple[Path, ...],
    trials: tuple[Trial, ...],
    launcher: Path | None,
    library: Path | None,
    seed: int | None,
    output_format: str,
) -> None:
    """Live FILE's lesson through again: its captures are the launchers, and answer at the pace at
    which they did. Every decision of the present engine and driver is held to the one of then:
    arming, each ball with its setting and moment, hold, stop.

    Exits 0 where all are the same, and 1 with the first that is not.
    """
    path = program_path(file, library)
    verdict = check_program(path, Options(launcher=launcher, seed=seed, library=library))
    if not verdict.ok or verdict.plan is None:
        refuse(Exit.PROGRAM, verdict.diagnostics, output_format, verdict.sources)
    if len(capture) != len(verdict.plan.launchers):
        count = len(verdict.plan.launchers)
        raise click.UsageError(f"the program has {count} launchers: give --capture for each")
    from feedscript.bench.relived import relive

    try:
        parted = relive(verdict.plan, verdict.profiles, str(path), capture, trials)
    except LauncherError as failed:
        refuse(Exit.LAUNCHER, [failed.diagnostic], output_format)
    except FeedscriptError as failed:
        refuse(Exit.PROGRAM, [failed.diagnostic], output_format)
    if output_format == "json":
        print_json(headed("relive", {"ok": not parted, "parted": msgspec.to_builtins(parted)}))
    else:
        _tell(parted, [one.name for one in verdict.plan.launchers])
    leave(Exit.PROGRAM if parted else Exit.FINE)


def _tell(parted: tuple[Parted, ...], launchers: list[str]) -> None:
    if not parted:
        tell("every decision is the one of then", fg="green")
    for one in parted:
        name = f"{launchers[one.launcher]}: " if len(launchers) > 1 else ""
        tell(f"{name}decision {one.decision}, {one.at_s:.3f} s", fg="red")
        tell(f"  then: {one.then}")
        tell(f"  now:  {one.now}")
        if one.undecided:
            tell(f"  undecided from here: {one.undecided}")
