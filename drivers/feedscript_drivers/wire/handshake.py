"""Opening a launcher: named steps, so that a failure says which one and what came instead."""

from __future__ import annotations

import math
from typing import Final

import anyio
from msgspec import Struct

from feedscript.launcher.port import Description, LauncherError
from feedscript_drivers.pages import KEY_DOWNGRADE, KEY_WRONG, LAUNCHER_REFUSED, NO_ANSWER
from feedscript_drivers.setting_up.keys import find_key
from feedscript_drivers.wire.handshake_diagnosis import advice
from feedscript_drivers.wire.link import Link
from feedscript_drivers.wire.messages import Argument, Reply, number
from feedscript_drivers.wire.protocol import UNSET, VERSION, Capability, Code, Number, version_of
from feedscript_drivers.wire.refused import OTHER_VERSION, fix, refusal
from feedscript_drivers.wire.seal import Direction, KeyedSeal, PlainSeal
from feedscript_drivers.wire.trust import Trust

#: A board that resets when its port is opened needs a moment before it hears anything.
HELLO_PATIENCE_S: Final = 6.0
STEP_PATIENCE_S: Final = 2.0
#: How long a launcher on a cable is tried with the key kept from pairing, before plain lines.
KEPT_KEY_PATIENCE_S: Final = 0.6
_HELLO_AGAIN_S: Final = 0.3
#: So long its firmware's version is waited for; a lesson needs none.
TOLD_PATIENCE_S: Final = 1.0
#: At a line each 50 ms it takes seven years to come here.
_MOST_COUNTER_BELIEVED: Final = 2**32 - 2**20


class HandshakeResult(Struct, frozen=True):
    """What the handshake learned."""

    description: Description
    boot: int
    memory_kept: bool
    left: int  # the feed id that left last, as far as it remembers
    last_event: int
    gate_clear_s: float


class _Hello(Struct, frozen=True):
    version: int
    boot: int
    counter: int
    capabilities: Capability
    watchdog_ms: int
    queue: int
    horizon_ms: int


class Handshake(Struct):
    """The steps over one link: hello, who, open, hash, limits.

    Without a key given, the one kept from pairing with this launcher is used, if there is one.
    ``trust`` says what becomes of a link without; a key that was given is never done without.
    """

    link: Link
    session: int
    nonce: int
    key: bytes | None = None
    trust: Trust = Trust.KEYED

    async def run(self) -> HandshakeResult:
        """All steps in order. Raises LauncherError that names the step that failed."""
        hello, serial, name = await self._greet()
        opened = await self._open(hello, serial)
        if isinstance(self.link.seal, KeyedSeal):
            # What came before was plain: anybody may have said it.
            hello, serial, name = await self._greet()
        kept, _, left, event = self._numbers(opened, "OPEN", "uUUu")
        profile_hash = (await self._step("HASH")).arguments[0]
        hold_ms = await self._stored(Number.HOLD_LIMIT_MS)
        clear_ms = await self._stored(Number.GATE_CLEAR_MS)
        firmware = await self._told(Number.FIRMWARE)
        homing_ms = UNSET if firmware == UNSET else await self._told(Number.HOMING_MS)
        description = Description(
            name=name,
            serial=serial,
            protocol=hello.version,
            profile_hash=profile_hash,
            capabilities=_names(hello.capabilities),
            watchdog_s=hello.watchdog_ms / 1000,
            queue_depth=hello.queue,
            hold_limit_s=hold_ms / 1000,
            horizon_s=hello.horizon_ms / 1000,
            homing_s=None if homing_ms == UNSET else homing_ms / 1000,
            firmware=version_of(firmware),
        )
        return HandshakeResult(description, hello.boot, bool(kept), left, event, clear_ms / 1000)

    async def _greet(self) -> tuple[_Hello, str, str]:
        """What it says of itself: hello, serial number, name."""
        hello = self._read_hello(await self._step("HELLO", VERSION, VERSION))
        serial, name = self._two_words(await self._step("WHO"))
        return hello, serial, name

    async def _open(self, hello: _Hello, serial: str) -> Reply:
        key = self.key
        if key is None and self.trust is not Trust.PLAIN:
            key = find_key(serial)
        if key is not None and Capability.KEYED in hello.capabilities:
            return await self._open_keyed(key, hello)
        if self.trust is Trust.KEYED or self.key is not None:
            raise self._without_a_key(serial, key)
        return await self._step("OPEN", self.session, self.nonce)

    async def _open_keyed(self, key: bytes, hello: _Hello) -> Reply:
        if hello.counter > _MOST_COUNTER_BELIEVED:
            raise self._used_up(hello.counter)
        seal = KeyedSeal(key, Direction.HOST, hello.boot, nonce=self.nonce, sent=hello.counter)
        self.link.seal = seal
        may_go_plain = self.trust is not Trust.KEYED and self.key is None
        try:
            with anyio.fail_after(KEPT_KEY_PATIENCE_S if may_go_plain else math.inf):
                opened = await self._step("OPEN", self.session, self.nonce)
        except TimeoutError:
            # It was paired with somebody else since, or its memory was wiped.
            self.link.seal = PlainSeal()
            return await self._step("OPEN", self.session, self.nonce)
        seal.opening = False
        return opened

    def _without_a_key(self, serial: str, key: bytes | None) -> LauncherError:
        if key is not None:
            return LauncherError(
                KEY_DOWNGRADE.report(
                    "step hello: it says that it takes no key, in a line that nobody vouches for",
                    help="somebody else may be answering: use the launcher's own cable, and see "
                    "there whether it was built with keys",
                    device=self.link.device,
                )
            )
        return LauncherError(
            KEY_WRONG.report(
                f"step open: this link is no cable, and no key of {serial!r} is kept here",
                help="pair it over its own cable with `feedscript pair --on serial:DEVICE`",
                device=self.link.device,
            )
        )

    def _used_up(self, counter: int) -> LauncherError:
        return LauncherError(
            KEY_WRONG.report(
                f"step hello: it says that {counter} keyed lines came since it was switched on",
                help="switch it off and on; if it says so again, somebody else is answering",
                device=self.link.device,
            )
        )

    async def _step(self, word: str, *arguments: Argument) -> Reply:
        patience_s = HELLO_PATIENCE_S if word == "HELLO" else STEP_PATIENCE_S
        again_s = _HELLO_AGAIN_S if word == "HELLO" else None
        started = anyio.current_time()
        reply: Reply | None = None
        with anyio.move_on_after(patience_s):
            reply = await self.link.command(
                word, *arguments, again_s=again_s, patience_s=patience_s + 1
            )
        if reply is None:
            raise self._unanswered(word, anyio.current_time() - started)
        if reply.code is not None:
            raise self._refused(word, reply)
        return reply

    async def _stored(self, which: Number) -> int:
        return self._numbers(await self._step("GET", int(which)), "GET", "ui")[1]

    async def _told(self, which: Number) -> int:
        """What it tells for people, its version say; nothing hangs on it, and a launcher that does
        not answer, as one of an old capture, tells nothing."""
        told: Reply | None = None
        with anyio.move_on_after(TOLD_PATIENCE_S):
            told = await self.link.command("GET", int(which))
        if told is None or told.code is not None:
            return UNSET
        return self._numbers(told, "GET", "ui")[1]

    def _unanswered(self, word: str, after_s: float) -> LauncherError:
        step = word.lower()
        return LauncherError(
            NO_ANSWER.report(
                f"step {step}: no answer in {after_s:.1f} s; {self.link.last_bytes()}",
                help=self._why_unanswered(word),
                device=self.link.device,
            )
        )

    def _why_unanswered(self, word: str) -> str:
        if isinstance(self.link.seal, KeyedSeal):
            return (
                "the key may not be this launcher's, or somebody else answered before: try again, "
                "or `feedscript pair --on serial:DEVICE` on its cable"
            )
        if word == "HELLO":
            return advice(bytes(self.link.tail), self.link.device)
        return "it answered the step before: look at its power and its cable, then try again"

    def _refused(self, word: str, reply: Reply) -> LauncherError:
        if reply.code == Code.KEY_NEEDED:
            # Since power-up the launcher may have been opened with a key that is not kept here.
            off_cable = self.trust is Trust.KEYED
            first = "" if off_cable else "switch the launcher off and on, then "
            return LauncherError(
                KEY_WRONG.report(
                    f"step {word.lower()}: this link needs the launcher's key, and none that fits "
                    "is known",
                    help=f"{first}pair it over its own cable with "
                    "`feedscript pair --on serial:DEVICE`",
                    device=self.link.device,
                )
            )
        return LauncherError(
            LAUNCHER_REFUSED.report(
                f"step {word.lower()}: refused, {refusal(reply)}",
                help=fix(reply),
                device=self.link.device,
            )
        )

    def _garbled(self, word: str) -> LauncherError:
        return LauncherError(
            NO_ANSWER.report(
                f"step {word.lower()}: the answer cannot be read; {self.link.last_bytes()}",
                help="does the launcher speak this version of the protocol?",
                device=self.link.device,
            )
        )

    def _other_version(self, version: int) -> LauncherError:
        return LauncherError(
            LAUNCHER_REFUSED.report(
                f"step hello: it answers in version {version} of the wire, and this feedscript "
                f"speaks {VERSION}: a stop might mean something else to it",
                help=OTHER_VERSION,
                device=self.link.device,
            )
        )

    def _numbers(self, reply: Reply, word: str, kinds: str) -> list[int]:
        values = [number(t, k) for t, k in zip(reply.arguments, kinds, strict=False)]
        known = [value for value in values if value is not None]
        if len(known) != len(kinds):
            raise self._garbled(word)
        return known

    def _two_words(self, reply: Reply) -> tuple[str, str]:
        if len(reply.arguments) != 2:
            raise self._garbled("WHO")
        return reply.arguments[0], reply.arguments[1]

    def _read_hello(self, reply: Reply) -> _Hello:
        texts = list(reply.arguments)
        try:
            texts[3] = str(int(texts[3], 16))
        except (IndexError, ValueError):
            raise self._garbled("HELLO") from None
        fixed = Reply(reply.sequence, None, tuple(texts))
        version, boot, counter, caps, _, watchdog, queue, horizon = self._numbers(
            fixed, "HELLO", "uUUuuuuU"
        )
        if version != VERSION:
            raise self._other_version(version)
        return _Hello(version, boot, counter, Capability(caps), watchdog, queue, horizon)


def _names(capabilities: Capability) -> frozenset[str]:
    known = [each for each in Capability if each in capabilities]
    return frozenset(str(each.name).lower().replace("_", "-") for each in known)
