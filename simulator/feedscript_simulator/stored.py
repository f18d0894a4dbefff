"""What the stand-in keeps over a power cut: limits, the profile's hash, the key, the power-ups."""

from __future__ import annotations

import re
from collections import deque

from feedscript_drivers.wire.limits import stored_numbers
from feedscript_drivers.wire.protocol import (
    ARGUMENT_RANGES,
    KEEPS_FAULTS,
    UNSET,
    Number,
    Times,
)
from msgspec import Struct, field

from feedscript.launcher.profile.model import Profile, profile_hash

_NO_HASH = "0" * 64

_ANGLES = range(Number.PAN_LEAST_CDEG, Number.ROLL_MOST_CDEG + 1)
_MOST = {
    int(Number.DRIVE_1_MOST): 32_000,
    int(Number.DRIVE_2_MOST): 32_000,
    int(Number.DRIVE_3_MOST): 32_000,
    int(Number.HOLD_LIMIT_MS): Times.HOLD_MOST,
    int(Number.KEY_NEEDED): 1,
}


class Stored(Struct):
    """The launcher's slow memory."""

    numbers: dict[int, int] = field(default_factory=dict)
    profile_hash: str = _NO_HASH
    key: bytes | None = None
    boots: int = 0
    serial: str = "0"
    name: str = "launcher"
    log: deque[tuple[int, int, int, int]] = field(
        default_factory=lambda: deque(maxlen=KEEPS_FAULTS)
    )

    def get(self, which: int) -> int:
        return self.numbers.get(which, UNSET)

    @staticmethod
    def allows(which: int, value: int) -> bool:
        """Whether a number can be this at all; any may be unset again."""
        if value == UNSET:
            return True
        if which in _ANGLES:
            least, most = ARGUMENT_RANGES["a"]
            return least <= value <= most
        return 0 <= value <= _MOST.get(which, 1_000_000)

    def put(self, which: int, value: int) -> None:
        """Store a number; the hash that vouched for the old set of limits is forgotten."""
        self.numbers[which] = value
        if which < Number.KEY_NEEDED:  # that one is no limit of the machine
            self.profile_hash = _NO_HASH

    def note_fault(self, second: int, what: int, detail: int) -> None:
        """Keep a row of the log of faults."""
        self.log.append((self.boots, min(second, 65_535), what, detail))

    def missing(self) -> int | None:
        """The first number without which it does not arm; 0 for the hash."""
        for which in range(Number.DRIVE_1_MOST, Number.HOLD_LIMIT_MS + 1):
            if self.get(which) == UNSET:
                return which
        return 0 if self.profile_hash == _NO_HASH else None


def stored_for(profile: Profile) -> Stored:
    """The slow memory of a launcher that was set up with this profile."""
    return Stored(
        numbers={int(which): value for which, value in stored_numbers(profile).items()},
        profile_hash=profile_hash(profile),
        serial=_word(profile.serial) or "stand-in",
        name=_word(profile.name) or "launcher",
    )


def _word(text: str) -> str:
    """A name as the wire carries it."""
    return re.sub(r"[^A-Za-z0-9._-]+", "-", text).strip("-")[:32]
