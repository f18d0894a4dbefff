"""``feedscript draw``: the court picture of a program, or the reach of a launcher."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import click

from feedscript.check.check_program import Options, Verdict, check_program
from feedscript.cli.language import language_option, tongue_of
from feedscript.cli.names import PROGRAM
from feedscript.cli.options import (
    OF_THE_PROGRAM,
    format_option,
    launcher_option,
    library_option,
    out_option,
    seed_option,
)
from feedscript.cli.output import Exit, answer, leave, writing
from feedscript.diagnostics import Diagnostic, as_json, has_errors
from feedscript.formats import headed
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.shipped import program_path
from feedscript.tongues.tongue import Tongue

ENDINGS = (".svg", ".png", ".html")
#: What is made to be printed, and how it is written.
PAPERS, PAPER_ENDINGS = ("sheet", "cards"), (".html",)


@click.command()
@click.argument("file", type=PROGRAM, required=False)
@out_option("the picture, .svg, .png or .html.", required=True, piped=".svg")
@launcher_option(OF_THE_PROGRAM)
@library_option
@seed_option
@click.option("--envelope", is_flag=True, help="Draw what the launcher can reach, not a program.")
@click.option("--worst", is_flag=True, help="Draw each safety rule's worst case instead.")
@click.option("--sheet", is_flag=True, help="One page for the fence, to print (.html).")
@click.option("--cards", is_flag=True, help="A card an exercise, four on a page to cut (.html).")
@click.option("--stand", type=click.Choice(["player", "launcher"]), default="player",
              show_default=True, help="Behind whom one sees the courts on paper.")  # fmt: skip
@language_option
@click.option("--width", "width_px", type=click.IntRange(200, 8000), default=1600,
              show_default=True, help="Width of a PNG in pixels.")  # fmt: skip
@format_option
def command(
    file: str | None,
    out: Path,
    launcher: Path | None,
    library: Path | None,
    seed: int | None,
    width_px: int,
    stand: str,
    language: str | None,
    output_format: str,
    **kinds: bool,
) -> None:
    """Draw FILE: the court to scale, every feed's path, landing and scatter, and the time line."""
    kind = _kind(kinds, out)
    if (kind == "envelope") is (file is not None):
        raise click.UsageError("give a program FILE, or --envelope with --launcher PROFILE")
    if kind == "envelope":
        if launcher is None:
            raise click.UsageError("--envelope draws the launcher of --launcher PROFILE")
        drawn, found, sources = _envelope(launcher, out, width_px)
    else:
        options = Options(launcher=launcher, seed=seed, library=library)
        verdict = check_program(program_path(str(file), library), options)
        found, sources = list(verdict.diagnostics), dict(verdict.sources)
        if kind in PAPERS:
            drawn = _paper(verdict, kind, stand, tongue_of(language))
        else:
            size = (out.suffix.lower(), width_px)
            drawn = _program(verdict, size, found, tongue_of(language), worst=kind == "worst")
    _finish(drawn, found, sources, out, output_format)


def _kind(kinds: Mapping[str, bool], out: Path) -> str:
    """What is drawn, and whether the file's ending suits it."""
    asked = [kind for kind, wanted in kinds.items() if wanted]
    if len(asked) > 1:
        raise click.UsageError(f"give one of: {', '.join(f'--{kind}' for kind in asked)}")
    kind = asked[0] if asked else "program"
    endings = PAPER_ENDINGS if kind in PAPERS else ENDINGS
    if out.suffix.lower() not in endings:
        hint = "; a browser prints it, and saves it as PDF" if kind in PAPERS else ""
        raise click.UsageError(f"{out} must end in one of: {', '.join(endings)}{hint}")
    return kind


def _paper(verdict: Verdict, kind: str, stand: str, tongue: Tongue) -> bytes | None:
    """The paper of a program that has passed: what is refused is not hung on a fence."""
    from feedscript.review.sheet.files import draw_paper

    if verdict.facts is None or has_errors(verdict.diagnostics):
        return None
    suits = None if verdict.program is None else verdict.program.suits
    behind = stand == "player"
    return draw_paper(verdict.facts, suits, kind, behind_player=behind, tongue=tongue)


def _program(
    verdict: Verdict,
    size: tuple[str, int],
    found: list[Diagnostic],
    tongue: Tongue,
    *,
    worst: bool,
) -> bytes | None:
    """The picture of a program; one that was refused is drawn too, when it could be aimed.

    What keeps it from being drawn is added to ``found``.
    """
    from feedscript.review.drawing.files import draw_plan, draw_worst

    facts = verdict.facts
    if facts is None or (worst and verdict.certificate is None):
        return None
    if worst and verdict.certificate is not None:
        drawn = draw_worst(facts, verdict.certificate, *size)
    else:
        drawn = draw_plan(facts, *size, tongue)
    if isinstance(drawn, Diagnostic):
        found.append(drawn)
        return None
    return drawn


def _envelope(
    path: Path, out: Path, width_px: int
) -> tuple[bytes | None, list[Diagnostic], dict[str, str]]:
    from feedscript.review.drawing.files import draw_envelope

    reading = read_profile(path)
    found, sources = list(reading.diagnostics), {reading.source: reading.text}
    if reading.profile is None:
        return None, found, sources
    drawn = draw_envelope(reading.profile, out.suffix.lower(), width_px)
    if isinstance(drawn, Diagnostic):
        return None, [*found, drawn], sources
    return drawn, found, sources


def _finish(
    drawn: bytes | None,
    found: list[Diagnostic],
    sources: dict[str, str],
    out: Path,
    output_format: str,
) -> None:
    if drawn is not None:
        with writing(out):
            out.write_bytes(drawn)
    ok = drawn is not None and not has_errors(found)
    written = None if drawn is None else str(out)
    plain = headed(
        "draw", {"ok": ok, "file": written, "diagnostics": [as_json(one) for one in found]}
    )
    answer(output_format, plain, f"wrote {out}" if written else "", found, sources)
    if not ok:
        leave(Exit.PROGRAM)
