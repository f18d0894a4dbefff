"""The page about many machines, typed as it stands: authority, scheduler, workers and draws, each a
process of its own that knows the others by TLS alone."""

from __future__ import annotations

import re
import shlex
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from feedscript.check.in_pieces import cluster as on_cluster
from feedscript.check.in_pieces.at_worker import DRAWS
from feedscript.check.in_pieces.cluster import Certificates, Wanted, cluster
from feedscript.diagnostics import FeedscriptError
from tests.conftest import ROOT

PAGE = ROOT / "shared/guide/how-to/many-machines.md"
PORT = "8786"
TOOLS = {
    "feedscript": [sys.executable, "-c", "from feedscript.cli import main; main()"],
    "dask": [sys.executable, "-m", "dask"],
    "openssl": ["openssl"],
}


def typed() -> list[list[str]]:
    """Every command of the page, at a port that is free here."""
    blocks = re.findall(r"^```sh\n(.*?)^```$", PAGE.read_text("utf-8"), re.M | re.S)
    with closing(socket.socket()) as free:
        free.bind(("127.0.0.1", 0))
        port = str(free.getsockname()[1])
    lines = [line for block in blocks for line in block.splitlines()]
    commands = [shlex.split(line.replace(PORT, port)) for line in lines]
    return [[*TOOLS[tool], *words] for tool, *words in commands]


def done(command: list[str], folder: Path) -> str:
    ended = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=240)
    assert ended.returncode == 0, ended.stderr
    return ended.stdout


@contextmanager
def running(command: list[str], folder: Path, begun: str) -> Iterator[None]:
    """Until the block ends, from when it says so on."""
    with subprocess.Popen(command, cwd=folder, stderr=subprocess.PIPE, text=True) as process:
        try:
            assert process.stderr is not None
            assert any(begun in line for line in process.stderr), f"it never said {begun!r}"
            yield
        finally:
            process.terminate()
            process.communicate()


@pytest.mark.long
@pytest.mark.timeout(300)
def test_the_page_is_followed_from_the_first_command_to_the_last(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    here, authority, asked, signed, scheduler, worker, there = typed()
    for folder in (tmp_path, strangers := tmp_path / "strangers"):
        folder.mkdir(exist_ok=True)
        for command in (authority, asked, signed):
            done(command, folder)
    with (
        running(scheduler, tmp_path, "Scheduler at:"),
        running(worker, tmp_path, "Registered to:"),
    ):
        assert done(there, tmp_path) == done(here, tmp_path)
        monkeypatch.setattr(on_cluster, "PATIENCE_S", 1.0)
        address = there[there.index("--cluster") + 1]
        theirs = (strangers / name for name in ("authority.pem", "machine.pem", "machine.key"))
        with (
            pytest.raises(FeedscriptError) as refused,
            cluster(Wanted(address, Certificates(*theirs)), DRAWS),
        ):
            pass
    assert refused.value.diagnostic.slug == "cluster-not-reached"
