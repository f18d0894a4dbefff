"""A launcher's own number, by which it is told from every other of its build."""

from __future__ import annotations

import secrets

from feedscript_drivers.wire.link import Link
from feedscript_drivers.wire.protocol import Number

_ANSWER_S = 0.5  # slow memory takes its time
_UNSET = str(-(2**31))


async def give_number(link: Link) -> None:
    """Store a random number in a launcher that has none yet, once and for good.

    Launchers of one build are alike until each has its own; one that its maker numbered says that
    it is not capable of another, and keeps what it has.
    """
    held = await link.command("GET", int(Number.OWN_NUMBER))
    if held.code is None and held.arguments[1:] == (_UNSET,):
        own = secrets.randbelow(2**31 - 1) + 1
        await link.command("SET", int(Number.OWN_NUMBER), own, again_s=_ANSWER_S)
