"""A capture as the far end: a status that is asked for at another moment is of what was told."""

from __future__ import annotations

import tracemalloc
from pathlib import Path
from urllib.parse import quote_from_bytes

import anyio
from feedscript_drivers.transports.replay import ReplayStream, read_capture
from feedscript_drivers.transports.tap import CAPTURE_HEADER
from feedscript_drivers.wire.codec import LineReader, Plain, plain_line
from feedscript_drivers.wire.messages import Reply, read_launcher_body

#: Safe; armed by a person at 2 s; asked at 5 s; told to stop, and asked again while stopping.
CROSSED = (
    (">", "1 STAT"),
    ("<", "1 OK 0 8 75 0 0 0 80 0 0 0 1"),
    (">", "2 ARM 900 900 0"),
    ("<", "2 OK"),
    ("<", "! 2 2000 STATE 2 13"),
    (">", "T 5 0"),
    ("<", "t 5 4000 2 2 1"),
    (">", "3 STAT"),
    ("<", "3 OK 2 13 5000 0 0 0 80 900 900 0 2"),
    (">", "4 STOP 1"),
    ("<", "4 OK"),
    ("<", "! 3 6000 STATE 4 1"),
    (">", "5 STAT"),
    ("<", "5 OK 4 1 6100 0 0 0 80 500 500 0 3"),
)


def capture(path: Path) -> Path:
    lines = [f"0.0 {way} {quote_from_bytes(plain_line(body))}" for way, body in CROSSED]
    path.write_text("\n".join([CAPTURE_HEADER, *lines]) + "\n")
    return path


def answers(path: Path, *asked: str) -> list[Reply]:
    """What the capture answers to these lines of a host."""

    async def all_of_them() -> list[Reply]:
        script = read_capture(path)
        stream, reader, found = ReplayStream(script), LineReader(), list[Reply]()
        for body in asked:
            await stream.send(plain_line(body))
            with anyio.move_on_after(0.05):
                for line in reader.feed(await stream.receive()):
                    assert isinstance(line, Plain)
                    said = read_launcher_body(line.body)
                    found += [said] if isinstance(said, Reply) else []
        script.close()
        return found

    return anyio.run(all_of_them)


def test_a_long_capture_is_never_in_memory_as_a_whole(tmp_path: Path) -> None:
    path = capture(tmp_path / "a.capture")
    read_capture(path).close()  # what is imported and kept is not counted
    with path.open("a") as file:
        for beat in range(5000):
            file.write(f"0.0 > {quote_from_bytes(plain_line(f'T {beat} 0'))}\n")
            file.write(f"0.0 < {quote_from_bytes(plain_line(f't {beat} 75 1 2 1'))}\n")
    tracemalloc.start()
    try:
        read_capture(path).close()
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 2 * path.stat().st_size  # as messages it is nearly four times that


def test_a_status_tells_the_state_that_the_host_has_been_told(tmp_path: Path) -> None:
    """It is asked for once more than it was: taken in order, the last would say that it stops."""
    asked = ("11 STAT", "12 ARM 900 900 0", "T 7 0", "13 STAT", "14 STAT", "15 STAT")
    before, _, *after = answers(capture(tmp_path / "a.capture"), *asked)
    assert before.arguments[:3] == ("0", "8", "75")
    assert [one.sequence for one in after] == [13, 14, 15]
    assert [one.arguments[:3] for one in after] == [("2", "13", "4000")] * 3


def test_what_was_told_since_counts(tmp_path: Path) -> None:
    asked = ("11 STAT", "12 ARM 900 900 0", "13 STOP 1", "14 STAT")
    *_, last = answers(capture(tmp_path / "a.capture"), *asked)
    assert last.arguments[:3] == ("4", "1", "6000")
