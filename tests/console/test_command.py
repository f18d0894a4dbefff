"""``feedscript court-side`` as a process of its own: a link that pairs, and Ctrl-C that stops."""

from __future__ import annotations

import json
import re
import signal
import socket
import subprocess
import sys
from pathlib import Path

import httpx
import numpy as np
import pytest
import zxingcpp

from tests.console.sent_along import as_its_page
from tests.terminal.terminal_window import window

pytestmark = pytest.mark.real_time

FEEDSCRIPT = [sys.executable, "-c", "from feedscript.cli import main; main()"]


def test_the_link_pairs_once_and_ctrl_c_ends_the_lesson_safely(tmp_path: Path) -> None:
    words = ["court-side", "steady-improver", "--on", "sim:", "--format", "json"]
    with subprocess.Popen(
        [*FEEDSCRIPT, *words, "--journal", str(tmp_path / "journal.sqlite")],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stderr is not None
        link = next(
            found
            for line in process.stderr
            if (found := re.search(r"(http://127\.0\.0\.1:\d+)/#(\w{10})", line))
        )
        url, code = link.groups()
        with httpx.Client(base_url=url, headers={"Origin": url}) as client:
            assert "Pair this device" in client.get("/").text
            assert client.post("/stop", json={}).status_code == 401
            as_its_page(client, client.post("/pair", json={"code": code}))
            assert "STOP" in client.get("/").text
            assert client.post("/stop", json={}).status_code == 200
        assert httpx.post(f"{url}/pair", json={"code": code}, headers={"Origin": url}).is_error
        process.send_signal(signal.SIGINT)
        told, _ = process.communicate(timeout=20)
    assert process.returncode in (0, 3)
    assert json.loads(told)["ending"] == "broken-off"


def test_a_program_with_errors_is_refused_before_any_page(tmp_path: Path) -> None:
    program = tmp_path / "wrong.feed"
    program.write_text("feedscript 1\nlesson { send nothing after 2 s }\n")
    done = subprocess.run(
        [*FEEDSCRIPT, "court-side", str(program), "--on", "sim:"], capture_output=True, text=True
    )
    assert done.returncode == 1
    assert "http://" not in done.stdout + done.stderr
    assert "Traceback" not in done.stdout + done.stderr


HALF_BLOCKS = {" ": (0, 0), "▀": (1, 0), "▄": (0, 1), "█": (1, 1)}


def code_on(lines: list[str]) -> str:
    """The text of the QR code that these lines of a terminal show, read by an independent reader
    (ZXing); two rows of modules stand in a line."""
    rows = []
    for line in lines:
        cells = [HALF_BLOCKS[cell] for cell in line if cell in HALF_BLOCKS]
        rows += [[255 * cell[0] for cell in cells], [255 * cell[1] for cell in cells]]
    width = max(len(row) for row in rows)
    black = np.zeros((len(rows) + 8, width + 8), dtype=np.uint8)
    for number, row in enumerate(rows):
        black[number + 4, 4 : len(row) + 4] = row
    (found,) = zxingcpp.read_barcodes(np.kron(black, np.ones((6, 6), dtype=np.uint8)))
    return str(found.text)


def is_of_the_code(line: str) -> bool:
    return set(line) <= set(HALF_BLOCKS) and line.startswith(("█", "▀"))


def test_the_terminal_shows_a_code_that_a_phone_can_read(tmp_path: Path) -> None:
    """Even on a narrow one, with the stop below it."""
    words = ["court-side", "steady-improver", "--on", "sim:", "--court-network"]
    words += ["--journal", str(tmp_path / "journal.sqlite")]
    with window([*FEEDSCRIPT, *words], 40, 20) as made:
        made.see("court-side page:", "s STOP")
        first = code_on([line for line in made.lines if is_of_the_code(line)])
        assert first in made.text
        url, code = first.split("/#")
        assert "127.0.0.1" not in url
        made.press("P")  # any key closes it; then a fresh one, for a screen of the group
        made.see("Step 1")
        made.press("P")
        made.see("a screen for the group:")
        second = code_on([line for line in made.lines if is_of_the_code(line)])
        with httpx.Client(base_url=url, headers={"Origin": url}) as phone:
            assert phone.post("/pair", json={"code": second.split("/#")[1]}).json()["role"] == (
                "viewer"
            )
            made.see("Step 1")  # paired, so the code is gone from the screen
            assert phone.post("/pair", json={"code": code}).json()["role"] == "coach"
        made.press("\x03")
        assert made.ended() == 0
        assert made.is_given_back()


def refused(*words: str, code: str = "from feedscript.cli import main; main()") -> str:
    """What the command says on refusing; it ends without a traceback and begins no lesson."""
    done = subprocess.run(
        [sys.executable, "-c", code, "court-side", "steady-improver", "--on", "sim:", *words],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=30,
    )
    assert done.returncode == 2
    told = done.stdout + done.stderr
    assert "Traceback" not in told
    assert "http://" not in told
    return told


def test_a_port_that_is_taken_is_told_before_any_lesson_begins(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        told = refused("--port", str(port), "--journal", str(tmp_path / "journal.sqlite"))
    assert "(console-unreachable)" in told
    assert f"port {port}" in told
    assert "--port" in told
    assert not (tmp_path / "journal.sqlite").exists()


def test_without_a_network_the_phone_is_told_to_get_one() -> None:
    alone = (
        "import feedscript.console.listening as listening\n"
        "listening.court_address = lambda: None\n"
        "from feedscript.cli import main; main()\n"
    )
    told = refused("--court-network", code=alone)
    assert "(console-unreachable)" in told
    assert "hotspot" in told


def test_a_certificate_that_is_none_is_told_before_any_lesson_begins(tmp_path: Path) -> None:
    nothing = tmp_path / "none.pem"
    nothing.write_text("no certificate")
    told = refused("--tls-certificate", str(nothing), "--tls-key", str(nothing))
    assert "(bad-certificate)" in told
    assert "belong together" in refused("--tls-key", str(nothing))


@pytest.mark.parametrize("library", ["starlette", "segno"])
def test_a_missing_library_is_told_with_the_command_that_fixes_it(library: str) -> None:
    without = (
        f"import sys; sys.modules[{library!r}] = None; from feedscript.cli import main; main()"
    )
    told = refused(code=without)
    assert "(needs-console)" in told
    assert library in told
    assert "pip install 'feedscript[console]'" in told
