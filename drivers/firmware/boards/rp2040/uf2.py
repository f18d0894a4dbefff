"""Wraps an image for the chip's own loader, which takes a file that is copied onto its drive.

usage: uf2.py IMAGE FILE

The format is Microsoft's "USB Flashing Format (UF2)": blocks of 512 bytes, each with the place of
its 256 bytes in flash. The family number is that of the RP2040.
"""

from __future__ import annotations

import struct
import sys
from collections.abc import Iterator
from pathlib import Path

FLASH = 0x10000000
PAGE_BYTES = 256
FIRST, SECOND, LAST = 0x0A324655, 0x9E5D5157, 0x0AB16F30
HAS_FAMILY, FAMILY = 0x00002000, 0xE48BFF56


def blocks(image: bytes) -> Iterator[bytes]:
    """One block a page of flash, the last page filled up with zeros."""
    count = -(-len(image) // PAGE_BYTES)
    for number in range(count):
        start = number * PAGE_BYTES
        page = image[start : start + PAGE_BYTES].ljust(PAGE_BYTES, b"\0")
        head = (FIRST, SECOND, HAS_FAMILY, FLASH + start, PAGE_BYTES, number, count, FAMILY)
        yield struct.pack("<8I", *head) + page.ljust(476, b"\0") + struct.pack("<I", LAST)


if __name__ == "__main__":
    Path(sys.argv[2]).write_bytes(b"".join(blocks(Path(sys.argv[1]).read_bytes())))
