"""``feedscript mapped``: files that describe how a launcher of another language is spoken to."""

from __future__ import annotations

import itertools
import json
from pathlib import Path
from typing import Any

import click

from feedscript.cli.copied import copied
from feedscript.cli.names import MAPPING, MAPPING_OFFERED
from feedscript.cli.options import FOLDER, format_option, out_option
from feedscript.cli.output import Exit, answer, leave, print_diagnostics, print_json, refuse, tell
from feedscript.diagnostics import as_json
from feedscript.documents.shipped import schema_text
from feedscript.formats import headed
from feedscript.launcher.guarantees import WITHOUT
from feedscript.launcher.port import LauncherError
from feedscript.launcher.tools import tool
from feedscript.shipped import mapping_path, shipped_mappings


@click.group("mapped")
def command() -> None:
    """Describe a launcher that speaks a language of its own: its keys, and checking the file."""


@command.command()
@click.option(
    "--copy", "name", type=MAPPING_OFFERED, help="Copy this example into a folder, to change it."
)
@out_option("the folder to copy into; without it, this one.", kind=FOLDER)
@format_option
def examples(name: str | None, out: Path | None, output_format: str) -> None:
    """List the mappings that come with feedscript, all of invented devices, or copy one."""
    known = shipped_mappings()
    if name is not None:
        if name not in known:
            raise click.UsageError(f"no example is called {name!r}; there are: {', '.join(known)}")
        target = copied(known[name], out or Path(), schema=("mapping", schema_text("mapping")))
        tell(f"copied to {target}; change it, then: feedscript mapped check {target}")
        return
    plain = [{"name": one, "file": str(path), "about": _about(path)} for one, path in known.items()]
    width = max(map(len, known))
    rows = [f"{one['name']:<{width}}  {one['about']}" for one in plain]
    answer(output_format, headed("mapped-examples", {"mappings": plain}), "\n".join(rows))


def _about(path: Path) -> str:
    """What the comment at its head begins with: a file's own first sentence."""
    words = itertools.takewhile(lambda line: line.startswith("#"), path.open(encoding="utf-8"))
    return " ".join(line.lstrip("# ").rstrip() for line in words).partition(". ")[0].rstrip(".")


@command.command()
@format_option
def keys(output_format: str) -> None:
    """Print every key: what it may hold, what it means, an example."""
    page = _offered("mapping-keys", output_format)()
    if output_format == "json":
        print_json(headed("mapped-keys", {"ok": True, "page": page}))
    else:
        tell(page.rstrip("\n"))


@command.command()
@click.argument("name", type=MAPPING, metavar="FILE")
@format_option
def check(name: str, output_format: str) -> None:
    """Find every mistake in a mapping FILE, or one of the examples by its name, and say what its
    device cannot promise."""
    file = mapping_path(name)
    reading = _offered("read-mapping", output_format)(file)
    fine = reading.value is not None
    lacks = _offered("mapping-lacks", output_format)(reading.value) if fine else ()
    if output_format == "json":
        found = [as_json(one) for one in reading.diagnostics]
        plain = {"ok": fine, "diagnostics": found, "lacks": list(lacks)}
        print_json(headed("mapped-check", plain))
    else:
        print_diagnostics(reading.diagnostics, {str(file): reading.text})
    if fine and output_format == "text":
        _tell(reading.value.device.name, lacks)
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
