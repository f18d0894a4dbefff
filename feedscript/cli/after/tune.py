"""``feedscript tune``: fit a launcher's profile to balls that were watched landing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click
import msgspec
from click.core import ParameterSource

from feedscript.cli.after.journal import reports_trouble
from feedscript.cli.after.tune_words import (
    bootstrap_plain,
    bootstrap_words,
    design_plain,
    design_words,
    drift_plain,
    drift_words,
    fit_plain,
    fit_words,
)
from feedscript.cli.after.watch import film_options, see_that_the_program_is_enough
from feedscript.cli.names import ProfileFile
from feedscript.cli.options import (
    FILE,
    court_network_option,
    draw_seed_option,
    format_option,
    launcher_option,
    on_option,
    out_option,
    port_option,
)
from feedscript.cli.output import (
    Exit,
    answer,
    leave,
    print_diagnostics,
    print_json,
    refuse,
    tell,
    writing,
)
from feedscript.cli.progress import watched
from feedscript.cli.prove.on_cluster import cluster_options, workers
from feedscript.cli.prove.surroundings import (
    BadOptionError,
    named,
    quantity_of,
    read_surroundings,
    surroundings_options,
    within,
)
from feedscript.club_library import profile_name
from feedscript.diagnostics import Diagnostic, as_json
from feedscript.flight.aim.what_if import Bound
from feedscript.flight.motion.conditions import Conditions
from feedscript.formats import headed
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.profile.read_profile import ProfileReading, read_profile
from feedscript.launcher.tuning.design import Design, design
from feedscript.launcher.tuning.drift import Drift, compare
from feedscript.launcher.tuning.factors import factors_of
from feedscript.launcher.tuning.fit import Fit, Fitted, fit, information
from feedscript.launcher.tuning.improvement import improvement
from feedscript.launcher.tuning.landings_file import (
    LandingsReading,
    blank_file,
    parse_landings,
    read_landings,
)
from feedscript.launcher.tuning.mistakes import mistakes
from feedscript.launcher.tuning.pages import (
    CANNOT_TUNE,
    MISTAKEN_LANDINGS,
    MODEL_MISSES,
    NEEDS_TUNE,
    UNDER_DETERMINED,
)
from feedscript.launcher.tuning.shots import Shots, Tape
from feedscript.launcher.tuning.write import tuned_text, write_beside
from feedscript.units import Dimension

if TYPE_CHECKING:
    from feedscript.check.bootstrap import Bootstrap
    from feedscript.check.in_pieces.cluster import Wanted
    from feedscript.cli.after.tune_film import Landings

#: A model that misses by more beyond the scatter is not written down unasked. Design value.
_MOST_BIAS_M = 0.5
_TAPE = Bound("a measuring error", 0.001, 1.0, "m")


#: Fewer refits tell no interval; more tell it no better than the balls do.
LEAST_REFITS, MOST_REFITS = 100, 100_000

#: What a program that does not say it means.
AIR_OF_A_PROGRAM = "20 C"
#: What the film's lesson says itself, where there is one.
_OF_THE_LESSON = ("altitude", "air", "pressure", "humidity", "wind", "ball", "wear")
#: What a lesson on court cannot be told.
_OF_NO_LESSON = ("wind", "wear", "model", "spin_decay")
_ON_COURT = ("url", "on_court_network", "port")
_OF_A_FILM = (
    *("court", "camera_at", "mirrored", "points", "sure", "offset", "at_ball"),
    *("program", "library", "seed"),
)
_OF_A_LESSON = ("number", "journal_path")


@click.command()
@click.argument("profile", type=ProfileFile(), required=False)
@launcher_option("the one to tune, where PROFILE does not name it")
@click.option("--landings", type=FILE, help="Measured balls, a filled-in table (CSV).")
@click.option("--watch", "video", type=FILE, help="Measure the balls in this film of a lesson.")
@click.option("--run", "on_court", is_flag=True, help="Send the most telling balls, and mark each.")
@on_option(required=False)
@court_network_option
@port_option
@click.option("--propose", is_flag=True, help="Propose which balls to measure.")
@click.option("--compare", is_flag=True, help="Do these landings still fit?")
@out_option("the tuned profile; with --propose, the table to fill in.", only_new=True)
@click.option("--picture", type=FILE, help="Also draw the residuals here: .svg, .png or .html.")
@click.option("--keep", multiple=True, help="A factor to leave as it is; once for each.")
@click.option("--tape", default="4 cm", show_default=True, help="How well landings were measured.")
@click.option("--as-measured", is_flag=True, help="Believe landings that look mistaken.")
@click.option(
    "--bootstrap",
    "refits",
    type=click.IntRange(LEAST_REFITS, MOST_REFITS),
    metavar="N",
    help="Also tell how surely each factor is known by N fits to balls drawn again.",
)
@draw_seed_option("without it, 1")
@cluster_options
@film_options
@surroundings_options
@format_option
@reports_trouble
def command(
    profile: Path | None, launcher: Path | None, output_format: str, **options: Any
) -> None:
    """Fit a launcher's profile to measured landings, and write a new profile beside it.

    On court in one go: --run sends the most telling balls one by one, and from the phone's page
    each is marked where it landed. From a film: --watch lesson.mp4 measures the balls of the
    launcher's newest lesson (or of --lesson, or --program) and tunes by them. With a tape:
    --propose names the balls and with -o writes a CSV file to fill in; then --landings FILE.csv
    fits, and --compare says whether today's landings still fit. Air and ball are those of the day
    of measuring.
    """
    on_court, propose = options["on_court"], options["propose"]
    ways = (options["landings"], options["video"], propose or None, on_court or None)
    if sum(one is not None for one in ways) != 1 or (options["compare"] and (propose or on_court)):
        raise click.UsageError(
            "give one of --run, --watch VIDEO, --landings FILE.csv and --propose; --compare with "
            "--watch or --landings"
        )
    path = profile or launcher
    if path is None or (profile and launcher):
        raise click.UsageError("name one profile: feedscript tune PROFILE.toml …")
    if profile_name(path) is not None:
        raise click.UsageError(
            "what comes of tuning is written beside the profile, and the club's stays as it is: "
            f"copy it first: feedscript programs --copy club/{profile_name(path)}"
        )
    _see_that_options_fit(options["video"] is not None, on_court)
    _see_that_refits_fit(options)
    see_that_the_program_is_enough(options)
    if on_court and options["air"] is None:
        options["air"] = AIR_OF_A_PROGRAM
    asked = _asked(read_profile(path), output_format, options)
    _needs_scipy(output_format)
    if options["propose"]:
        _propose(asked)
    asked, shots = _measured(asked, options)
    if options["compare"]:
        _compare(asked, shots)
    _fit(asked, shots)


def _see_that_options_fit(film: bool, on_court: bool) -> None:
    """An option that would do nothing is wrong usage."""
    context = click.get_current_context()
    for applies, names, why in (
        (film, _OF_THE_LESSON, "with --watch the lesson says it"),
        (not film, _OF_A_FILM, "it goes with --watch"),
        (not on_court, _ON_COURT, "it goes with --run"),
        (on_court, _OF_NO_LESSON, "it does not go with --run"),
        (not film and not on_court, _OF_A_LESSON, "it goes with --watch or --run"),
    ):
        for name in names if applies else ():
            if context.get_parameter_source(name) is ParameterSource.COMMANDLINE:
                option = next(one.opts[-1] for one in context.command.params if one.name == name)
                raise click.UsageError(f"{option}: {why}")
    if on_court and context.params["url"] is None:
        raise click.UsageError("say where the launcher is: --on URL")


def _see_that_refits_fit(options: dict[str, Any]) -> None:
    refits = options["refits"]
    if refits is not None and (options["propose"] or options["compare"]):
        raise click.UsageError("--bootstrap is for a fit: not with --propose or --compare")
    for option, given in (("--cluster", options["wanted"]), ("--draw-seed", options["draw_seed"])):
        if refits is None and given is not None:
            raise click.UsageError(f"{option} is for --bootstrap")


def _measured(asked: Tuning, options: dict[str, Any]) -> tuple[Tuning, Shots]:
    """The balls, from a table or a film; with a film the lesson says which air and ball it was."""
    landings: Path | None = options["landings"]
    if landings is not None:
        return asked, _shots(read_landings(landings, asked.profile, asked.tape), asked)
    found = _on_court(asked, options) if options["on_court"] else _in_film(asked, options)
    asked = msgspec.structs.replace(
        asked, profile=found.profile, base=found.base, measured=found.path
    )
    reading = parse_landings(found.text, str(found.path), asked.profile, asked.tape)
    return asked, _shots(reading, asked)


def _in_film(asked: Tuning, options: dict[str, Any]) -> Landings:
    from feedscript.cli.after.tune_film import landings_in_film

    beside = Path(asked.reading.source)
    return landings_in_film(
        options["video"], asked.profile, asked.tape, beside, asked.output_format, options
    )


def _on_court(asked: Tuning, options: dict[str, Any]) -> Landings:
    from feedscript.cli.after.tune_on_court import OnCourt, items_of, landings_on_court

    on_court = OnCourt(
        path=Path(asked.reading.source),
        url=options["url"],
        items=items_of(options),
        **{key: getattr(asked, key) for key in _SHARED},
    )
    return landings_on_court(on_court, options)


_AS_GIVEN = ("keep", "as_measured", "out", "picture", "refits", "draw_seed", "wanted")
_SHARED = ("profile", "base", "tape", "keep", "output_format")


class Tuning(msgspec.Struct, frozen=True, kw_only=True):
    """What is to be tuned, and how it was measured."""

    reading: ProfileReading
    profile: Profile
    base: Conditions
    tape: Tape
    keep: tuple[str, ...]
    as_measured: bool
    out: Path | None
    picture: Path | None
    output_format: str
    refits: int | None
    draw_seed: int | None
    wanted: Wanted | None  # whose workers make the refits
    measured: Path | None = None  # the table that a film was made into


def _asked(reading: ProfileReading, output_format: str, options: dict[str, Any]) -> Tuning:
    if reading.profile is None:
        refuse(Exit.PROGRAM, reading.diagnostics, output_format, {reading.source: reading.text})
    try:
        asked = Tuning(
            reading=reading,
            profile=reading.profile,
            base=read_surroundings(options),
            tape=_tape(options),
            output_format=output_format,
            **{key: options[key] for key in _AS_GIVEN},
        )
        known = {factor.key: factor for factor in factors_of(asked.profile)}
        for key in asked.keep:
            named("keep", key, known.__getitem__, list(known))
    except BadOptionError as error:
        refuse(Exit.USAGE, [CANNOT_TUNE.report(str(error), device="tune")], output_format)
    return asked


def _tape(options: dict[str, Any]) -> Tape:
    error = quantity_of(options, "tape", Dimension.LENGTH) or 0.0
    within("tape", error, _TAPE)
    return Tape(along_m=error, right_m=error)


def _needs_scipy(output_format: str) -> None:
    if find_spec("scipy") is None:
        message = "tuning needs scipy, which is not installed"
        found = NEEDS_TUNE.report(message, help="pip install 'feedscript[tune]'", device="tune")
        refuse(Exit.USAGE, [found], output_format)


def _shots(reading: LandingsReading, asked: Tuning) -> Shots:
    sources = {reading.source: reading.text}
    if reading.shots is None:
        refuse(Exit.PROGRAM, reading.diagnostics, asked.output_format, sources)
    print_diagnostics(reading.diagnostics, sources)
    return reading.shots


def _propose(asked: Tuning) -> NoReturn:
    profile = asked.profile
    balls = design(profile, asked.base, asked.tape, held=asked.keep)
    if balls is None:
        message = "this launcher has no setting whose landing can be measured"
        found = CANNOT_TUNE.report(message, device=profile.name)
        refuse(Exit.PROGRAM, [found], asked.output_format)
    written: Path | Diagnostic | None = None
    if asked.out is not None:
        written = write_beside(asked.out, blank_file(profile, balls.proposals), asked.out)
        if isinstance(written, Diagnostic):
            refuse(Exit.USAGE, [written], asked.output_format)
    then = f"\n\nwrote {written}: fill in what you measure" if written else ""
    plain = design_plain(balls) | {"file": str(written) if written else None}
    plain = headed("tune-propose", plain)
    answer(asked.output_format, plain, design_words(balls, profile) + then)
    leave(Exit.FINE)


def _compare(asked: Tuning, shots: Shots) -> NoReturn:
    profile = asked.profile
    drift = compare(profile, shots, asked.base, asked.tape)
    heading = f"{profile.name}: {'still fits' if drift.fits else 'no longer fits'}"
    _draw(asked, heading, profile, shots, drift)
    doubts = () if drift.fits or asked.as_measured else _mistaken(asked, shots)
    plain = drift_plain(drift, shots) | {"diagnostics": [as_json(one) for one in doubts]}
    answer(asked.output_format, headed("tune-compare", plain), drift_words(drift, shots), doubts)
    leave(Exit.FINE if drift.fits else Exit.PROGRAM)


def _mistaken(asked: Tuning, shots: Shots) -> tuple[Diagnostic, ...]:
    """What makes landings look as if the launcher had changed, though only the file is wrong."""
    profile, base, tape = asked.profile, asked.base, asked.tape
    found = fit(profile, shots, base, tape, asked.keep)
    return tuple(
        MISTAKEN_LANDINGS.report(f"{one.words}; the launcher need not have changed", help=one.mend)
        for one in mistakes(profile, shots, base, tape, found)
    )


def _fit(asked: Tuning, shots: Shots) -> NoReturn:
    found = fit(asked.profile, shots, asked.base, asked.tape, asked.keep)
    again = _again(asked, found, shots)
    _draw(asked, f"{asked.profile.name}, tuned", found.profile, shots, found)
    written = _written(asked, found, shots)
    gain = None
    if isinstance(written, Path):
        gain = improvement(asked.profile, shots, asked.base, asked.tape, found)
    diagnostics = [] if isinstance(written, Path) else written
    if asked.output_format == "json":
        plain = fit_plain(found, shots, gain) | {
            "file": None if diagnostics else str(written),
            "landings": str(asked.measured) if asked.measured else None,
            "bootstrap": None if again is None else bootstrap_plain(again, found),
            "diagnostics": [as_json(one) for one in diagnostics],
        }
        print_json(headed("tune", plain))
    else:
        tell(fit_words(found, shots, gain))
        if again is not None:
            tell("\n" + bootstrap_words(again, found))
        print_diagnostics(diagnostics, {})
        if not diagnostics:
            tell(f"\nwrote {written}; {asked.reading.source} is as it was")
    leave(Exit.PROGRAM if diagnostics else Exit.FINE)


def _again(asked: Tuning, found: Fit, shots: Shots) -> Bootstrap | None:
    """The fit made anew to balls drawn again, where that was asked for."""
    if asked.refits is None:
        return None
    from feedscript.check.bootstrap import bootstrap, measured_by

    measured = measured_by(asked.profile, shots, asked.base, asked.tape, found)
    seed = 1 if asked.draw_seed is None else asked.draw_seed
    with workers(asked.wanted, asked.output_format) as others:
        return bootstrap(measured, found, asked.refits, seed, others, watched)


def _written(asked: Tuning, found: Fit, shots: Shots) -> Path | list[Diagnostic]:
    """Where the tuned profile was written, or why it was not."""
    if not asked.as_measured and (doubts := _doubts(asked, found, shots)):
        return doubts
    if found.undetermined:
        profile, base, tape, keep = asked.profile, asked.base, asked.tape, asked.keep
        _, told = information(profile, shots, base, tape, keep)
        further = design(profile, base, tape, settings=4, held=keep, known=told.sum(axis=0))
        return [_refusal(found.undetermined, further, len(shots))]
    text = tuned_text(asked.reading, found)
    if isinstance(text, Diagnostic):
        return [text]
    written = write_beside(Path(asked.reading.source), text, asked.out)
    return [written] if isinstance(written, Diagnostic) else written


def _doubts(asked: Tuning, found: Fit, shots: Shots) -> list[Diagnostic]:
    """Why the landings should not be believed; a mistake that is named says all there is."""
    named_ones = mistakes(asked.profile, shots, asked.base, asked.tape, found)
    if named_ones:
        return [
            MISTAKEN_LANDINGS.report(f"{one.words}; no profile was written", help=one.mend)
            for one in named_ones
        ]
    lack = found.lack
    if lack is None or not lack.found or math.hypot(*lack.bias_m) <= _MOST_BIAS_M:
        return []
    message = (
        f"the best profile still misses single settings by {math.hypot(*lack.bias_m):.1f} m beyond "
        "the balls' scatter; no profile was written"
    )
    fix = "check wheel size, gap and mouth height in the profile and the balls (--ball), and again"
    return [MODEL_MISSES.report(message, help=fix)]


def _refusal(undetermined: Sequence[Fitted], further: Design | None, balls: int) -> Diagnostic:
    names = ", ".join(
        f"{one.factor.key} (±{one.half:.2g}{' ' * bool(one.factor.unit)}{one.factor.unit})"
        if one.tells_something
        else f"{one.factor.key} (at all)"
        for one in undetermined
    )
    fix = "leave them as they are with --keep, or measure more balls"
    if further is not None:
        rows = "; ".join(
            f"{p.balls} balls at drives {', '.join(f'{d:g}' for d in p.setting.drives)}, "
            f"tilt {p.setting.tilt_deg:g}, pan {p.setting.pan_deg:g}"
            for p in further.proposals
        )
        fix = f"measure next: {rows} (or leave a factor as it is with --keep)"
    return UNDER_DETERMINED.report(
        f"{balls} balls do not determine {names}; no profile was written", help=fix, device="tune"
    )


def _draw(asked: Tuning, heading: str, profile: Profile, shots: Shots, found: Fit | Drift) -> None:
    """The residuals, where a picture was asked for."""
    picture = asked.picture
    if picture is None:
        return
    from feedscript.launcher.tuning.shots import predicted
    from feedscript.review.drawing.files import draw
    from feedscript.review.drawing.tuning_view import residual_picture

    along = predicted(profile, shots.settings, asked.base)[:, 0]
    words = f"{len(shots)} balls, {len(found.set_aside)} set aside"
    root = residual_picture(heading, words, along, found.residuals, found.set_aside, shots.lines)
    drawn = draw(root, heading, picture.suffix.lower(), 1600)
    if isinstance(drawn, Diagnostic):
        refuse(Exit.USAGE, [drawn], asked.output_format)
    with writing(picture):
        picture.write_bytes(drawn)
