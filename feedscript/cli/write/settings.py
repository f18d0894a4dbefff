"""``feedscript settings``: what holds where a command is not told, and who says so."""

from __future__ import annotations

import click

from feedscript.cli.options import format_option
from feedscript.cli.output import Exit, answer, refuse
from feedscript.diagnostics import FeedscriptError
from feedscript.formats import headed
from feedscript.own_library import usual_library
from feedscript.settings import PROJECT_FILE, VARIABLES, Set, project_file, settings, user_file

_USUALLY = {
    "launcher": "the one that the program names, else garage",
    "language": "en",
    "units": "metric",
}


@click.command("settings")
@format_option
def command(output_format: str) -> None:
    """Show what holds where a command is not told, and where that is set.

    An option counts first, then the environment, then feedscript.toml in this folder or the
    nearest one above, then your own settings file.
    """
    try:
        found = settings()
    except FeedscriptError as wrong:
        refuse(Exit.USAGE, [wrong.diagnostic], output_format)
    usually = {**_USUALLY, "library": str(usual_library())}
    shown = {name: found.get(name, Set(usually[name], "")) for name in VARIABLES}
    project = project_file()
    plain = {
        "settings": {
            name: {"value": one.value, "from": one.where or None} for name, one in shown.items()
        },
        "user_file": str(user_file()),
        "project_file": None if project is None else str(project),
    }
    width = max(map(len, VARIABLES))
    rows = [
        f"{name:<{width}}  {one.value}  ({one.where or 'not set'}; variable {VARIABLES[name]})"
        for name, one in shown.items()
    ]
    here = project or f"none ({PROJECT_FILE} in this folder or above)"
    rows += [f"your own file: {user_file()}", f"the project's: {here}"]
    answer(output_format, headed("settings", plain), "\n".join(rows))
