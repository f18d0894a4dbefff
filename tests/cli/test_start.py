"""What a command's process takes along from its start."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest

from feedscript.one_thread import ONE_THREAD

#: A check, and what its process looks like when it ends.
_LOOK = """
import gc, json, os, sys
from feedscript.cli import main
sys.argv = ["feedscript", "check", "wednesday-six"]
try:
    main()
finally:
    told = {"collects": gc.isenabled(), "kept": gc.get_freeze_count()}
    told["left"] = len(gc.get_objects())
    told["threads"] = len(os.listdir("/proc/self/task")) if os.path.isdir("/proc/self/task") else 1
    print(json.dumps(told), file=sys.stderr)
"""


@pytest.fixture(scope="module")
def checked() -> dict[str, int]:
    own = {name: value for name, value in os.environ.items() if name not in ONE_THREAD}
    done = subprocess.run(
        [sys.executable, "-c", _LOOK], env=own, capture_output=True, text=True, check=True
    )
    told: dict[str, int] = json.loads(done.stderr.splitlines()[-1])
    return told


def test_a_check_is_one_thread(checked: dict[str, int]) -> None:
    assert checked["threads"] == 1


def test_the_collector_leaves_alone_what_modules_are_made_of(checked: dict[str, int]) -> None:
    assert checked["collects"]
    assert checked["kept"] > checked["left"]
