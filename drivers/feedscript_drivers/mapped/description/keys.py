"""Every key of a mapping file: its type, what it may hold, what it means, and an example.

This is the one place where they stand. The reader, the JSON Schema and the page of the reference
are made from it.
"""

# No postponed annotations here: the schema is made from these types as they stand.

from typing import Annotated, Any, Literal, TypeAlias, get_args

import msgspec
from msgspec import Meta

#: From what a number that goes to the device may be made, and what each is.
QUANTITIES: dict[str, str] = {
    "drive_1": "the setting's first drive, rpm (of a tank hPa, of a valve ms, of a spring mm)",
    "drive_2": "its second drive, rpm",
    "drive_3": "its third drive, rpm",
    "pan_deg": "degrees to the right of straight ahead",
    "tilt_deg": "degrees up from level",
    "roll_deg": "degrees that the head is rolled",
    "speed_mps": "the ball's speed at the mouth by the profile, metres per second",
    "speed_kmh": "the same, kilometres an hour",
    "top_rpm": "the ball's top spin by the profile, rpm; backspin negative",
    "side_rpm": "its side spin by the profile, rpm; curving left as the launcher looks negative",
}
REQUEST_ID = "id"

#: The port's own words for trouble.
FaultName: TypeAlias = Literal[
    "jam", "drive-not-at-speed", "low-voltage", "over-temperature", "device"
]
Order: TypeAlias = Literal["big", "little"]
NEVER = "(?!)"  # a pattern that nothing fits

_HEX = r"^(?:[0-9A-Fa-f]{2})(?: ?[0-9A-Fa-f]{2})*$"
_HEX_OR_NONE = r"^(?:(?:[0-9A-Fa-f]{2})(?: ?[0-9A-Fa-f]{2})*)?$"
_UUID = r"^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$"
_NAME = r"^[a-z][a-z_]{0,19}$"


def said(description: str, *examples: Any, **bounds: Any) -> Meta:
    """What a key means, how it may look, and its bounds."""
    return Meta(description=description, examples=list(examples), **bounds)


class Keys(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A table of a mapping; a key that is not known is an error."""


def _seconds(description: str, example: float, least: float = 0.0) -> Meta:
    return said(description, example, ge=least, le=10.0)


class Device(Keys, frozen=True, kw_only=True):
    """What the device is, and what it does by itself."""

    name: Annotated[str, said("what people call it", "Attic thrower", min_length=1, max_length=60)]
    baud: Annotated[int, said("bits per second on a serial port", 9600, ge=300, le=4_000_000)] = (
        9600
    )
    feed_lead_s: Annotated[float, _seconds("from the feed command to the ball's leaving, s", 0.2)]
    ball_within_s: Annotated[
        float,
        _seconds(
            "after its moment a ball of which nothing is heard is in doubt after so long, s", 3.0
        ),
    ] = 3.0
    answer_within_s: Annotated[
        float, _seconds("the longest that the device takes to answer, s", 0.5, 0.01)
    ] = 0.5
    least_interval_s: Annotated[float, _seconds("the shortest time between two balls, s", 1.5)] = (
        1.0
    )
    watchdog_s: (
        Annotated[
            float,
            said(
                "silence after which the device stops by itself, s; needs `commands.alive` or a "
                "poll",
                1.0,
                gt=0.0,
                le=2.0,
            ),
        ]
        | None
    ) = None
    accepts_no_watchdog: Annotated[
        str,
        said(
            "why a device may be used that does not stop by itself when the host falls silent; a "
            "person then stands at its switch",
            "covers on; a person holds its mains switch",
            max_length=200,
        ),
    ] = ""
    accepts_no_ball_told: Annotated[
        str,
        said(
            "why a device may be used that does not say that a ball left (no `replies.ball`); it "
            "gives single balls, and a person says of each what became of it",
            "the coach sees each ball",
            max_length=200,
        ),
    ] = ""
    accepts_no_stop: Annotated[
        str,
        said(
            "why a device may be used that cannot be told to stop (no `commands.stop`); it gives "
            "single balls, and a person switches it off",
            "a person holds its mains switch",
            max_length=200,
        ),
    ] = ""
    accepts_open_radio: Annotated[
        str,
        said(
            "why a device may be used by Bluetooth, where anybody in range can command it too",
            "a hall without anybody else in range; a person at its switch",
            max_length=200,
        ),
    ] = ""


class Length(Keys, frozen=True, kw_only=True):
    """A byte frame that says how long it is."""

    at: Annotated[
        int, said("its place in the frame; 0 is the first byte of `start`", 2, ge=0, le=32)
    ]
    bytes: Annotated[int, said("how many bytes it has", 1, ge=1, le=2)] = 1
    order: Annotated[Order, said("which of two bytes comes first", "big")] = "big"
    counts: Annotated[
        Literal["after", "payload", "frame"],
        said(
            "what it counts: every byte after it, those without check and end, or the whole frame",
            "after",
        ),
    ] = "after"


class Escape(Keys, frozen=True, kw_only=True):
    """Bytes that may not stand inside a frame, between its start and its end."""

    byte: Annotated[
        str, said("the byte that announces a changed one; itself changed too", "7D", pattern=_HEX)
    ]
    of: Annotated[str, said("every other byte that may not stand inside", "7E", pattern=_HEX)]
    xor: Annotated[
        str, said("with what the byte after it is combined by exclusive or", "20", pattern=_HEX)
    ] = "00"


class OwnCrc(Keys, frozen=True, kw_only=True):
    """A CRC by its parameters, as the public catalogue of CRC algorithms lists them."""

    width: Annotated[Literal[8, 16], said("bits of the check", 8)]
    poly: Annotated[int, said("polynomial without its highest bit", 0x07, ge=0, le=0xFFFF)]
    init: Annotated[int, said("value before the first byte", 0, ge=0, le=0xFFFF)]
    reflected: Annotated[
        bool, said("each byte and the result lowest bit first (refin and refout)", False)
    ]
    xorout: Annotated[int, said("combined with the result by exclusive or", 0, ge=0, le=0xFFFF)]
    check: Annotated[
        int,
        said(
            "what it gives for the nine characters 123456789; the reader tries it",
            0xF4,
            ge=0,
            le=0xFFFF,
        ),
    ]


class Check(Keys, frozen=True, kw_only=True):
    """A check over part of a frame, at its end."""

    kind: Annotated[
        Literal[
            "sum8", "sum16", "negated-sum8", "inverted-sum8", "xor8", "own-crc",
            "crc8-smbus", "crc8-maxim-dow", "crc8-autosar", "crc8-sae-j1850", "crc8-rohc",
            "crc8-cdma2000", "crc8-dvb-s2",
            "crc16-ibm-3740", "crc16-xmodem", "crc16-kermit", "crc16-modbus", "crc16-arc",
            "crc16-usb", "crc16-genibus", "crc16-ibm-sdlc", "crc16-dnp", "crc16-spi-fujitsu",
        ],
        said("how it is made", "crc8-smbus"),
    ]  # fmt: skip
    crc: OwnCrc | None = None
    skip_first: Annotated[
        int,
        said(
            "how many bytes (characters of a line) at the beginning of the frame it leaves out",
            2,
            ge=0,
            le=32,
        ),
    ] = 0
    skip_last: Annotated[
        int, said("how many right before the check it leaves out", 0, ge=0, le=32)
    ] = 0
    order: Annotated[Order, said("which byte of two comes first", "little")] = "big"
    spelled: Annotated[
        Literal["HEX", "hex", "decimal"], said("how a line spells it; bytes are sent bare", "HEX")
    ] = "HEX"
    separator: Annotated[
        str, said("what stands in a line between text and check", "|", max_length=4)
    ] = ""


class Frame(Keys, frozen=True, kw_only=True):
    """What one command, and one answer, looks like on the way."""

    kind: Annotated[
        Literal["lines", "bytes", "packets"],
        said(
            "text lines; byte frames in a stream, which need exactly one of `length`, `size` and "
            "`end`; or packets, each one Bluetooth write or notification",
            "lines",
        ),
    ]
    line_end: Annotated[str, said("what ends a line", "\r\n", min_length=1, max_length=4)] = "\n"
    start: Annotated[
        str, said("how each byte frame begins, hexadecimal", "5A A7", pattern=_HEX_OR_NONE)
    ] = ""
    end: Annotated[
        str, said("how each byte frame ends, hexadecimal", "7E", pattern=_HEX_OR_NONE)
    ] = ""
    size: (
        Annotated[int, said("bytes of every frame, where all are alike", 8, ge=1, le=256)] | None
    ) = None
    pad: Annotated[
        str, said("what fills a short command up to `size`, one byte", "00", pattern=_HEX_OR_NONE)
    ] = ""
    length: Length | None = None
    escape: Escape | None = None
    check: Check | None = None


class Characteristic(Keys, frozen=True, kw_only=True):
    """One Bluetooth characteristic of the device."""

    uuid: Annotated[
        str,
        said("its number, small letters", "6c1f0002-5a5e-4c1b-9d0e-2f7a1b3c4d5e", pattern=_UUID),
    ]
    write: Annotated[
        Literal["no", "with-response", "without-response"],
        said("whether and how the host writes it", "with-response"),
    ] = "no"
    notify: Annotated[bool, said("whether the device speaks by it", True)] = False


class Gatt(Keys, frozen=True, kw_only=True):
    """Bluetooth Low Energy. With several characteristics that are written (or that speak) each
    command (or pattern) begins with the name of one and a colon: ``feed: 01``."""

    service: Annotated[
        str,
        said(
            "the number of the service that has them",
            "6c1f0001-5a5e-4c1b-9d0e-2f7a1b3c4d5e",
            pattern=_UUID,
        ),
    ]
    characteristics: Annotated[
        dict[Annotated[str, Meta(pattern=_NAME)], Characteristic],
        Meta(
            description="by names of your own",
            min_length=1,
            max_length=16,
            extra_json_schema={"propertyNames": {"type": "string", "pattern": _NAME}},
        ),
    ]


class Quantity(Keys, frozen=True, kw_only=True):
    """How a value becomes the device's number: ``value * scale + offset``, or by a table."""

    scale: Annotated[float, said("steps of the device for one of the unit", 10.0)] = 1.0
    offset: Annotated[float, said("the device's number for 0", 500.0)] = 0.0
    table: Annotated[
        tuple[tuple[float, float], ...],
        said(
            "measured pairs `[device's number, value]`, values rising, instead of scale and offset",
            [[1, 900.0], [2, 1300.0]],
            max_length=200,
        ),
    ] = ()
    table_is: Annotated[
        Literal["levels", "line"],
        said("whether the device takes those numbers only, or also what lies between", "levels"),
    ] = "levels"
    least: Annotated[float, said("least number that the device takes", 0)]
    most: Annotated[float, said("most that it takes", 4200)]
    spelled: Annotated[
        Literal["whole", "float32"],
        said("a whole number, or four bytes of IEEE 754-2019 binary32", "whole"),
    ] = "whole"
    digits: Annotated[
        int, said("of a line: zeros in front up to this many digits", 4, ge=0, le=9)
    ] = 0
    decimals: Annotated[int, said("of a line: digits after the point", 1, ge=0, le=6)] = 0
    bytes: Annotated[int, said("of a byte frame: how many", 2, ge=1, le=4)] = 2
    order: Annotated[Order, said("which of them comes first", "little")] = "little"


class Ids(Keys, frozen=True, kw_only=True):
    """Numbers of requests: ``{id}`` in a command, ``(?P<id>...)`` in the patterns of answers."""

    least: Annotated[int, said("the first number", 1, ge=0, le=65535)] = 1
    most: Annotated[int, said("the last one; then it begins anew", 255, ge=1, le=65535)] = 255
    digits: Annotated[
        int, said("of a line: zeros in front up to this many digits", 3, ge=0, le=9)
    ] = 0
    bytes: Annotated[int, said("of a byte frame: how many", 1, ge=1, le=2)] = 1
    order: Annotated[Order, said("which of them comes first", "big")] = "big"


class Step(Keys, frozen=True, kw_only=True):
    """One step of a handshake when the link is opened, in order, before everything else."""

    send: Annotated[str, said("what the host says", "HELLO", min_length=1)]
    answer: Annotated[
        str, said("the pattern that the answer must fit", "I AM THROWER [0-9]+", min_length=1)
    ]


class Commands(Keys, frozen=True, kw_only=True):
    """What the host says: ``{drive_1}`` and so on stand for quantities, ``{id}`` for the request's
    number. Of byte frames and packets: bytes in hexadecimal, without start, length, check, end."""

    set: Annotated[
        tuple[Annotated[str, Meta(min_length=1)], ...],
        said(
            "the parts of a setting, in order",
            ["WHEELS {drive_1} {drive_2}", "LOOK {pan_deg} {tilt_deg}"],
            min_length=1,
            max_length=16,
        ),
    ]
    feed: Annotated[str, said("feed one ball", "THROW", min_length=1)]
    stop: Annotated[
        str, said("gate shut, drives run down; needed unless `device.accepts_no_stop`", "REST")
    ] = ""
    emergency: Annotated[
        str, said("the strongest stop that it has; needed wherever `stop` is", "CUT")
    ] = ""
    alive: Annotated[
        str,
        said("said four times in `device.watchdog_s`, so that it knows of the host", "HERE"),
    ] = ""
    poll: Annotated[
        str, said("asks for the device's state; its answer is `replies.done.poll`", "STATE?")
    ] = ""
    poll_every_s: (
        Annotated[float, said("how often, s; needed with `poll`", 0.25, ge=0.05, le=2.0)] | None
    ) = None


class ByCommand(Keys, frozen=True, kw_only=True):
    """A pattern for each command, where answers tell which one they are for; empty: no answer."""

    set: Annotated[str, said("to a part of a setting", "OK SET")]
    stop: Annotated[str, said("to a stop", "OK REST")] = ""
    emergency: Annotated[str, said("to an emergency stop", "OK CUT")] = ""
    feed: Annotated[str, said("to a feed", "OK THROW")] = ""
    alive: Annotated[str, said("to the sign of life", "OK HERE")] = ""
    poll: Annotated[str, said("to a poll", "STATE .*")] = ""


class Replies(Keys, frozen=True, kw_only=True):
    """Patterns (regular expressions of Python) over a whole line, or over all hexadecimal digits of
    a frame's payload. What is heard is held against every one of them.

    One pattern for ``done`` or ``refused`` says that every command is answered alike: then answers
    belong to commands by their order alone, unless requests are numbered.
    """

    done: Annotated[str | ByCommand, said("a command was taken", "OK")]
    refused: Annotated[str | ByCommand, said("a command was not taken", "NO .*")] = NEVER
    ball: Annotated[
        str,
        said(
            "a ball left; with a group `(?P<count>...)` it is a counter, heard as often as it is "
            "told, and a ball left when it has grown by one",
            "GONE",
            "STATE (?P<count>[0-9]+) .*",
        ),
    ] = ""
    count_wraps_at: (
        Annotated[
            int,
            said("the number after which that counter begins at 0", 255, ge=1, le=2**32 - 1),
        ]
        | None
    ) = None
    empty: Annotated[str, said("there is no ball to feed", "NO BALLS")] = ""
    ready: Annotated[
        str,
        said(
            "the parts stand where they were told to; where this is given no ball goes before it "
            "was heard, nor before the profile's time",
            "AT PLACE",
        ),
    ] = ""
    hopper: Annotated[
        str,
        said("balls that it still has, in a group `(?P<balls>...)`", "HOPPER (?P<balls>[0-9]+)"),
    ] = ""
    fault: Annotated[str, said("trouble that is told in words of its own", "HELP .*")] = ""
    faults: Annotated[
        dict[FaultName, str],
        said(
            "trouble by its name: the pattern of each",
            {"jam": "E1", "low-voltage": "E2"},
            extra_json_schema={"propertyNames": {"enum": list(get_args(FaultName))}},
        ),
    ] = {}
    number_order: Annotated[
        Order, said("of a byte frame: in which order counts, balls and ids are read", "big")
    ] = "big"


class Mapping(Keys, frozen=True, kw_only=True):
    """How a device speaks that has a language of its own: the whole file."""

    format: Annotated[Literal[1], said("the number of the format of the file", 1)] = 1
    device: Device
    frame: Frame
    gatt: Gatt | None = None
    quantities: Annotated[
        dict[str, Quantity],
        Meta(
            description="the numbers of a setting",
            min_length=1,
            extra_json_schema={"propertyNames": {"enum": list(QUANTITIES)}},
        ),
    ]
    ids: Ids | None = None
    start: tuple[Step, ...] = ()
    commands: Commands
    replies: Replies
