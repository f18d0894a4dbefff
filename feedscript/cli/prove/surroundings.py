"""Ball, air and model as options: what commands that fly balls outside a program are told."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

import click

from feedscript.flight.aim.what_if import WIND, Bound
from feedscript.flight.air import air_at
from feedscript.flight.ball import ALIASES, BALLS, WEARS, ball_named
from feedscript.flight.models import DEFAULT_MODEL, MODELS, model_named
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.equations_of_motion import NO_DECAY, Decay
from feedscript.flight.written import read_wind
from feedscript.units import Dimension, UnitError, parse_quantity

T = TypeVar("T")
F = TypeVar("F", bound=Callable[..., Any])
Given = Mapping[str, str | None]

_OPTIONS = (
    click.option("--altitude", default="0 m", show_default=True, help="Of the court."),
    click.option("--air", help="Temperature, such as '28 C'; else the standard one there."),
    click.option("--pressure", help="Of the air, such as '950 hPa'; else the standard one there."),
    click.option("--humidity", help="Moist air by CIPM-2007: '60 %'. Else dry."),
    click.option(
        "--wind", default="none", show_default=True, help="'head 3 m/s, towards ad 1 m/s'."
    ),
    click.option(
        "--ball",
        default="type-2",
        show_default=True,
        help=f"Kind of ball: {', '.join([*BALLS, *ALIASES])}.",
    ),
    click.option(
        "--wear",
        default="new",
        show_default=True,
        help=f"How worn the ball is: {', '.join(WEARS)}, or 0 to 1.",
    ),
    click.option(
        "--model",
        default=DEFAULT_MODEL.name,
        show_default=True,
        help=f"Flight model: {', '.join(MODELS)}.",
    ),
    click.option(
        "--spin-decay",
        type=click.Choice(["none", "golf"]),
        default="none",
        show_default=True,
        help="How spin fades in flight.",
    ),
)


class BadOptionError(Exception):
    """An option that cannot be used; the text names it and says why."""


def surroundings_options(command: F) -> F:
    """``--altitude`` … ``--spin-decay``, passed on by their names as text."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


def read_surroundings(given: Given) -> Conditions:
    """The conditions that the options describe. Raises BadOptionError."""
    wind = reading("wind", lambda: read_wind(given["wind"] or ""))
    for value in wind:
        within("wind", value, WIND)
    altitude = quantity_of(given, "altitude", Dimension.LENGTH) or 0.0
    temperature = quantity_of(given, "air", Dimension.TEMPERATURE)
    pressure = quantity_of(given, "pressure", Dimension.PRESSURE)
    humidity = quantity_of(given, "humidity", Dimension.RATIO)
    air = reading("air", lambda: air_at(altitude, temperature, pressure, humidity, wind))
    ball = named("ball", given["ball"], ball_named, [*BALLS, *ALIASES])
    wear = given["wear"] or ""
    share = wear if wear in WEARS else reading("wear", lambda: float(wear))
    ball = reading("wear", lambda: ball.worn(share))
    model = named("model", given["model"], model_named, list(MODELS))
    decay = Decay.golf(ball) if given["spin_decay"] == "golf" else NO_DECAY
    return Conditions(ball, air, model, decay)


def quantity_of(given: Given, name: str, dimension: Dimension) -> float | None:
    """The quantity an option gives, or None where it was left out. Raises BadOptionError."""
    text = given[name]
    return None if text is None else reading(name, lambda: parse_quantity(text, dimension))


def reading(name: str, read: Callable[[], T]) -> T:
    """What ``read`` gives; its complaint becomes a BadOptionError about the option."""
    try:
        return read()
    except (UnitError, ValueError) as error:
        raise BadOptionError(f"--{name}: {error}") from error


def within(name: str, value: float, bound: Bound) -> None:
    """Raises BadOptionError for a value outside its bound."""
    complaint = bound.complaint(value)
    if complaint is not None:
        raise BadOptionError(f"--{name}: {complaint}")


def named(name: str, word: str | None, find: Callable[[str], T], known: list[str]) -> T:
    """What goes by this name; BadOptionError lists the known ones."""
    try:
        return find(word or "")
    except KeyError as error:
        raise BadOptionError(
            f"--{name}: nothing is known as {word!r}; known are {', '.join(known)}"
        ) from error
