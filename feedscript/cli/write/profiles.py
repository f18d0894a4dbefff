"""``feedscript profiles``: the launchers' profiles that come with feedscript, and a copy of one."""

from __future__ import annotations

from pathlib import Path

import click

from feedscript.cli.copied import copied
from feedscript.cli.names import PROFILE
from feedscript.cli.options import FOLDER, format_option, out_option
from feedscript.cli.output import Exit, answer, leave, tell
from feedscript.diagnostics import as_json
from feedscript.documents.shipped import schema_text
from feedscript.formats import headed
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.shipped import profile_path, shipped_profiles


@click.command()
@click.option(
    "--copy", "name", type=PROFILE, help="Copy this profile into a folder, to put your figures in."
)
@out_option("the folder to copy into; without it, this one.", kind=FOLDER)
@format_option
def command(name: str | None, out: Path | None, output_format: str) -> None:
    """List the launchers' profiles that come with feedscript, or copy one to make it yours.

    All of them are invented examples: a profile holds for a launcher only with figures measured
    there.
    """
    if name is not None:
        _copy(name, out or Path())
        return
    readings = {path.stem: read_profile(path) for path in shipped_profiles().values()}
    plain = [
        {
            "name": name,
            "file": reading.source,
            "title": "" if reading.profile is None else reading.profile.name,
            "diagnostics": [as_json(one) for one in reading.diagnostics],
        }
        for name, reading in readings.items()
    ]
    width = max(map(len, readings))
    rows = [f"{row['name']:<{width}}  {row['title']}" for row in plain]
    answer(output_format, headed("profiles", {"profiles": plain}), "\n".join(rows))
    leave(Exit.FINE)


def _copy(name: str, folder: Path) -> None:
    source = profile_path(name)
    if source not in shipped_profiles().values():
        known = ", ".join(path.stem for path in shipped_profiles().values())
        raise click.UsageError(f"no profile is called {name!r}; there are: {known}")
    target = copied(source, folder, schema=("profile", schema_text("profile")))
    tell(f"copied to {target}; put in what you have measured, then: --launcher {target}")
