"""``feedscript tune``: fit a launcher's profile to balls that were watched landing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import click

from feedscript.cli.after.tune_words import (
    design_plain,
    design_words,
    drift_plain,
    drift_words,
    fit_plain,
    fit_words,
)
from feedscript.cli.output import Exit, format_option, leave, print_diagnostics, print_json, tell
from feedscript.cli.prove.launcher_choice import PROFILE_FILE
from feedscript.cli.prove.surroundings import (
    BadOptionError,
    named,
    quantity_of,
    read_surroundings,
    surroundings_options,
    within,
)
from feedscript.diagnostics import Diagnostic, as_json
from feedscript.flight.aim.what_if import Bound
from feedscript.flight.conditions import Conditions
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.profile.read_profile import ProfileReading, read_profile
from feedscript.launcher.tuning.design import Design, design
from feedscript.launcher.tuning.drift import compare
from feedscript.launcher.tuning.factors import factors_of
from feedscript.launcher.tuning.fit import Fitted, fit, information
from feedscript.launcher.tuning.landings_file import blank_file, read_landings
from feedscript.launcher.tuning.pages import CANNOT_TUNE, NEEDS_TUNE, UNDER_DETERMINED
from feedscript.launcher.tuning.shots import Array, Shots, Tape
from feedscript.launcher.tuning.write import tuned_text, write_beside
from feedscript.units import Dimension

_TAPE = Bound("a measuring error", 0.001, 1.0, "m")


@click.command()
@click.argument("profile", type=PROFILE_FILE)
@click.option("--landings", type=click.Path(path_type=Path, dir_okay=False), help="Measured balls.")
@click.option("--plan", "planning", is_flag=True, help="Propose which balls to measure.")
@click.option("--compare", "comparing", is_flag=True, help="Do these landings still fit?")
@click.option("-o", "--out", type=click.Path(path_type=Path, dir_okay=False),
              help="Where to write; with --plan the file to fill in.")  # fmt: skip
@click.option("--picture", type=click.Path(path_type=Path, dir_okay=False),
              help="Residuals as .svg, .png or .html.")  # fmt: skip
@click.option("--hold", multiple=True, help="A factor to leave as it is; may be given again.")
@click.option("--tape", default="4 cm", show_default=True, help="How well landings were measured.")
@surroundings_options
@format_option
def command(
    profile: Path,
    landings: Path | None,
    planning: bool,
    comparing: bool,
    out: Path | None,
    picture: Path | None,
    hold: tuple[str, ...],
    output_format: str,
    **options: str | None,
) -> None:
    """Fit PROFILE to measured landings, and write a new profile beside it.

    Begin with --plan, which proposes the most telling balls and with -o writes a CSV file to fill
    in. Then --landings FILE.csv fits, and --landings FILE.csv --compare says whether today's
    landings still fit. A profile is a file or the name of a shipped one. Air and ball are those of
    the day of measuring.
    """
    if planning == (landings is not None):
        raise click.UsageError("give --plan, or --landings FILE.csv (with or without --compare)")
    reading = read_profile(profile)
    if reading.profile is None:
        print_diagnostics(reading.diagnostics, {reading.source: reading.text})
        leave(Exit.PROGRAM)
    try:
        base = read_surroundings(options)
        tape = _tape(options)
        for key in hold:
            known = {factor.key: factor for factor in factors_of(reading.profile)}
            named("hold", key, known.__getitem__, list(known))
    except BadOptionError as error:
        print_diagnostics([CANNOT_TUNE.report(str(error), device="tune")], {})
        leave(Exit.USAGE)
    _needs_scipy()
    if planning:
        _plan(reading.profile, base, tape, hold, out, output_format)
        return
    assert landings is not None
    shots = _shots(landings, reading.profile)
    if comparing:
        _compare(reading.profile, shots, base, tape, picture, output_format)
    else:
        _fit(reading, shots, base, tape, hold, out, picture, output_format)


def _tape(options: dict[str, str | None]) -> Tape:
    error = quantity_of(options, "tape", Dimension.LENGTH) or 0.0
    within("tape", error, _TAPE)
    return replace(Tape(), along_m=error, right_m=error)


def _needs_scipy() -> None:
    try:
        import scipy  # noqa: F401
    except ImportError:
        found = NEEDS_TUNE.report(
            "tuning needs scipy, which is not installed",
            help="pip install 'feedscript[tune]'",
            device="tune",
        )
        print_diagnostics([found], {})
        leave(Exit.USAGE)


def _shots(landings: Path, profile: Profile) -> Shots:
    reading = read_landings(landings, profile)
    print_diagnostics(reading.diagnostics, {reading.source: reading.text})
    if reading.shots is None:
        leave(Exit.PROGRAM)
    return reading.shots


def _plan(
    profile: Profile,
    base: Conditions,
    tape: Tape,
    hold: tuple[str, ...],
    out: Path | None,
    output_format: str,
) -> None:
    found = design(profile, base, tape, held=hold)
    if found is None:
        message = "this launcher has no setting whose landing can be measured"
        print_diagnostics([CANNOT_TUNE.report(message, device=profile.name)], {})
        leave(Exit.PROGRAM)
    written: Path | Diagnostic | None = None
    if out is not None:
        written = write_beside(out, blank_file(profile, found.proposals), out)
        if isinstance(written, Diagnostic):
            print_diagnostics([written], {})
            leave(Exit.USAGE)
    if output_format == "json":
        print_json(design_plain(found) | {"file": str(written) if written else None})
        return
    tell(design_words(found, profile))
    if written:
        tell(f"\nwrote {written}: fill in what you measure")


def _compare(
    profile: Profile,
    shots: Shots,
    base: Conditions,
    tape: Tape,
    picture: Path | None,
    output_format: str,
) -> None:
    drift = compare(profile, shots, base, tape)
    heading = f"{profile.name}: {'still fits' if drift.fits else 'no longer fits'}"
    _draw(picture, heading, profile, shots, base, drift.residuals, drift.set_aside)
    if output_format == "json":
        print_json(drift_plain(drift, shots))
    else:
        tell(drift_words(drift, shots))
    leave(Exit.FINE if drift.fits else Exit.PROGRAM)


def _fit(
    reading: ProfileReading,
    shots: Shots,
    base: Conditions,
    tape: Tape,
    hold: tuple[str, ...],
    out: Path | None,
    picture: Path | None,
    output_format: str,
) -> None:
    assert reading.profile is not None
    profile = reading.profile
    found = fit(profile, shots, base, tape, hold)
    _draw(picture, f"{profile.name}, tuned", found.profile, shots, base, found.residuals,
          found.set_aside)  # fmt: skip
    diagnostics: list[Diagnostic] = []
    written: Path | None = None
    if found.undetermined:
        _, told = information(profile, shots, base, tape, hold)
        further = design(profile, base, tape, settings=4, held=hold, known=told.sum(axis=0))
        diagnostics.append(_refusal(found.undetermined, further, len(shots)))
    else:
        text = tuned_text(reading, found)
        result = text if isinstance(text, Diagnostic) else write_beside(
            Path(reading.source), text, out
        )  # fmt: skip
        if isinstance(result, Diagnostic):
            diagnostics.append(result)
        else:
            written = result
    if output_format == "json":
        plain = fit_plain(found, shots) | {"file": str(written) if written else None}
        print_json(plain | {"diagnostics": [as_json(one) for one in diagnostics]})
    else:
        tell(fit_words(found, shots))
        print_diagnostics(diagnostics, {})
        if written:
            tell(f"\nwrote {written}; {reading.source} is as it was")
    leave(Exit.PROGRAM if diagnostics else Exit.FINE)


def _refusal(undetermined: Sequence[Fitted], further: Design | None, balls: int) -> Diagnostic:
    names = ", ".join(
        f"{one.factor.key} (±{one.half:.2g}{' ' * bool(one.factor.unit)}{one.factor.unit})"
        if one.tells_something
        else f"{one.factor.key} (at all)"
        for one in undetermined
    )
    mend = "hold them with --hold, or measure more balls"
    if further is not None:
        rows = "; ".join(
            f"{p.balls} balls at drives {', '.join(f'{d:g}' for d in p.setting.drives)}, "
            f"tilt {p.setting.tilt_deg:g}"
            for p in further.proposals
        )
        mend = f"measure next: {rows} (or hold a factor with --hold)"
    return UNDER_DETERMINED.report(
        f"{balls} balls do not determine {names}; no profile was written", help=mend, device="tune"
    )


def _draw(
    picture: Path | None,
    heading: str,
    profile: Profile,
    shots: Shots,
    base: Conditions,
    residuals: Array,
    set_aside: tuple[int, ...],
) -> None:
    if picture is None:
        return
    from feedscript.launcher.tuning.shots import predicted
    from feedscript.review.drawing.files import draw
    from feedscript.review.drawing.tuning_view import residual_picture

    along = predicted(profile, shots.settings, base)[:, 0]
    words = f"{len(shots)} balls, {len(set_aside)} set aside"
    root = residual_picture(heading, words, along, residuals, set_aside, shots.lines)
    drawn = draw(root, heading, picture.suffix.lower(), 1600)
    if isinstance(drawn, Diagnostic):
        print_diagnostics([drawn], {})
        leave(Exit.USAGE)
    try:
        picture.write_bytes(drawn)
    except OSError as error:
        raise click.UsageError(f"{picture} cannot be written: {error.strerror}") from error
