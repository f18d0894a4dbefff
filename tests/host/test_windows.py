"""Windows' side of the port, with stand-ins for Windows' functions."""

from __future__ import annotations

import os
import signal
import threading
import time
from pathlib import Path

import anyio
import pytest

from tests.host.windows import Windows, windows

FILE = "D:P(A;;FA;;;OW)(A;;FA;;;BA)(A;;FA;;;SY)"


@pytest.fixture
def system() -> Windows:
    with windows() as found:
        yield found


async def _read(keys: object, enough: int) -> bytes:
    found = b""
    with anyio.fail_after(5):
        async with keys as read:
            while len(found) < enough:
                found += await read()
    return found


def test_keys_of_the_console_come_as_a_terminal_sends_them(system: Windows) -> None:
    from feedscript.host.keyboard import keys

    system.console.typed = [*"ahü\r", "\xe0", "H", "\x00", "I", "\x08"]
    expected = "ahü\r\x1b[A\x1b[5~\b".encode()
    assert anyio.run(_read, keys(), len(expected)) == expected


def test_a_key_that_means_nothing_here_is_no_key_of_another(system: Windows) -> None:
    """F1, whose second code is a semicolon."""
    from feedscript.host.keyboard import keys
    from feedscript.terminal.key_reader import KeyReader

    system.console.typed = ["\x00", ";", "x"]
    assert KeyReader().take(anyio.run(_read, keys(), 2)) == ["\x00", "x"]


def test_no_thread_looks_for_keys_after_the_lesson(system: Windows) -> None:
    from feedscript.host.keyboard import keys

    system.console.typed = ["a"]
    anyio.run(_read, keys(), 1)
    time.sleep(0.05)
    system.console.typed = ["for whatever comes then"]
    time.sleep(0.05)
    assert system.console.typed
    assert not [one for one in threading.enumerate() if one.name == "keys"]


def test_a_pipe_is_read_to_its_end(system: Windows, monkeypatch: pytest.MonkeyPatch) -> None:
    from feedscript.host import keyboard

    there, here = os.pipe()
    monkeypatch.setattr(keyboard, "_STANDARD_INPUT", there)
    os.write(here, b"one line\n")
    os.close(here)

    async def read() -> list[bytes]:
        async with keyboard.typed() as take:
            return [await take(), await take()]

    assert anyio.run(read) == [b"one line\n", b""]
    os.close(there)


@pytest.mark.parametrize("name", ["SIGINT", "SIGBREAK", "SIGTERM"])
def test_ctrl_c_is_a_wish_and_no_interruption(system: Windows, name: str) -> None:
    from feedscript.host.ended_by import EndedBy
    from feedscript.host.endings import endings

    number = getattr(signal, name)
    before = signal.getsignal(number)

    async def ended() -> EndedBy:
        with anyio.fail_after(5), endings() as asked:
            os.kill(os.getpid(), number)
            return await anext(asked)

    by = anyio.run(ended)
    assert by is (EndedBy.PROGRAM if name == "SIGTERM" else EndedBy.PERSON)
    assert signal.getsignal(number) == before


@pytest.mark.parametrize("event", [2, 5, 6])
def test_a_window_that_closes_waits_for_the_launchers_stop(system: Windows, event: int) -> None:
    """Windows ends the process when the handler returns: it must not before the work is over."""
    from feedscript.host.ended_by import EndedBy
    from feedscript.host.endings import endings

    returned: list[float] = []

    def close(handler: object) -> None:
        handler(event)
        returned.append(time.monotonic())

    async def work() -> tuple[EndedBy, float]:
        with endings() as asked:
            (handler,) = system.libraries.handlers
            closing = threading.Thread(target=close, args=(handler,))
            closing.start()
            by = await anext(asked)
            await anyio.sleep(0.1)  # the stop is under way
            over = time.monotonic()
        closing.join(5)
        return by, over

    by, over = anyio.run(work)
    assert by is EndedBy.WINDOW
    assert returned[0] >= over
    assert system.libraries.handlers == []


def test_ctrl_c_is_left_to_the_c_library(system: Windows) -> None:
    from feedscript.host.endings import endings

    async def work() -> bool:
        with endings():
            return system.libraries.handlers[0](0)

    assert anyio.run(work) is False


def test_a_private_file_is_so_before_anything_stands_in_it(system: Windows, tmp_path: Path) -> None:
    from feedscript.host.private_file import make_private, write_private

    new, old, empty = tmp_path / "new", tmp_path / "old", tmp_path / "empty"
    old.write_bytes(b"for everybody")
    write_private(new, b"a\nb")
    write_private(old, b"c")
    make_private(empty)
    assert [one.read_bytes() for one in (new, old, empty)] == [b"a\nb", b"c", b""]
    assert system.libraries.lists == dict.fromkeys(map(str, (new, old, empty)), FILE)


def test_a_private_folder_hands_it_on(system: Windows, tmp_path: Path) -> None:
    from feedscript.host.private_file import private_folder

    folder = tmp_path / "data" / "keys"
    private_folder(folder)
    private_folder(folder)  # there already
    assert system.libraries.lists == {
        str(folder): "D:P(A;OICI;FA;;;OW)(A;OICI;FA;;;BA)(A;OICI;FA;;;SY)"
    }


@pytest.mark.parametrize(("number", "raises"), [(5, True), (50, False)])
def test_a_file_that_cannot_be_made_private_is_not_written(
    system: Windows, tmp_path: Path, number: int, raises: bool
) -> None:
    """But where the disk knows no owners (50: ERROR_NOT_SUPPORTED), as on every system."""
    from feedscript.host.private_file import write_private

    path = tmp_path / "old"
    path.write_bytes(b"old")
    system.libraries.error = number
    if raises:
        with pytest.raises(OSError, match="error 5"):
            write_private(path, b"secret")
    else:
        write_private(path, b"secret")
    assert path.read_bytes() == (b"old" if raises else b"secret")


def test_a_journal_and_what_sqlite_puts_beside_it_are_private(
    system: Windows, tmp_path: Path
) -> None:
    from feedscript.journal.store import open_journal

    path = tmp_path / "journal.sqlite"
    open_journal(path).close()
    assert set(system.libraries.lists) == {str(path), f"{path}-wal", f"{path}-shm"}


def test_one_holder_a_lock(system: Windows, tmp_path: Path) -> None:
    from feedscript.host import locking

    path = tmp_path / "lesson.lock"
    held = locking.hold(path)
    assert held is not None
    locking.write_holder(held, b"who it is, and more")
    locking.write_holder(held, b"who it is")
    assert path.read_bytes() == b"who it is"
    assert locking.hold(path) is None
    assert locking.is_held(path)
    locking.release(path, held)
    assert not path.exists()
    assert not locking.is_held(path)


@pytest.mark.parametrize("name", ["NUL", "con.feed", "COM3", "lpt1.txt", "Aux"])
def test_a_device_is_no_file_whatever_its_folder(
    system: Windows, tmp_path: Path, name: str
) -> None:
    """Being opened resets many a board."""
    from feedscript.plain_file import read_plain

    path = tmp_path / name
    path.write_bytes(b"on Windows this would be the device")
    with pytest.raises(OSError, match="device"):
        read_plain(path)


def test_a_file_called_somehow_like_a_device_is_a_file(system: Windows, tmp_path: Path) -> None:
    from feedscript.plain_file import read_plain

    for name in ("COM3x.feed", "console.feed", "xNUL"):
        (tmp_path / name).write_bytes(b"1")
        assert read_plain(tmp_path / name) == b"1"
