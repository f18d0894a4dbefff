"""Air: its density, and how it moves over the court.

Two sources. Where only altitude and temperature are known, the International Standard Atmosphere
(ISO 2533:1975; ICAO Doc 7488) gives pressure and the ideal-gas law gives density. Where humidity
is known too, the moist-air formula CIPM-2007 does (Picard, Davis, Glaeser & Fujii, Metrologia 45,
2008, 149-155; published for 600 to 1100 hPa and 15 to 27 C; outside that it is still the best
formula to hand).
"""

from __future__ import annotations

import math

import msgspec

from feedscript.court.ranges import AIR_C, ALTITUDE_M, HUMIDITY, PRESSURE_HPA

STANDARD_GRAVITY = 9.80665  # m/s^2, ISO 2533
_ISA_TEMPERATURE_K = 288.15
_ISA_PRESSURE_PA = 101325.0
_ISA_LAPSE_K_PER_M = 0.0065
_DRY_AIR_J_PER_KG_K = 287.05287
_EARTH_RADIUS_M = 6_356_766.0
_ZERO_C = 273.15


class Air(msgspec.Struct, frozen=True):
    """Air of one density, moving steadily and level.

    ``wind_mps`` is where the air goes, not where it comes from: (+x to the right as the launcher
    looks at the receiver, +y from the launcher to the receiver). A wind of (0, 3) is a tail wind
    for the feed.
    """

    density_kgm3: float
    wind_mps: tuple[float, float] = (0.0, 0.0)


def isa_pressure_pa(altitude_m: float) -> float:
    """Pressure of the standard atmosphere at a geometric altitude, in the troposphere."""
    geopotential = _EARTH_RADIUS_M * altitude_m / (_EARTH_RADIUS_M + altitude_m)
    exponent = STANDARD_GRAVITY / (_DRY_AIR_J_PER_KG_K * _ISA_LAPSE_K_PER_M)
    ratio = 1 - _ISA_LAPSE_K_PER_M * geopotential / _ISA_TEMPERATURE_K
    return float(_ISA_PRESSURE_PA * ratio**exponent)


def isa_temperature_c(altitude_m: float) -> float:
    """Temperature of the standard atmosphere at a geometric altitude, in the troposphere."""
    geopotential = _EARTH_RADIUS_M * altitude_m / (_EARTH_RADIUS_M + altitude_m)
    return _ISA_TEMPERATURE_K - _ISA_LAPSE_K_PER_M * geopotential - _ZERO_C


def dry_density(pressure_pa: float, temperature_c: float) -> float:
    """Density of dry air in kg/m^3 by the ideal-gas law with the ISA's gas constant."""
    return pressure_pa / (_DRY_AIR_J_PER_KG_K * (temperature_c + _ZERO_C))


def cipm_density(
    pressure_pa: float, temperature_c: float, humidity: float, carbon_dioxide: float = 400e-6
) -> float:
    """Density of moist air in kg/m^3 by CIPM-2007; ``humidity`` is the share 0 to 1."""
    t, kelvin, p = temperature_c, temperature_c + _ZERO_C, pressure_pa
    saturation = math.exp(
        1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6.3431645e3 / kelvin
    )
    enhancement = 1.00062 + 3.14e-8 * p + 5.6e-7 * t**2
    vapour = humidity * enhancement * saturation / p
    first = (
        1.58123e-6
        - 2.9331e-8 * t
        + 1.1043e-10 * t**2
        + (5.707e-6 - 2.051e-8 * t) * vapour
        + (1.9898e-4 - 2.376e-6 * t) * vapour**2
    )
    second = 1.83e-11 - 0.765e-8 * vapour**2
    compressibility = 1 - p / kelvin * first + (p / kelvin) ** 2 * second
    dry_molar = 28.96546e-3 + 12.011e-3 * (carbon_dioxide - 400e-6)
    water_molar = 18.01528e-3
    moist = 1 - vapour * (1 - water_molar / dry_molar)
    return p * dry_molar / (compressibility * 8.314472 * kelvin) * moist


def air_at(
    altitude_m: float = 0.0,
    temperature_c: float | None = None,
    pressure_hpa: float | None = None,
    humidity: float | None = None,
    wind_mps: tuple[float, float] = (0.0, 0.0),
) -> Air:
    """The air of a court.

    Pressure and temperature that are not given are those of the standard atmosphere at
    ``altitude_m``. With ``humidity`` (share 0 to 1) the density is CIPM-2007's, else dry.
    Given nothing, this is the ISA at sea level: 15 C, 1013.25 hPa, 1.2250 kg/m^3, no wind.
    ValueError for an altitude, temperature, pressure or humidity that no court has.
    """
    _hold("an altitude", altitude_m, ALTITUDE_M, " m")
    t = isa_temperature_c(altitude_m) if temperature_c is None else temperature_c
    p = isa_pressure_pa(altitude_m) if pressure_hpa is None else pressure_hpa * 100
    _hold("an air temperature", t, AIR_C, " C")
    _hold("an air pressure", p / 100, PRESSURE_HPA, " hPa")
    if humidity is None:
        return Air(dry_density(p, t), wind_mps)
    _hold("a humidity", humidity, HUMIDITY, "")
    return Air(cipm_density(p, t, humidity), wind_mps)


def _hold(what: str, value: float, allowed: tuple[float, float], unit: str) -> None:
    low, high = allowed
    # A hair is let by: an end may come back from its unit rounded.
    if not low - 1e-9 <= value <= high + 1e-9:
        raise ValueError(f"{what} of {value:g}{unit} is not between {low:g} and {high:g}{unit}")


ISA_SEA_LEVEL = air_at()
