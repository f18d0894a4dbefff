"""``feedscript flight``: where would one ball land?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from typing import TypeVar

import click

from feedscript.cli.output import Exit, format_option, leave, print_diagnostics, print_json
from feedscript.diagnostics import as_json
from feedscript.flight import what_if
from feedscript.flight.air import air_at
from feedscript.flight.ball import ALIASES, BALLS, WEARS, ball_named
from feedscript.flight.field import NO_DECAY, Decay
from feedscript.flight.models import DEFAULT_MODEL, MODELS, Model, model_named
from feedscript.flight.motion import Conditions, Launches
from feedscript.flight.what_if import Answer, Bound
from feedscript.flight.written import read_spin, read_wind
from feedscript.units import Dimension, UnitError, parse_quantity

T = TypeVar("T")


class NotAFlightError(Exception):
    """An input that cannot be used; the text names the option and says why."""


@click.command()
@click.option("--speed", required=True, help="Speed at the mouth, such as '28 m/s'.")
@click.option("--elevation", required=True, help="Angle of the throw, up: '6 deg'.")
@click.option("--height", default="1 m", show_default=True, help="Ball's centre at the mouth.")
@click.option("--azimuth", default="0 deg", show_default=True, help="Positive to the right.")
@click.option(
    "--spin",
    default="none",
    show_default=True,
    help="'top 1500 rpm', 'back …', 'side ad …', 'side deuce …', 'gyro …', joined by commas.",
)
@click.option("--altitude", default="0 m", show_default=True, help="Of the court, above the sea.")
@click.option("--air", default=None, help="Temperature; else the standard one at the altitude.")
@click.option("--pressure", default=None, help="Of the air, else the standard one: '950 hPa'.")
@click.option("--humidity", default=None, help="Moist air by CIPM-2007: '60 %'. Else dry.")
@click.option("--wind", default="none", show_default=True, help="'head 3 m/s, towards ad 1 m/s'.")
@click.option(
    "--ball", default="type-2", show_default=True, help=", ".join([*BALLS, *ALIASES]) + "."
)
@click.option("--wear", default="new", show_default=True, help=", ".join(WEARS) + ", or 0 to 1.")
@click.option("--model", default=DEFAULT_MODEL.name, show_default=True, help=", ".join(MODELS))
@click.option("--spin-decay", type=click.Choice(["none", "golf"]), default="none")
@format_option
def command(output_format: str, **options: str | None) -> None:
    """Where one ball lands, thrown just so.

    Given nothing else: a new type 2 ball at mid-specification (57.7 g, 67.0 mm), the standard
    atmosphere at sea level (15 C, 1013.25 hPa, 1.2250 kg/m3, dry), no wind, no spin, and drag
    and lift by Stepanek 1988. Heights are of the ball's centre; the flight ends at the first
    bounce, where the centre is one radius above the ground. Carry is from the mouth along the
    azimuth thrown, drift to the right of it. The spin axis is as written, level or upright;
    'gyro' turns about the line of throw.
    """
    try:
        launches, conditions = _read(options)
    except NotAFlightError as error:
        print_diagnostics([what_if.NOT_A_FLIGHT.report(str(error), device="flight")], {})
        leave(Exit.USAGE)
    answer = what_if.ask(launches, conditions)
    if answer is None:
        message = "the ball does not come down within a minute, or starts in the ground"
        print_diagnostics([what_if.NOT_A_FLIGHT.report(message, device="flight")], {})
        leave(Exit.USAGE)
    if output_format == "json":
        print_json(_plain(answer, conditions))
        return
    print_diagnostics(answer.warnings, {})
    click.echo(_told(answer, conditions))


def _read(options: dict[str, str | None]) -> tuple[Launches, Conditions]:
    def number(name: str, dimension: Dimension, bound: Bound) -> float:
        value = _reading(name, lambda: parse_quantity(options[name] or "", dimension))
        _within(name, value, bound)
        return value

    def maybe(name: str, dimension: Dimension) -> float | None:
        text = options[name]
        return None if text is None else _reading(name, lambda: parse_quantity(text, dimension))

    spin = _reading("spin", lambda: read_spin(options["spin"] or ""))
    wind = _reading("wind", lambda: read_wind(options["wind"] or ""))
    for value in spin:
        _within("spin", value, what_if.SPIN)
    for value in wind:
        _within("wind", value, what_if.WIND)
    launches = Launches.of(
        number("speed", Dimension.SPEED, what_if.SPEED),
        number("elevation", Dimension.ANGLE, what_if.ELEVATION),
        number("azimuth", Dimension.ANGLE, what_if.AZIMUTH),
        top_rpm=spin.top_rpm,
        side_rpm=spin.side_rpm,
        gyro_rpm=spin.gyro_rpm,
        z_m=number("height", Dimension.LENGTH, what_if.HEIGHT),
    )
    altitude = _reading("altitude", lambda: parse_quantity(options["altitude"] or "", _LENGTH))
    temperature, pressure = maybe("air", Dimension.TEMPERATURE), maybe("pressure", _PRESSURE)
    humidity = maybe("humidity", Dimension.RATIO)
    air = _reading("air", lambda: air_at(altitude, temperature, pressure, humidity, wind))
    ball = _named("ball", options["ball"], ball_named, [*BALLS, *ALIASES])
    wear = options["wear"] or ""
    if wear not in WEARS:
        share = _reading("wear", lambda: float(wear))
        ball = _reading("wear", lambda: ball.worn(share))
    else:
        ball = ball.worn(wear)
    model: Model = _named("model", options["model"], model_named, list(MODELS))
    decay = Decay.golf(ball) if options["spin_decay"] == "golf" else NO_DECAY
    return launches, Conditions(ball, air, model, decay)


_LENGTH, _PRESSURE = Dimension.LENGTH, Dimension.PRESSURE


def _reading(name: str, read: Callable[[], T]) -> T:
    try:
        return read()
    except (UnitError, ValueError) as error:
        raise NotAFlightError(f"--{name}: {error}") from error


def _within(name: str, value: float, bound: Bound) -> None:
    complaint = bound.complaint(value)
    if complaint is not None:
        raise NotAFlightError(f"--{name}: {complaint}")


def _named(name: str, word: str | None, find: Callable[[str], T], known: list[str]) -> T:
    try:
        return find(word or "")
    except KeyError as error:
        raise NotAFlightError(
            f"--{name}: nothing is known as {word!r}; known are {', '.join(known)}"
        ) from error


def _plain(answer: Answer, conditions: Conditions) -> dict[str, object]:
    plain = asdict(answer)
    plain["warnings"] = [as_json(warning) for warning in answer.warnings]
    return plain | {
        "ball": conditions.ball.name,
        "wear": conditions.ball.wear.name,
        "model": conditions.model.name,
        "air_density_kgm3": conditions.air.density_kgm3,
        "wind_mps": list(conditions.air.wind_mps),
    }


def _told(answer: Answer, conditions: Conditions) -> str:
    ball, air = conditions.ball, conditions.air
    side = "right" if answer.drift_m >= 0 else "left"
    return "\n".join(
        [
            f"carry    {answer.carry_m:8.3f} m   from the mouth to the first bounce",
            f"drift    {abs(answer.drift_m):8.3f} m   to the {side} of the throw",
            f"flight   {answer.flight_s:8.3f} s",
            f"apex     {answer.apex_m:8.3f} m   ball's centre above the ground",
            f"bounce   {answer.speed_at_bounce_mps:8.3f} m/s "
            f"coming down at {answer.angle_at_bounce_deg:.1f} degrees",
            "",
            f"{ball.name} ball, {ball.wear.name} ({ball.mass_kg * 1000:.1f} g, "
            f"{ball.diameter_m * 1000:.1f} mm), air {air.density_kgm3:.4f} kg/m3, "
            f"model {conditions.model.name}",
        ]
    )
