"""The port as it is on the system that runs the tests."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from pathlib import Path

import anyio
import pytest

from feedscript.host import keyboard, locking
from feedscript.host.private_file import make_private, private_folder, write_private

HOLDS = """
import sys
from pathlib import Path
from feedscript.host import locking
held = locking.hold(Path(sys.argv[1]))
locking.write_holder(held, b"another process")
print("holds", flush=True)
sys.stdin.read()
"""


def test_a_lock_is_one_process_s_and_ends_with_it(tmp_path: Path) -> None:
    path = tmp_path / "lesson.lock"
    words = [sys.executable, "-c", HOLDS, str(path)]
    with subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline().split() == [b"holds"]
        assert locking.hold(path) is None
        assert locking.is_held(path)
        assert path.read_bytes() == b"another process"
        holder.kill()
    held = locking.hold(path)
    assert held is not None
    locking.release(path, held)
    assert not path.exists()
    assert not locking.is_held(path)


def test_private_files_hold_what_was_written(tmp_path: Path) -> None:
    folder, old = tmp_path / "a" / "b", tmp_path / "old"
    old.write_bytes(b"before, and longer")
    private_folder(folder)
    write_private(folder / "new", b"1\n2\r\n")
    write_private(old, b"after")
    make_private(folder / "empty")
    make_private(old)  # is there: is left as it is
    assert (folder / "new").read_bytes() == b"1\n2\r\n"
    assert old.read_bytes() == b"after"
    assert (folder / "empty").read_bytes() == b""


def test_private_files_are_their_owner_s_alone(tmp_path: Path) -> None:
    folder, old = tmp_path / "keys", tmp_path / "old"
    old.write_bytes(b"")
    old.chmod(0o644)
    private_folder(folder)
    write_private(old, b"after")
    write_private(folder / "new", b"")
    if sys.platform == "win32":
        for one in (folder, old, folder / "new"):
            told = subprocess.run(["icacls", str(one)], capture_output=True, text=True, check=True)
            assert "(F)" in told.stdout
            assert "(I)" not in told.stdout  # taken over from the folder above
    else:
        modes = [stat.S_IMODE(one.stat().st_mode) for one in (folder, old, folder / "new")]
        assert modes == [0o700, 0o600, 0o600]


def test_what_a_pipe_brings_is_read_to_its_end(monkeypatch: pytest.MonkeyPatch) -> None:
    there, here = os.pipe()
    monkeypatch.setattr(keyboard, "_STANDARD_INPUT", there)
    os.write(here, b"a line\n")
    os.close(here)

    async def read() -> list[bytes]:
        async with keyboard.typed() as take:
            return [await take(), await take()]

    assert anyio.run(read) == [b"a line\n", b""]
    os.close(there)


def test_a_plain_file_is_nobody_who_types(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    descriptor = os.open(tmp_path / "file", os.O_RDONLY)
    monkeypatch.setattr(keyboard, "_STANDARD_INPUT", descriptor)

    async def read() -> bytes:
        async with keyboard.typed() as take:
            return await take()

    assert anyio.run(read) == b""
    os.close(descriptor)


def test_what_cannot_be_shown_is_replaced() -> None:
    words = "from feedscript.host import streams; streams.set_up_streams(); print('\\udce4')"
    environment = {**os.environ, "PYTHONIOENCODING": "ascii"}
    done = subprocess.run([sys.executable, "-c", words], capture_output=True, env=environment)
    assert (done.returncode, done.stdout.strip()) == (0, b"?")
