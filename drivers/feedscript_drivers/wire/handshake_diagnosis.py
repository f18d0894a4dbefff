"""What the bytes that came instead of an answer point to, and the one command to try next."""

from __future__ import annotations

from typing import Final

_ASK_ALL: Final = "`feedscript find --knock` asks every port"
_NOISE_SHARE: Final = 0.1


def advice(tail: bytes, device: str) -> str:
    """For a link to ``device`` (an address with its scheme) whose last bytes were ``tail``."""
    serial = device.startswith("serial:")
    if not tail:
        return (
            f"switch the launcher on and look at the cable; {_ASK_ALL}"
            if serial
            else "is the launcher on, and is this its address? `feedscript find` lists what is near"
        )
    if b" HELLO " in tail:
        return "what is sent comes straight back: look for joined RX and TX wires at the board"
    noise = sum(byte not in b"\r\n\t" and not 0x20 <= byte <= 0x7E for byte in tail)
    if noise > _NOISE_SHARE * len(tail):
        if not serial:
            return "something else answers at this address; `feedscript find` lists what is near"
        return (
            "these are no lines: the port's speed is another, or the line is noisy; try "
            f"`feedscript link-check --on {device}@9600` (or the speed the board is built for), "
            "then write it as `baud` into the profile"
        )
    what = _ASK_ALL if serial else "`feedscript find` lists what is near"
    return f"something else answers here, not a launcher of this protocol; {what}"
