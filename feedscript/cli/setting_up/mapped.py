"""``feedscript mapped``: files that describe how a launcher of another language is spoken to."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from feedscript.cli.options import format_option
from feedscript.cli.output import Exit, leave, print_diagnostics, print_json, refuse, tell
from feedscript.diagnostics import as_json
from feedscript.launcher.guarantees import WITHOUT
from feedscript.launcher.port import LauncherError
from feedscript.launcher.tools import tool


@click.group("mapped")
def command() -> None:
    """Describe a launcher that speaks a language of its own: its keys, and checking the file."""


@command.command()
@format_option
def keys(output_format: str) -> None:
    """Print every key: what it may hold, what it means, an example."""
    page = _offered("mapping-keys", output_format)()
    if output_format == "json":
        print_json({"ok": True, "page": page})
    else:
        tell(page.rstrip("\n"))


@command.command()
@format_option
def schema(output_format: str) -> None:
    """Print the keys as JSON Schema (2020-12), for an editor."""
    made = _offered("mapping-schema", output_format)()
    if output_format == "json":
        print_json({"ok": True, "schema": json.loads(made)})
    else:
        tell(made.rstrip("\n"))


@command.command()
@click.argument("file", type=click.Path(path_type=Path))
@format_option
def check(file: Path, output_format: str) -> None:
    """Find every mistake in a mapping FILE, and say what its device cannot promise."""
    reading = _offered("read-mapping", output_format)(file)
    fine = reading.mapping is not None
    lacks = _offered("mapping-lacks", output_format)(reading.mapping) if fine else ()
    if output_format == "json":
        found = [as_json(one) for one in reading.diagnostics]
        print_json({"ok": fine, "diagnostics": found, "lacks": list(lacks)})
    else:
        print_diagnostics(reading.diagnostics, {str(file): reading.text})
    if fine and output_format == "text":
        _tell(reading.mapping.device.name, lacks)
    leave(Exit.FINE if fine else Exit.PROGRAM)


def _tell(name: str, lacks: tuple[str, ...]) -> None:
    """A good mapping, and what its device does not promise."""
    tell(f"{name}: a mapping that can be used. It does not promise:")
    for each in lacks:
        tell(f"  {each}: {WITHOUT[each]}")
    tell("Write this under [guard] in the launcher's profile:")
    tell(f"  lacks = {json.dumps(lacks)}")


def _offered(name: str, output_format: str) -> Any:
    try:
        return tool(name)
    except LauncherError as missing:
        refuse(Exit.LAUNCHER, [missing.diagnostic], output_format)
