"""Who may look, who may command: one-time pairing codes, device tokens, and the one control.

A device pairs with a code that works once and only for a short time. A *coach* device may take
control, a *viewer* only sees the public view; every paired device may stop. Only hashes of tokens
are kept. Nothing here can arm a launcher: that is a person's act at the launcher.
"""

from __future__ import annotations

import hashlib
import secrets
import threading
from collections.abc import Callable
from enum import StrEnum

import msgspec

from feedscript.diagnostics import Diagnostic, Page
from feedscript.tongues.text import _
from feedscript.visible import on_one_line

#: Holds a device's token in its browser.
COOKIE = "feedscript_device"
#: Letters and digits that are not mistaken for one another on a sunlit screen.
ALPHABET = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
#: 32 ** 10, 50 bits. A lock after wrong codes would let any stranger lock the right one out, so the
#: length alone keeps guessers away: five thousand tries a second, more than this server answers,
#: through the whole life of a code hit it once in 300 million times.
CODE_LENGTH = 10
CODE_LIFE_S = 600.0
TOKEN_LIFE_S = 12 * 3600.0
#: A control device that was not heard of for this long may be replaced by another.
CONTROL_SILENCE_S = 10.0

NOT_PAIRED = Page(
    slug="not-paired",
    title="The device is not paired",
    why=(
        "Only a paired device sees a lesson. Pairing takes the one-time code that the laptop "
        "shows; it works once, for ten minutes. Wrong codes, whoever tries them, never lock the "
        "right one out; it is too long to be guessed in its time."
    ),
)

NOT_IN_CONTROL = Page(
    slug="not-in-control",
    title="Another device holds control",
    why=(
        "One device runs a lesson, so that two people never give it opposite commands. Every "
        "paired device may stop. A viewer may only look and stop."
    ),
)


class Role(StrEnum):
    """What a device was paired for."""

    COACH = "coach"
    VIEWER = "viewer"


class Device(msgspec.Struct, frozen=True):
    """One paired device. ``key`` is the hash of its token, ``page`` that of what its pages know."""

    key: str
    page: str
    name: str
    role: Role
    until_s: float


class Paired(msgspec.Struct, frozen=True):
    """What a device is given, to be kept by it alone: ``token`` goes to every port of this machine
    (RFC 6265, 8.5), ``page`` is known to pages of the address alone that it was paired at."""

    token: str
    page: str
    device: Device


class _Code(msgspec.Struct, frozen=True):
    role: Role
    until_s: float


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


class Access:
    """Codes, devices and control of one running console. ``clock`` gives rising seconds.

    The page's thread uses it, and the lesson's shows new codes: what both touch takes the lock.
    """

    def __init__(self, clock: Callable[[], float]) -> None:
        self.clock = clock
        self._codes: dict[str, _Code] = {}
        self._devices: dict[str, Device] = {}
        self._holder: str | None = None
        self._holder_heard_s = 0.0
        self._lock = threading.Lock()

    def new_code(self, role: Role) -> str:
        """A fresh one-time code; an older one for the same role no longer works."""
        code = "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))
        with self._lock:
            self._codes = {key: code for key, code in self._codes.items() if code.role is not role}
            self._codes[_hash(code)] = _Code(role, self.clock() + CODE_LIFE_S)
        return code

    def waits_for_a(self, role: Role) -> bool:
        """Whether a code for this role is neither spent nor stale."""
        now = self.clock()
        with self._lock:
            return any(code.role is role and code.until_s >= now for code in self._codes.values())

    def pair(self, code: str, name: str) -> Paired | Diagnostic:
        """Spend a code."""
        now = self.clock()
        with self._lock:
            found = self._codes.pop(_hash(code.strip().upper().replace("-", "")), None)
        if found is None or found.until_s < now:
            return NOT_PAIRED.report(
                _("the code is not valid (it works once, for ten minutes)"),
                help=_("ask the laptop for a new code"),
            )
        token, page = secrets.token_urlsafe(32), secrets.token_urlsafe(32)
        called = on_one_line(name.strip())[:40] or "device"
        device = Device(_hash(token), _hash(page), called, found.role, now + TOKEN_LIFE_S)
        self._devices[device.key] = device
        return Paired(token, page, device)

    def anybody(self) -> bool:
        """Whether a coach's device is paired."""
        now = self.clock()
        devices = tuple(self._devices.values())
        return any(one.role is Role.COACH and one.until_s >= now for one in devices)

    def device_of_page(self, token: str | None, page: str) -> Device | None:
        """The device of a page that knows both; None for who has the token alone."""
        found = self.device(token)
        known = found is not None and secrets.compare_digest(found.page, _hash(page))
        return found if known else None

    def device(self, token: str | None) -> Device | None:
        """The device that holds this token; None for a stranger or a token past its time. Others
        may have been sent it: it opens nothing but a page without a word of the lesson."""
        found = self._devices.get(_hash(token)) if token else None
        return found if found is not None and found.until_s >= self.clock() else None

    def keep_alive(self, device: Device) -> None:
        """The device gave a sign of life."""
        if device.key == self._holder:
            self._holder_heard_s = self.clock()

    def holds_control(self, device: Device) -> bool:
        return device.key == self._holder

    def holder_name(self) -> str | None:
        holder = self._devices.get(self._holder or "")
        return holder.name if holder else None

    def take_control(self, device: Device) -> Diagnostic | None:
        """Give control to a coach device if it is free or its holder has gone silent."""
        if device.role is not Role.COACH:
            return NOT_IN_CONTROL.report(
                _("this device was paired as a viewer"),
                help=_("pair it again with a coach's code"),
            )
        silent_s = self.clock() - self._holder_heard_s
        if self._holder not in (None, device.key) and silent_s < CONTROL_SILENCE_S:
            return NOT_IN_CONTROL.report(
                _("{name} holds control", name=self.holder_name()),
                help=_("have it hand control over; a device silent for ten seconds loses it"),
            )
        self._holder = device.key
        self._holder_heard_s = self.clock()
        return None

    def hand_over(self, device: Device) -> None:
        """Let control go, if this device holds it."""
        if device.key == self._holder:
            self._holder = None
