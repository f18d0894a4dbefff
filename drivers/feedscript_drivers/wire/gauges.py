"""What a launcher measures of itself beside its drives: its supply's voltage, its warmest motor."""

from __future__ import annotations

import contextlib
from typing import Final

from msgspec import Struct

from feedscript_drivers.wire.link import Link
from feedscript_drivers.wire.protocol import UNSET, Number

#: From one reading to the next. Design value: a ball or two lie between.
EVERY_S: Final = 5.0
_NOT_MEASURED: Final = -1


class Gauges(Struct, frozen=True):
    """One reading; None where nothing is measured, or was not read yet."""

    supply_v: float | None = None
    least_supply_v: float | None = None  # at which the launcher stops by itself
    temperature_c: float | None = None

    @property
    def any(self) -> bool:
        """Whether there is anything to read again."""
        return self.supply_v is not None or self.temperature_c is not None


async def read_gauges(link: Link) -> Gauges:
    """Ask for all of them. Raises LauncherError."""
    supply_mv = await _ask(link, Number.VOLTAGE_MV)
    least_mv = await _ask(link, Number.LEAST_VOLTAGE_MV)
    temperature_c = await _ask(link, Number.TEMPERATURE_C)
    return Gauges(
        supply_v=None if supply_mv in (None, _NOT_MEASURED) else supply_mv / 1000,
        least_supply_v=None if least_mv is None else least_mv / 1000,
        temperature_c=None if temperature_c == _NOT_MEASURED else temperature_c,
    )


async def _ask(link: Link, which: Number) -> int | None:
    reply = await link.command("GET", int(which))
    with contextlib.suppress(ValueError, IndexError):
        value = int(reply.arguments[1])
        return None if value == UNSET else value
    return None
