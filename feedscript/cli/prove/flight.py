"""``feedscript flight``: where would one ball land?"""

from __future__ import annotations

from typing import NoReturn

import click
import msgspec

from feedscript.cli.options import format_option
from feedscript.cli.output import Exit, answer, refuse
from feedscript.cli.prove.surroundings import (
    BadOptionError,
    Given,
    quantity_of,
    read_surroundings,
    reading,
    surroundings_options,
    within,
)
from feedscript.diagnostics import as_json
from feedscript.flight.aim import what_if
from feedscript.flight.aim.what_if import Answer, Bound
from feedscript.flight.launches import Launches
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.written import read_spin
from feedscript.formats import headed
from feedscript.units import Dimension


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
@surroundings_options
@format_option
def command(output_format: str, **options: str | None) -> None:
    """Where one ball lands, for given launch conditions.

    Given nothing else: a new type 2 ball at mid-specification (57.7 g, 67.0 mm), the standard
    atmosphere at sea level (15 C, 1013.25 hPa, 1.2250 kg/m3, dry), no wind, no spin, and drag
    and lift by Stepanek 1988. Heights are of the ball's centre; the flight ends at the first
    bounce, where the centre is one radius above the ground. Carry is from the mouth along the
    azimuth thrown, drift to the right of it. The spin axis is as written, level or upright;
    'gyro' turns about the line of throw.
    """
    try:
        launches, conditions = _launches(options), read_surroundings(options)
    except BadOptionError as error:
        _refuse(str(error), output_format)
    found = what_if.ask(launches, conditions)
    if found is None:
        message = "the ball does not come down within a minute, or starts in the ground"
        _refuse(message, output_format)
    answer(output_format, _plain(found, conditions), _told(found, conditions), found.warnings)


def _refuse(message: str, output_format: str) -> NoReturn:
    found = what_if.NOT_A_FLIGHT.report(message, device="flight")
    refuse(Exit.USAGE, [found], output_format)


def _launches(options: Given) -> Launches:
    def number(name: str, dimension: Dimension, bound: Bound) -> float:
        value = quantity_of(options, name, dimension) or 0.0
        within(name, value, bound)
        return value

    spin = reading("spin", lambda: read_spin(options["spin"] or ""))
    for value in spin:
        within("spin", value, what_if.SPIN)
    return Launches.of(
        number("speed", Dimension.SPEED, what_if.SPEED),
        number("elevation", Dimension.ANGLE, what_if.ELEVATION),
        number("azimuth", Dimension.ANGLE, what_if.AZIMUTH),
        top_rpm=spin.top_rpm,
        side_rpm=spin.side_rpm,
        gyro_rpm=spin.gyro_rpm,
        z_m=number("height", Dimension.LENGTH, what_if.HEIGHT),
    )


def _plain(found: Answer, conditions: Conditions) -> dict[str, object]:
    plain = msgspec.structs.asdict(found)
    plain["warnings"] = [as_json(warning) for warning in found.warnings]
    plain |= {
        "ball": conditions.ball.name,
        "wear": conditions.ball.wear.name,
        "model": conditions.model.name,
        "air_density_kgm3": conditions.air.density_kgm3,
        "wind_mps": list(conditions.air.wind_mps),
    }
    return headed("flight", plain)


def _told(found: Answer, conditions: Conditions) -> str:
    ball, air = conditions.ball, conditions.air
    side = "right" if found.drift_m >= 0 else "left"
    return "\n".join(
        [
            f"carry    {found.carry_m:8.3f} m   from the mouth to the first bounce",
            f"drift    {abs(found.drift_m):8.3f} m   to the {side} of the throw",
            f"flight   {found.flight_s:8.3f} s",
            f"apex     {found.apex_m:8.3f} m   ball's centre above the ground",
            f"bounce   {found.speed_at_bounce_mps:8.3f} m/s "
            f"coming down at {found.angle_at_bounce_deg:.1f} degrees",
            "",
            f"{ball.name} ball, {ball.wear.name} ({ball.mass_kg * 1000:.1f} g, "
            f"{ball.diameter_m * 1000:.1f} mm), air {air.density_kgm3:.4f} kg/m3, "
            f"model {conditions.model.name}",
        ]
    )
