"""``feedscript parts``: what the parts of a launcher that somebody builds must bear."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path

import click
import msgspec

from feedscript.building.build_file import Build, example_file, read_build
from feedscript.building.parts import Rating, rated
from feedscript.building.sheets import sheets
from feedscript.cli.options import (
    FILE,
    FOLDER,
    GARAGE,
    format_option,
    launcher_option,
    out_option,
)
from feedscript.cli.output import Exit, answer, refuse, writing
from feedscript.cli.setting_up.link import profile_at
from feedscript.diagnostics import Diagnostic
from feedscript.formats import headed
from feedscript.toml_file import TomlReading

_CAUTION = (
    "These are first figures for choosing parts, not a proof: the makers' manuals, your local "
    "electrical code and a qualified person stand above them."
)


@click.command()
@click.argument("file", type=FILE, required=False)
@launcher_option(GARAGE)
@out_option(
    "drawings of guard, gate, chute, sensors and circuits, as SVG, in this folder.", kind=FOLDER
)
@format_option
def command(file: Path | None, launcher: Path | None, out: Path | None, output_format: str) -> None:
    """Work out what motors, fuses, wires, capacitor, brake, gap and guard must bear.

    FILE is your build file: masses, supply, motor. Without it, the invented example of the garage
    launcher. Each figure says where it comes from; a caution stands below what does not fit.
    """
    profile = profile_at(launcher, output_format)
    reading = read_build(file or example_file())
    if reading.value is None:
        refuse(Exit.PROGRAM, reading.diagnostics, output_format, {reading.source: reading.text})
    ratings = rated(profile, reading.value)
    if isinstance(ratings, Diagnostic):
        refuse(Exit.PROGRAM, [ratings], output_format)
    drawn = {} if out is None else sheets(profile, reading.value)
    if out is not None:
        with writing(out):
            out.mkdir(parents=True, exist_ok=True)
            for name, svg in drawn.items():
                (out / name).write_text(svg, encoding="utf-8")
    plain = {
        "ok": True,
        "launcher": profile.name,
        "ratings": msgspec.to_builtins(ratings),
        "drawings": sorted(drawn),
        "caution": _CAUTION,
    }
    plain = headed("parts", plain)
    answer(output_format, plain, _words(profile.name, reading, ratings, out))


def _words(
    name: str, reading: TomlReading[Build], ratings: tuple[Rating, ...], out: Path | None
) -> str:
    lines = [f"{name}, built as {reading.source} says"]
    for part, rows in groupby(ratings, key=lambda rating: rating.part):
        lines += ["", part]
        for row in rows:
            lines += _row(row)
    lines += ["", _CAUTION]
    return "\n".join(lines + ([] if out is None else [f"Drawings: {out}"]))


def _row(row: Rating) -> list[str]:
    lines = [f"  {row.what}: {row.shown}  [{row.source}]"]
    lines += [f"    take: {row.choose}"] if row.choose else []
    return lines + ([f"    CAUTION: {row.caution}"] if row.caution else [])
