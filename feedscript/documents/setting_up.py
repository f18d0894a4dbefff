"""Documents of the commands that find, check and set up launchers."""

from __future__ import annotations

import msgspec
from msgspec import UNSET, UnsetType

from feedscript.building.parts import Rating
from feedscript.documents.common import Diagnostics, Pair
from feedscript.launcher.port import LauncherState


class FoundLauncher(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that might be a launcher."""

    address: str  # for `--on`
    what: str  # what the system calls it
    usb: str  # vendor:product in hexadecimal; empty where it is no such thing
    stable: str  # a name that stays when ports are plugged in another order
    launcher: str  # its own name, once it answered
    trouble: str  # why it did not answer


class Find(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript find`: serial ports and launchers in range."""

    found: tuple[FoundLauncher, ...]
    troubles: tuple[str, ...]  # what was not searched, and why


class LookedAt(msgspec.Struct, frozen=True, kw_only=True):
    """What was looked at on this machine."""

    what: str
    fine: bool
    seen: str
    fix: str  # the one command, or act, that mends it


class LookOver(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript look-over`: what keeps this machine from a launcher."""

    ok: bool  # some way to a launcher is open
    findings: tuple[LookedAt, ...]


class SetUp(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript set-up`: what a launcher now holds."""

    stored: dict[str, int]  # each number, as the wire has it, by its name
    diagnostics: Diagnostics  # what is better not left out, as a voltage at which to stop


class Paired(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript pair`: a launcher paired with this user."""

    serial: str  # the launcher's own number
    key_file: str  # where this user's key lies


class CheckedPart(msgspec.Struct, frozen=True, kw_only=True):
    """One part of a check."""

    name: str
    figure: str  # what was measured or seen
    fine: bool
    help: str  # where to look when it is not


class LinkCheck(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript link-check`: round trip, loss, clock and stop of a link."""

    ok: bool
    parts: tuple[CheckedPart, ...]


class BoardCheck(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript board-check`: a controller board of your own."""

    ok: bool
    steps: tuple[CheckedPart, ...]


class JogLine(msgspec.Struct, frozen=True, kw_only=True):
    """One line of `feedscript jog`. Which fields it has says what it is: an event of the launcher
    has ``event``; its status has ``drives``; help, a request to the person and a ball on its way
    have theirs."""

    diagnostics: Diagnostics | UnsetType = UNSET
    help: str | UnsetType = UNSET  # what may be typed
    person: str | UnsetType = UNSET  # what somebody has to do at the launcher
    in_s: float | UnsetType = UNSET  # until the ball leaves
    #: state, left, not-sent, outcome-unknown, fault, link-lost or another word of the launcher's
    event: str | UnsetType = UNSET
    device_s: float | UnsetType = UNSET  # by the launcher's clock
    feed_id: int | UnsetType = UNSET
    state: LauncherState | UnsetType = UNSET
    reason: str | UnsetType = UNSET
    kind: str | UnsetType = UNSET  # of a fault
    detail: str | UnsetType = UNSET  # of a fault, or of a link that was lost
    cause: str | UnsetType = UNSET  # of a link that was lost, where it is known
    last_left_feed_id: int | UnsetType = UNSET  # 0: none yet
    queued: int | UnsetType = UNSET  # balls that it was asked for and that are still to leave
    hopper_balls: int | UnsetType | None = UNSET
    drives: tuple[float, ...] | UnsetType = UNSET  # as the profile's kind names them
    supply_v: float | UnsetType | None = UNSET  # null where it is not sensed
    temperature_c: float | UnsetType | None = UNSET  # of the hotter motor


class StandInLine(msgspec.Struct, frozen=True, kw_only=True):
    """One line of `feedscript stand-in`. ``event`` says what it is, and so which fields it has."""

    event: str  # ready, keys, power-up, state, left, not-sent, outcome-unknown, fault, end
    at_s: float | UnsetType = UNSET  # by the simulated launcher's clock
    boot: int | UnsetType = UNSET  # how often it was switched on
    feed_id: int | UnsetType = UNSET
    reason: str | UnsetType = UNSET
    state: str | UnsetType = UNSET
    fault: str | UnsetType = UNSET
    drives: tuple[float, ...] | UnsetType = UNSET  # as the profile's kind names them
    pose_deg: tuple[float, ...] | UnsetType = UNSET  # pan, tilt and roll
    landing_m: Pair | UnsetType = UNSET  # to the right of where it faces, and ahead
    speed_mps: float | UnsetType = UNSET
    address: str | UnsetType = UNSET  # for `--on`
    balls: int | UnsetType = UNSET  # that left, in all


class MappedKeys(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript mapped keys`: every key of a mapping."""

    ok: bool  # true
    page: str  # in Markdown


class MappedCheck(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript mapped check`: whether a mapping can be used."""

    ok: bool
    diagnostics: Diagnostics
    lacks: tuple[str, ...]  # guarantees of the wire that its device does not keep


class ListedMapping(msgspec.Struct, frozen=True, kw_only=True):
    """One mapping."""

    name: str
    file: str
    about: str  # its device, in a sentence


class MappedExamples(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript mapped examples`: mappings of invented devices, to be copied."""

    mappings: tuple[ListedMapping, ...]  # each of them


class Parts(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript parts`: what the parts of a launcher must bear."""

    ok: bool  # true
    launcher: str  # its name
    ratings: tuple[Rating, ...]
    drawings: tuple[str, ...]  # files that were written
    caution: str


DOCUMENTS = {
    "find": Find,
    "look-over": LookOver,
    "set-up": SetUp,
    "pair": Paired,
    "link-check": LinkCheck,
    "board-check": BoardCheck,
    "jog-line": JogLine,
    "stand-in-line": StandInLine,
    "mapped-keys": MappedKeys,
    "mapped-check": MappedCheck,
    "mapped-examples": MappedExamples,
    "parts": Parts,
}
