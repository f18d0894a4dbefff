"""Steps that the line alone can judge: bytes in and out, the clock, what is stored."""

from __future__ import annotations

from typing import Final

import anyio

from feedscript_drivers.setting_up.board_check.host import Wrong
from feedscript_drivers.setting_up.board_check.steps import Bench, Step
from feedscript_drivers.wire.codec import plain_line
from feedscript_drivers.wire.protocol import MOST_BODY, Times

_UNSET: Final = str(-(2**31))
_QUIET_S: Final = 0.15
_TRIPS: Final = 40
_LINE_MS: Final = 25  # two of the longest lines at 115,200 baud, and the host's own share
_CLOCK_S: Final = 8.0
_MOST_DRIFT: Final = 0.005
_SAFE: Final = 0


async def _greets(bench: Bench) -> str:
    words = await bench.host.must("HELLO 2 2")
    if len(words) != 8 or words[0] != "2":
        raise Wrong(f"HELLO was answered OK {' '.join(words)}")
    return f"speaks version 2, start number {words[1]}"


async def _opens_safe(bench: Bench) -> str:
    host = bench.host
    await host.open()
    state = (await host.must("STAT"))[0]
    if state != str(_SAFE):
        raise Wrong(f"after an opening its state is {state}")
    refused = await host.ask("FEED 1 9000 0 0 0 0 0 0")
    if not refused.startswith("NO 4"):
        raise Wrong(f"a feed before anybody armed it was answered {refused or 'nothing'!r}")
    return "safe, and refuses a feed"


async def _is_set_up(bench: Bench) -> str:
    for number in range(1, 18):
        if (await bench.host.must(f"GET {number}"))[1] == _UNSET:
            raise Wrong(f"number {number} is not stored")
    if set((await bench.host.must("HASH"))[0]) == {"0"}:
        raise Wrong("the profile's hash is not stored")
    return "limits and hash are stored"


async def _spoilt_line(bench: Bench) -> str:
    host = bench.host
    before = int((await host.must("CNTS"))[0])
    sequence = host.next_sequence()
    await host.send(f"{sequence} STAT*0000\n".encode())
    if await host.reply_to(sequence, _QUIET_S):
        raise Wrong("a line whose check is wrong was answered")
    after = int((await host.must("CNTS"))[0])
    if after != before + 1:
        raise Wrong(f"it counted {after - before} spoilt lines where one was sent")
    return "not answered, and counted"


async def _repeat(bench: Bench) -> str:
    host = bench.host
    sequence = host.next_sequence()
    line = plain_line(f"{sequence} STAT")
    await host.send(line)
    await host.reply_to(sequence)
    await anyio.sleep(0.05)
    await host.send(line)
    await host.reply_to(sequence, count=2)
    replies = host.replies(sequence)
    if len(replies) != 2 or replies[0] != replies[1]:
        raise Wrong(f"a command sent twice was answered {replies}")
    return "answered alike, obeyed once"


async def _stop_inside(bench: Bench) -> str:
    host = bench.host
    sequence = host.next_sequence()
    line = plain_line(f"{sequence} STAT")
    await host.send(line[:-8] + b"\x10" + line[-8:])
    if not (await host.reply_to(sequence)).startswith("OK"):
        raise Wrong("a line with a stop character in it was not read as if it had not been there")
    return "taken out of the line"


async def _longest(bench: Bench) -> str:
    host = bench.host
    sequence = host.next_sequence()
    body = f"{sequence} ".ljust(MOST_BODY, "X")
    await host.send(plain_line(f"T 9 {host.clock_ms}") + plain_line(body))
    reply = await host.reply_to(sequence)
    if reply != "NO 2":
        raise Wrong(f"the longest line behind a heartbeat was answered {reply or 'nothing'!r}")
    return f"{MOST_BODY + 6} bytes behind a heartbeat arrive"


async def _answers_in_time(bench: Bench) -> str:
    """Judged by three in four: now and then a busy computer is late by itself."""
    host, took_s = bench.host, []
    for _ in range(_TRIPS):
        began = anyio.current_time()
        await host.must("STAT")
        took_s.append(anyio.current_time() - began)
    most_ms = sorted(took_s)[_TRIPS * 3 // 4] * 1000
    if most_ms > Times.ANSWER + _LINE_MS:
        raise Wrong(f"one answer in four took more than {most_ms:.0f} ms")
    return f"three in four within {most_ms:.0f} ms"


async def _answers_whole(bench: Bench) -> str:
    host = bench.host
    before = host.spoilt
    for _ in range(_TRIPS):
        await host.must("HASH")
    if host.spoilt > before:
        raise Wrong(f"{host.spoilt - before} of its lines came spoilt")
    return "every line came whole"


async def _clock(bench: Bench) -> str:
    host = bench.host
    await host.must("STAT")
    first, at_s = host.clock_ms, host.heard_s
    await anyio.sleep(_CLOCK_S)
    if host.heard_s <= at_s:
        raise Wrong("no heartbeat was answered")
    drift = (host.clock_ms - first) / 1000 / (host.heard_s - at_s) - 1
    if abs(drift) > _MOST_DRIFT:
        raise Wrong(f"its clock runs {drift:+.1%} beside this computer's")
    return f"within {_MOST_DRIFT:.1%} of this computer's"


async def _measures(bench: Bench) -> str:
    volts = int((await bench.host.must("GET 100"))[1]) / 1000
    degrees = int((await bench.host.must("GET 101"))[1])
    if volts >= 0 and not await bench.person.measures(
        f"The board measures {volts:.1f} V. Does a meter at the battery show that, within 0.5 V?"
    ):
        raise Wrong(f"it measures {volts:.1f} V, the meter shows something else")
    if degrees >= 0 and not await bench.person.measures(
        f"It measures {degrees} °C. Is the motor so warm, within 5 °C?"
    ):
        raise Wrong(f"it measures {degrees} °C, and the motor is not so warm")
    measured = [
        *([f"{volts:.1f} V"] if volts >= 0 else []),
        *([f"{degrees} °C"] if degrees >= 0 else []),
    ]
    return ", ".join(measured) or "has no such sensors"


BY_WIRE: Final = (
    Step("greeting", _greets, "board_read, board_write: are both ends at the same speed, 8N1?"),
    Step("opening", _opens_safe, "launcher_begin() once, launcher_poll() for ever"),
    Step("set up", _is_set_up, "first `feedscript set-up --launcher … --board …`; board_store_*"),
    Step("a spoilt line", _spoilt_line, "the receive interrupt: one byte, one fence_byte()"),
    Step("a repeated command", _repeat, "launcher_poll() must be called as it is"),
    Step(
        "a stop character inside a line",
        _stop_inside,
        "a byte for which fence_byte() says true must not go on to board_read()",
    ),
    Step(
        "the longest line", _longest, "the ring that board_read() empties holds 128 bytes or more"
    ),
    Step("answers in time", _answers_in_time, "what in the main loop waits? nothing may"),
    Step("answers whole", _answers_whole, "board_write() and board_write_room(): a byte was lost"),
    Step("the clock", _clock, "fence_tick() and board_now_ms(): a millisecond must be one"),
    Step("what it measures", _measures, "board_supply_mv(), board_temperature_c(): the dividers"),
)
