"""Every command, typed in one process without anything of POSIX.

``python -m tests.host.all_commands FOLDER`` prints one JSON object: for each line typed its exit
code, the end of what it said, and what went wrong inside.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import threading
import time
import traceback
from pathlib import Path
from typing import Any

# Libraries look at the system while they are imported; they are not what is tested.
import alembic.command
import anyio.to_thread
import bleak
import click
import cryptography.x509
import distributed
import matplotlib.pyplot
import numpy
import platformdirs.unix
import pygls.lsp.server
import resvg_py
import rich.live
import scipy.optimize
import segno
import serial.tools.list_ports
import shapely
import sqlalchemy
import starlette.testclient
import trio.testing
import uvicorn
from click.testing import CliRunner

from tests.host.lines import LINES
from tests.host.windows import windows

#: Used for having been imported.
LIBRARIES = (
    alembic, anyio, bleak, cryptography, distributed, matplotlib, numpy, platformdirs, pygls,
    resvg_py, rich, scipy, segno, serial, shapely, sqlalchemy, starlette, trio, uvicorn,
)  # fmt: skip

TINY = """feedscript 1
title "Tiny"
court    { surface hard }
balls    { type 2   load 30 }
launcher { stands 1 m behind centre mark   profile "garage.toml" }
feed deep {
    land 3 m inside baseline, 1.5 m inside ad sideline
    speed 80 km/h   spin top 300 rpm   within 1 m
}
lesson { show speed of deep }
expect { balls <= 5 }
"""

FAULTS = """[[fault]]
name = "nobody arms"
where = "person"
what = "never-arms"
expect = ["no ball after"]
"""

#: When Ctrl-C comes.
GOES_ON_S = 1.5


def typed(line: str) -> dict[str, Any]:
    """What came of one line."""
    from feedscript.cli import verbs

    pressed = None
    if line.startswith("~"):
        line = line[1:]
        pressed = threading.Timer(GOES_ON_S, os.kill, (os.getpid(), signal.SIGINT))
        pressed.start()
    began_s = time.monotonic()
    ended = CliRunner().invoke(verbs, line.split(), input=b"")
    if pressed is not None:
        pressed.cancel()
    wrong = ""
    if ended.exception is not None and not isinstance(ended.exception, SystemExit):
        wrong = "".join(traceback.format_exception(ended.exception))
    took_s = round(time.monotonic() - began_s, 2)
    return {"code": ended.exit_code, "said": ended.output[-2000:], "wrong": wrong, "s": took_s}


def main() -> None:
    folder = Path(sys.argv[1])
    os.chdir(folder)
    (folder / "tiny.feed").write_text(TINY, encoding="utf-8")
    (folder / "faults.toml").write_text(FAULTS, encoding="utf-8")
    (folder / "mapped.toml").write_text("", encoding="utf-8")
    (folder / "film.mp4").write_bytes(b"no film")
    with windows():
        told = {line: typed(line) for line in LINES}
        loaded = sorted(name for name in sys.modules if name.startswith("feedscript"))
    print(json.dumps({"told": told, "loaded": loaded}))


if __name__ == "__main__":
    assert click
    main()
