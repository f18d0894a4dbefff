"""Checks over bytes, by their names.

Parameters and check values (what each gives for the ASCII characters 123456789): Greg Cook,
"Catalogue of parametrised CRC algorithms", its entries of 8 and 16 bits with these names. Where
refin and refout are alike, ``reflected`` stands for both.
"""

from __future__ import annotations

from typing import Final

import msgspec

from feedscript_drivers.mapped.description.keys import Check, OwnCrc


def _crc(width: int, poly: int, init: int, reflected: bool, xorout: int, check: int) -> OwnCrc:
    values = {"width": width, "poly": poly, "init": init, "reflected": reflected}
    return msgspec.convert({**values, "xorout": xorout, "check": check}, OwnCrc)


CATALOGUE: Final[dict[str, OwnCrc]] = {
    "crc8-smbus": _crc(8, 0x07, 0x00, False, 0x00, 0xF4),
    "crc8-maxim-dow": _crc(8, 0x31, 0x00, True, 0x00, 0xA1),
    "crc8-autosar": _crc(8, 0x2F, 0xFF, False, 0xFF, 0xDF),
    "crc8-sae-j1850": _crc(8, 0x1D, 0xFF, False, 0xFF, 0x4B),
    "crc8-rohc": _crc(8, 0x07, 0xFF, True, 0x00, 0xD0),
    "crc8-cdma2000": _crc(8, 0x9B, 0xFF, False, 0x00, 0xDA),
    "crc8-dvb-s2": _crc(8, 0xD5, 0x00, False, 0x00, 0xBC),
    "crc16-ibm-3740": _crc(16, 0x1021, 0xFFFF, False, 0x0000, 0x29B1),
    "crc16-xmodem": _crc(16, 0x1021, 0x0000, False, 0x0000, 0x31C3),
    "crc16-kermit": _crc(16, 0x1021, 0x0000, True, 0x0000, 0x2189),
    "crc16-modbus": _crc(16, 0x8005, 0xFFFF, True, 0x0000, 0x4B37),
    "crc16-arc": _crc(16, 0x8005, 0x0000, True, 0x0000, 0xBB3D),
    "crc16-usb": _crc(16, 0x8005, 0xFFFF, True, 0xFFFF, 0xB4C8),
    "crc16-genibus": _crc(16, 0x1021, 0xFFFF, False, 0xFFFF, 0xD64E),
    "crc16-ibm-sdlc": _crc(16, 0x1021, 0xFFFF, True, 0xFFFF, 0x906E),
    "crc16-dnp": _crc(16, 0x3D65, 0x0000, True, 0xFFFF, 0xEA82),
    "crc16-spi-fujitsu": _crc(16, 0x1021, 0x1D0F, False, 0x0000, 0xE5CC),
}


def width_of(check: Check) -> int:
    """How many bytes a check has."""
    if check.kind == "sum16":
        return 2
    parameters = check.crc or CATALOGUE.get(check.kind)
    return 1 if parameters is None else parameters.width // 8


def check_of(check: Check, data: bytes) -> int:
    """The check over some bytes, as a number."""
    match check.kind:
        case "sum8":
            return sum(data) % 256
        case "sum16":
            return sum(data) % 65536
        case "negated-sum8":
            return -sum(data) % 256
        case "inverted-sum8":
            return ~sum(data) % 256
        case "xor8":
            return _xor(data)
    parameters = check.crc or CATALOGUE[check.kind]
    return crc(parameters, data)


def _xor(data: bytes) -> int:
    value = 0
    for byte in data:
        value ^= byte
    return value


def crc(parameters: OwnCrc, data: bytes) -> int:
    """The remainder bit by bit; messages are short."""
    width = parameters.width
    top, mask = 1 << (width - 1), (1 << width) - 1
    value = parameters.init
    for byte in data:
        value ^= (_mirrored(byte, 8) if parameters.reflected else byte) << (width - 8)
        for _ in range(8):
            value = ((value << 1) ^ (parameters.poly if value & top else 0)) & mask
    return (_mirrored(value, width) if parameters.reflected else value) ^ parameters.xorout


def _mirrored(value: int, bits: int) -> int:
    return int(f"{value:0{bits}b}"[::-1], 2)
