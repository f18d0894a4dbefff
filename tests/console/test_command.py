"""``feedscript console`` as a process of its own: it shows a link, the link pairs, Ctrl-C stops."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
from pathlib import Path

import httpx

FEEDSCRIPT = [sys.executable, "-c", "from feedscript.cli import main; main()"]


def test_the_link_pairs_once_and_ctrl_c_ends_the_lesson_safely(tmp_path: Path) -> None:
    words = ["console", "steady-improver", "--on", "sim:", "--format", "json"]
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
            if (found := re.search(r"(http://127\.0\.0\.1:\d+)/#(\w{8})", line))
        )
        url, code = link.groups()
        with httpx.Client(base_url=url, headers={"Origin": url}) as client:
            assert "Pair this device" in client.get("/").text
            assert client.post("/stop", json={}).status_code == 401
            assert client.post("/pair", json={"code": code}).status_code == 200
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
        [*FEEDSCRIPT, "console", str(program), "--on", "sim:"], capture_output=True, text=True
    )
    assert done.returncode == 1
    assert "http://" not in done.stdout + done.stderr
    assert "Traceback" not in done.stdout + done.stderr
