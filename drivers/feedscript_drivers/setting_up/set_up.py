"""Putting a profile's limits into a launcher over its cable, and reading every one back."""

from __future__ import annotations

from msgspec import Struct

from feedscript.diagnostics import Diagnostic, Page, Severity
from feedscript.launcher.port import LauncherError, LauncherPort
from feedscript.launcher.profile.model import Profile, profile_hash
from feedscript_drivers.pages import KEY_WRONG, LAUNCHER_REFUSED
from feedscript_drivers.setting_up.own_number import give_number
from feedscript_drivers.wire.gauges import read_gauges
from feedscript_drivers.wire.limits import stored_numbers
from feedscript_drivers.wire.link import Link
from feedscript_drivers.wire.messages import NAME, Argument, Reply
from feedscript_drivers.wire.protocol import Code, Number
from feedscript_drivers.wire.refused import refusal
from feedscript_drivers.wire.seal import KeyedSeal
from feedscript_drivers.wire.wire_launcher import WireLauncher

STORED_DIFFERS = Page(
    slug="stored-differs",
    title="The launcher does not hold what was stored in it",
    why=(
        "Limits are the launcher's own fence: it refuses what is past them whatever a host says. "
        "So every number is read back after it was stored, and the set counts only when all of "
        "them and the profile's hash are there."
    ),
)

_FIXES = {
    int(Code.CABLE_ONLY): "nothing is stored by a port that needs the key: set it up at the "
    "launcher's cable; where this is its cable, fit the setup jumper for as long as you do",
    int(Code.NOT_CAPABLE): "it has no such number: its image is built for other parts than the "
    "board file describes (`STEPPERS`, `VALVE`), or its board measures neither supply nor "
    "temperature: leave `least_supply_mv` or `most_temperature_c` out then; a simulated launcher "
    "has none of a board's own: leave `--board` out",
    int(Code.OUT_OF_LIMITS): "no such part has that value: look at the key's unit in the board "
    "file, and whether the image is built for these parts (`WHEELS`, `VALVE`)",
}

#: The launcher's reference firmware knows no slower one: `shared/protocol.md`, section 7.
_TOO_SLOW = (
    "the profile says `{}`, degrees a second: an axis slower than 0.3 is waited for by nobody, and "
    "the reference firmware keeps none"
)
_RATES = {
    int(Number.PAN_RATE_CDEG_S): "azimuth_rate_dps",
    int(Number.TILT_RATE_CDEG_S): "elevation_rate_dps",
}

NO_LEAST_VOLTAGE = Page(
    slug="no-least-voltage",
    title="A launcher that does not watch its supply",
    severity=Severity.WARNING,
    why=(
        "A launcher that measures its supply stops by itself when that falls below a voltage that "
        "you say (number 18), and you are told about how many balls its battery still has. "
        "Without one it drives on: its wheels slow down, balls land short, and a battery that is "
        "emptied too far is ruined. Set it from the battery maker's data sheet."
    ),
)

NOT_A_NAME = Page(
    slug="not-a-name",
    title="A name that a launcher cannot be called by",
    why=(
        "A launcher's name goes over its line, and into the lists in which people choose one: "
        "1 to 32 letters of the English alphabet, digits, points, dashes and underscores."
    ),
)

NOT_SETTABLE = Page(
    slug="not-settable",
    title="A launcher that stores no limits",
    why="Only launchers that speak this project's wire keep limits that a host can put there.",
)


class StoredNumber(Struct, frozen=True):
    """One number as the launcher now holds it."""

    number: int
    name: str
    value: int


class LauncherSetUp(Struct, frozen=True):
    """What a launcher holds after it was set up, and what of it deserves a second thought."""

    stored: tuple[StoredNumber, ...]
    diagnostics: tuple[Diagnostic, ...]


async def set_up(
    launcher: LauncherPort, profile: Profile, board: dict[int, int], name: str = ""
) -> LauncherSetUp:
    """Store the limits of ``profile``, the board's numbers, and the hash that makes them valid; and
    a number of its own, where the launcher has none yet; and the name that it shall be called by,
    if one is given.

    The launcher must be *safe* and at its cable. That its port needs the key is stored last, for
    nothing can be stored by that port any more, and only under the key, which shows that this user
    holds it. Raises LauncherError when it refuses, or when a number reads back otherwise than it
    was stored.
    """
    if not isinstance(launcher, WireLauncher):
        name = launcher.description.name
        raise LauncherError(NOT_SETTABLE.report("it keeps no limits of its own", device=name))
    link = launcher.link
    wanted = {**{int(n): value for n, value in stored_numbers(profile).items()}, **board}
    shuts = wanted.get(Number.KEY_NEEDED) == 1
    if shuts and not isinstance(link.seal, KeyedSeal):
        raise _not_paired(link)
    await give_number(link)
    if name:
        await _give_name(link, name)
    for number, value in wanted.items():
        if not (shuts and number == Number.KEY_NEEDED):
            await _do(link, "SET", number, value)
    await _do(link, "HASH", profile_hash(profile))
    if shuts:
        await _do(link, "SET", int(Number.KEY_NEEDED), 1)
    held = [await _read_back(link, number, value) for number, value in wanted.items()]
    answer = await _do(link, "HASH")
    if answer.arguments[:1] != (profile_hash(profile),):
        raise _differs(link, "the profile's hash", "another")
    return LauncherSetUp(tuple(held), await _missing(link))


async def _missing(link: Link) -> tuple[Diagnostic, ...]:
    """What may be left out, and is better not. The launcher may hold it from an earlier set-up."""
    gauges = await read_gauges(link)
    if gauges.supply_v is None or gauges.least_supply_v is not None:
        return ()
    return (
        NO_LEAST_VOLTAGE.report(
            f"it measures its supply ({gauges.supply_v:.1f} V now) and is not told at which "
            "voltage to stop",
            help="add least_supply_mv to the board file, by the battery's data sheet, and set "
            "it up again",
            device=link.device,
        ),
    )


async def _give_name(link: Link, name: str) -> None:
    """Raises LauncherError also for a name that the wire cannot carry."""
    if not NAME.fullmatch(name):
        raise LauncherError(
            NOT_A_NAME.report(
                f"{name!r} cannot be a launcher's name",
                help="1 to 32 letters, digits, points, dashes or underscores: court-2",
                device=link.device,
            )
        )
    await _do(link, "NAME", name)
    who = await _do(link, "WHO")
    if who.arguments[1:] != (name,):
        raise _differs(link, f"the name {name!r}", " ".join(who.arguments[1:]) or "nothing")


async def _read_back(link: Link, number: int, value: int) -> StoredNumber:
    answer = await _do(link, "GET", number)
    if answer.arguments != (str(number), str(value)):
        shown = " ".join(answer.arguments[1:]) or "nothing"
        raise _differs(link, f"{_name(number)} = {value}", shown)
    return StoredNumber(number, _name(number), value)


async def _do(link: Link, word: str, *arguments: Argument) -> Reply:
    reply = await link.command(word, *arguments)
    if reply.code is None:
        return reply
    what = " ".join([word, *(str(argument) for argument in arguments[:1])])
    raise LauncherError(
        LAUNCHER_REFUSED.report(
            f"{what} was refused: {refusal(reply)}",
            help=_fix(reply.code, arguments),
            device=link.device,
        )
    )


def _fix(code: int, arguments: tuple[Argument, ...]) -> str:
    number = arguments[0] if arguments else None
    if code == Code.OUT_OF_LIMITS and isinstance(number, int) and number in _RATES:
        return _TOO_SLOW.format(_RATES[number])
    return _FIXES.get(code, "store while the launcher is safe and not armed")


def _not_paired(link: Link) -> LauncherError:
    return LauncherError(
        KEY_WRONG.report(
            "this_port_needs_the_key = 1 would shut this port to you: the launcher was not opened "
            "under a key; nothing was stored",
            help=f"first `feedscript pair {link.device}`, on this cable, then set it up again",
            device=link.device,
        )
    )


def _differs(link: Link, wanted: str, found: str) -> LauncherError:
    return LauncherError(
        STORED_DIFFERS.report(
            f"stored {wanted}, read back {found}",
            help="store them again; if it stays so, the launcher's memory is worn or broken",
            device=link.device,
        )
    )


def _name(number: int) -> str:
    try:
        return Number(number).name.lower()
    except ValueError:
        return f"board's own {number}"
