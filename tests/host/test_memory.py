"""Memory is kept for the next piece, whatever the surroundings ask for."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from feedscript.host import memory

#: A worker of Dask's is told to give everything back above 64 kB.
TOLD = {"MALLOC_TRIM_THRESHOLD_": "65536"}
USED_AGAIN = """
import resource, sys
import numpy as np
from feedscript.host.memory import keep_freed_memory
assert "keep" not in sys.argv or keep_freed_memory()
def used() -> int:
    for _ in range(200):
        np.ones(200_000)  # 1.6 MB, as long as a chunk's arrays
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt
before = used()
print(used() - before)
"""


def faults(*words: str) -> int:
    """How often the system had to be asked for a page of what had been had before."""
    command = [sys.executable, "-c", USED_AGAIN, *words]
    done = subprocess.run(command, env=os.environ | TOLD, capture_output=True, check=True)
    return int(done.stdout)


@pytest.mark.skipif(sys.platform != "linux", reason="glibc's")
def test_what_was_freed_is_there_again() -> None:
    given_back, kept = faults(), faults("keep")
    assert given_back > 10_000
    assert kept < given_back / 50


def test_where_there_is_nothing_of_the_kind_nothing_is_done(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    memory.keep_freed_memory.cache_clear()
    monkeypatch.setattr(memory.ctypes, "CDLL", lambda _: object())
    assert not memory.keep_freed_memory()
    monkeypatch.setattr(memory.sys, "platform", "win32")
    memory.keep_freed_memory.cache_clear()
    assert not memory.keep_freed_memory()
    memory.keep_freed_memory.cache_clear()
