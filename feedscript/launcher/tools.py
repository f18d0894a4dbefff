"""Programs that drivers bring along, found by entry point as launchers are.

The names of the group are what the command line asks for; feedscript never imports a driver.
"""

from __future__ import annotations

from importlib.metadata import entry_points
from typing import Any

from feedscript.diagnostics import Page
from feedscript.launcher.port import LauncherError

TOOL_GROUP = "feedscript.tools"

TOOL_MISSING = Page(
    slug="tool-missing",
    title="A part of feedscript that is not installed",
    why="Drivers and the stand-in announce themselves by entry points; this one did not.",
)


def tool(name: str) -> Any:
    """What the entry point names. Raises LauncherError when it is missing or cannot be loaded."""
    for entry in entry_points(group=TOOL_GROUP, name=name):
        try:
            return entry.load()
        except ImportError as error:
            raise LauncherError(
                TOOL_MISSING.report(
                    f"{entry.value} cannot be loaded: {error}",
                    help="install the extra that brings it, for instance `feedscript[ble]`",
                )
            ) from error
    raise LauncherError(
        TOOL_MISSING.report(f"nothing installed offers {name!r}", help="reinstall feedscript")
    )
