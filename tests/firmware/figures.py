"""The images side by side: `python -m tests.firmware.figures` measures and writes the page's table.

Everything is read from the pins, in the images' own time; nothing believes what an image says.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable
from pathlib import Path

from tests.firmware.far_end import FIRMWARE, FarEnd, make
from tests.firmware.plain_host import PlainHost

PAGE = FIRMWARE / "README.md"
BEGIN, END = "<!-- figures: python -m tests.firmware.figures -->\n", "<!-- end of figures -->\n"
NAMES = {"avr": "ATmega328P", "rp2040": "RP2040", "posix": "a process"}
BALLS = 30
GAP_MS = 1600
OFF = ("wheels_off_us", "gate_shut_us", "power_off_us", "servos_off_us")


def all_off_us(far: FarEnd) -> int:
    """Since when everything has been off; an image on which something is on has no such figure."""
    pins = far.get()
    moments = [pins[name] for name in OFF]
    assert all(moments), pins
    return max(moments)


def turning(host: PlainHost) -> None:
    """Armed, its wheels at speed, a ball scheduled."""
    host.open()
    host.arm()
    host.feed(1, 6000)
    host.run(2500)


def after(host: PlainHost, act: Callable[[], object], wait_ms: int) -> float:
    """From an act to everything off, in ms."""
    turning(host)
    began_us = host.far.get()["now_us"]
    act()
    host.advance(wait_ms)
    return (all_off_us(host.far) - began_us) / 1000


def pressed(host: PlainHost) -> float:
    return after(host, lambda: host.far.set("loop_open", 1), 50)


def silent(host: PlainHost) -> float:
    """From the last heartbeat that arrived."""
    turning(host)
    host.run(100)
    heard_us = host.far.get()["last_byte_us"]
    host.advance(1500)
    return (all_off_us(host.far) - heard_us) / 1000


def hung(host: PlainHost) -> float:
    return after(host, lambda: host.far.tell("hang"), 300)


def without_tick(host: PlainHost) -> float:
    turning(host)
    began_us = host.far.get()["now_us"]
    host.far.tell("lose-tick")
    host.run(300)
    return (all_off_us(host.far) - began_us) / 1000


def leaving(host: PlainHost) -> tuple[float, int]:
    """How far the balls of an even row left from their moments at worst, in ms by the pins; and the
    deepest stack in bytes, which these lines, settings and balls needed."""
    host.open()
    host.arm()
    host.run(20)
    start = host.clock + 6000
    for ident in range(1, BALLS + 1):
        due = start + GAP_MS * (ident - 1)
        while due - host.clock > 5400:
            host.run(100)
        assert host.command(f"FEED {ident} {due} 2000 1500 0 {ident * 10} 1000 0") == "OK"
    host.run(7000)
    moments = [leave["at_s"] * 1000 - GAP_MS * i for i, leave in enumerate(host.far.leaves())]
    assert len(moments) == BALLS
    middle = sorted(moments)[BALLS // 2]
    return max(abs(each - middle) for each in moments), host.far.get()["stack_bytes"]


def measured(image: str, memory: Path, what: Callable[[PlainHost], object]) -> object:
    with FarEnd(image, memory=memory) as far, PlainHost(far) as host:
        return what(host)


def sizes() -> dict[str, tuple[str, str]]:
    """Flash and variables of each chip's image, as its size report has them."""
    report = make("size", "size-rp2040")
    avr = re.search(r"ATmega328P: flash (\d+) of (\d+) bytes, RAM (\d+) of (\d+)", report)
    arm = re.search(r"RP2040: flash (\d+) of (\d+) bytes, RAM \d+ of (\d+) \((\d+)", report)
    assert avr is not None
    assert arm is not None
    return {
        "avr": (f"{avr[1]} of {avr[2]} bytes", f"{avr[3]} of {avr[4]} bytes"),
        "rp2040": (f"{arm[1]} of {arm[2]} bytes", f"{arm[4]} of {arm[3]} bytes, beside the code"),
        "posix": ("", ""),
    }


def column(image: str, size: tuple[str, str], folder: Path) -> list[str]:
    """One image's figures in the order of the rows."""
    memory = folder / image
    with FarEnd(image) as far, PlainHost(far) as host:
        host.configure()
        far.save(memory)
    worst_ms, stack = leaving_of(image, memory)
    chip = image != "posix"
    return [
        *size,
        f"{stack} bytes" if chip else "",
        f"{worst_ms:.1f} ms",
        f"{measured(image, memory, pressed):.1f} ms",
        f"{measured(image, memory, silent):.0f} ms",
        f"{measured(image, memory, hung):.0f} ms" if chip else "no watchdog",
        f"{measured(image, memory, without_tick):.0f} ms" if chip else "no watchdog",
    ]


def leaving_of(image: str, memory: Path) -> tuple[float, int]:
    with FarEnd(image, memory=memory) as far, PlainHost(far) as host:
        return leaving(host)


ROWS = (
    "flash",
    "variables",
    f"deepest stack, over {BALLS} balls",
    f"a ball's moment beside an even row, worst of {BALLS}",
    "emergency stop input to everything off",
    "last heartbeat to everything off",
    "main loop hangs, to everything off",
    "tick lost, to everything off",
)


def table() -> str:
    make("all", "rp2040", "build/launcher-checked")
    size = sizes()
    with tempfile.TemporaryDirectory() as folder:
        columns = {image: column(image, size[image], Path(folder)) for image in NAMES}
    lines = [
        f"| | {' | '.join(NAMES[image] for image in NAMES)} |",
        "|---|" + "---|" * len(NAMES),
    ]
    for i, row in enumerate(ROWS):
        lines.append(f"| {row} | {' | '.join(columns[image][i] for image in NAMES)} |")
    return "\n".join(lines) + "\n"


def main() -> None:
    measured_now = table()
    before, _, rest = PAGE.read_text(encoding="utf-8").partition(BEGIN)
    _, end, behind = rest.partition(END)
    assert end, "the page has no place for the figures"
    PAGE.write_text(f"{before}{BEGIN}\n{measured_now}\n{END}{behind}", encoding="utf-8")


if __name__ == "__main__":
    main()
