"""``serial:DEVICE``: the wire over a serial port, opened for this program alone.

``serial:/dev/ttyUSB0`` or ``serial:/dev/ttyUSB0@250000`` for another speed than the profile's. With
``@keyed`` at its end the port has a radio behind it: no cable, so it needs the launcher's key.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import sys
from collections.abc import AsyncIterator
from typing import Final

import anyio
import serial
from anyio.abc import ByteStream

from feedscript.diagnostics import Diagnostic
from feedscript.launcher.port import ConnectOptions, LauncherError, LauncherPort
from feedscript.override import override
from feedscript_drivers.pages import ADDRESS, PORT_BUSY, PORT_DENIED, PORT_MISSING
from feedscript_drivers.transports.radio_ports import is_radio
from feedscript_drivers.transports.tap import transport_tap
from feedscript_drivers.wire.trust import Trust
from feedscript_drivers.wire.wire_launcher import open_launcher

_CHUNK: Final = 4096
_WRITE_S: Final = 1.0  # a line fits any buffer: one that never empties means a dead far end
_POLL_S: Final = 0.1
_KEYED: Final = "@keyed"
#: An error of Windows', which pyserial only quotes.
_QUOTED: Final = re.compile(r"\w*Error\((\d+), '([^']*)'")


class SerialStream(ByteStream):
    """A serial port as a byte stream. On Windows a thread reads; elsewhere the event loop does."""

    def __init__(self, port: serial.Serial) -> None:
        self._port = port
        self._threaded = sys.platform == "win32"

    @override
    async def receive(self, max_bytes: int = _CHUNK) -> bytes:
        try:
            if self._threaded:
                return await self._receive_in_thread(max_bytes)
            while True:
                await anyio.wait_readable(self._port.fileno())
                data: bytes = self._port.read(max_bytes)
                if data:
                    return data
        except (serial.SerialException, OSError, TypeError) as error:
            # pyserial raises TypeError when the port was closed under a read.
            raise anyio.EndOfStream from error

    async def _receive_in_thread(self, max_bytes: int) -> bytes:
        def read() -> bytes:
            self._port.timeout = _POLL_S
            data: bytes = self._port.read(1)
            data += self._port.read(min(self._port.in_waiting, max_bytes - 1))
            return data

        while True:
            data = await anyio.to_thread.run_sync(read)
            if data:
                return data

    @override
    async def send(self, item: bytes) -> None:
        await anyio.lowlevel.checkpoint_if_cancelled()
        try:
            if self._threaded:
                await anyio.to_thread.run_sync(self._port.write, item)
                return
            while item:
                item = item[self._put(item) :]
                if item:
                    with anyio.fail_after(_WRITE_S):
                        await anyio.wait_writable(self._port.fileno())
        except (serial.SerialException, OSError, TypeError) as error:
            raise anyio.BrokenResourceError from error

    def _put(self, item: bytes) -> int:
        """As many bytes as the system takes now.

        Not by pyserial's own write: its time-out also strikes when a busy machine merely lets this
        process wait, although every byte has gone out.
        """
        try:
            return os.write(self._port.fileno(), item)
        except BlockingIOError:
            return 0

    @override
    async def send_eof(self) -> None:
        """A serial line has no end to send."""

    @override
    async def aclose(self) -> None:
        if not self._threaded and self._port.is_open:
            anyio.notify_closing(self._port.fileno())
        with contextlib.suppress(serial.SerialException, OSError):
            self._port.close()


def open_port(device: str, baud: int, *, raise_dtr: bool) -> serial.Serial:
    """The port, exclusively. Raises LauncherError that says what to do.

    A raised DTR resets many boards; the launcher then comes up not armed, and hello waits for it.
    """
    port = serial.Serial(timeout=0, write_timeout=_WRITE_S, exclusive=True)
    port.port, port.baudrate = device, baud
    port.dtr, port.rts = raise_dtr, False
    try:
        port.open()
    except (serial.SerialException, OSError, ValueError) as error:
        raise LauncherError(_diagnose(device, error)) from error
    return port


def _diagnose(device: str, error: Exception) -> Diagnostic:
    number = getattr(error, "errno", None)
    quoted = _QUOTED.search(str(error)) if sys.platform == "win32" else None
    if quoted is not None:
        number = int(quoted[1])
        if number == errno.EACCES:  # there a port is one program's at a time, and any user's
            number = errno.EBUSY
    where = f"serial:{device}"
    if number in (errno.ENOENT, errno.ENXIO, errno.ENODEV):
        return PORT_MISSING.report(
            f"step port: there is no {device}",
            help="plug the launcher in; `feedscript find` lists the ports there are",
            device=where,
        )
    if number in (errno.EACCES, errno.EPERM):
        return PORT_DENIED.report(
            f"step port: this user may not open {device}", help=denied_help(), device=where
        )
    if number in (errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK) or "lock" in str(error):
        return PORT_BUSY.report(
            f"step port: another program has {device} open",
            help="end it (a terminal, an editor's monitor); `feedscript look-over` tells which",
            device=where,
        )
    return PORT_MISSING.report(
        f"step port: {device} is no serial port ({_reason(error)})",
        help="`feedscript find` lists the ports there are",
        device=where,
    )


def _reason(error: BaseException) -> str:
    """The system's own words: pyserial puts its own around them, once or twice."""
    number = getattr(error, "errno", None)
    inner = error.__context__.args if error.__context__ is not None else ()
    quoted = _QUOTED.search(str(error))
    if quoted is not None:
        return quoted[2]
    for code in (number, *inner):
        if isinstance(code, int):
            return os.strerror(code)
    return str(error)


def denied_help() -> str:
    """What lets a user open serial ports, by operating system."""
    if sys.platform.startswith("linux"):
        return "run `sudo usermod -aG dialout $USER`, then log out and in again"
    if sys.platform == "darwin":
        return "use the /dev/cu.* name of the port, and end other programs that hold it"
    return "end other programs that hold the COM port, or reinstall its driver"


def split_trust(address: str, trust: Trust) -> tuple[str, Trust]:
    """DEVICE[@BAUD], and what to ask of a port that has a radio behind it."""
    where = address.removesuffix(_KEYED)
    if where != address or is_radio(parse_address(where, 0)[0]):
        return where, Trust.KEYED
    return where, trust


def parse_address(address: str, baud: int) -> tuple[str, int]:
    """DEVICE or DEVICE@BAUD."""
    device, at, speed = address.rpartition("@")
    if at and speed.isdecimal():
        return device, int(speed)
    if not address:
        raise LauncherError(
            ADDRESS.report(
                "no device is named",
                help="write serial:DEVICE; `feedscript find` lists the ports there are",
                device="serial:",
            )
        )
    return address, baud


@contextlib.asynccontextmanager
async def connect(
    address: str, options: ConnectOptions, *, trust: Trust = Trust.CABLE
) -> AsyncIterator[LauncherPort]:
    """Opens a launcher on a serial port."""
    link = options.profile.link
    where, trust = split_trust(address, trust)
    device, baud = parse_address(where, link.baud)
    port = open_port(device, baud, raise_dtr=not link.resets_on_open)
    async with (
        SerialStream(port) as wire,  # closed also when the capture cannot be opened
        transport_tap(wire, options.capture) as stream,
        open_launcher(stream, options, f"serial:{device}", trust=trust) as launcher,
    ):
        yield launcher
