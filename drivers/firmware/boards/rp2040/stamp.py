"""Stamps the CRC-32 that the boot ROM asks for into the last four bytes of the second stage.

usage: stamp.py RAW IMAGE
"""

from __future__ import annotations

import sys
from pathlib import Path

STAGE_BYTES = 256
CHECKED_BYTES = 252


def crc32(data: bytes) -> int:
    """CRC-32 with polynomial 04C11DB7, from FFFFFFFF, not reflected, no final xor."""
    crc = 0xFFFFFFFF
    for byte in data:
        crc ^= byte << 24
        for _ in range(8):
            crc = ((crc << 1) ^ (0x04C11DB7 if crc & 0x80000000 else 0)) & 0xFFFFFFFF
    return crc


def stamped(raw: bytes) -> bytes:
    """The image with its check; `SystemExit` when the second stage leaves no room for it."""
    if any(raw[CHECKED_BYTES - 4 : STAGE_BYTES]):
        sys.exit("the second stage is too long")
    check = crc32(raw[:CHECKED_BYTES]).to_bytes(4, "little")
    return raw[:CHECKED_BYTES] + check + raw[STAGE_BYTES:]


if __name__ == "__main__":
    Path(sys.argv[2]).write_bytes(stamped(Path(sys.argv[1]).read_bytes()))
