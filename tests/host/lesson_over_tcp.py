"""A lesson from check to journal on the stand-in, over the network, as a person would type it.

``python tests/host/lesson_over_tcp.py``: for the systems whose tests run without this machine's
tools. Exits with 1, and says what was said, where it does not go well.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

FEEDSCRIPT = [sys.executable, "-u", "-m", "feedscript.cli"]
LESSON = """feedscript 1
title "Over the network"
court    { surface hard }
balls    { type 2   load 30 }
launcher { stands 1 m behind centre mark   profile "garage.toml" }
feed deep {
    land 3 m inside baseline, 1.5 m inside ad sideline
    speed 80 km/h   spin top 300 rpm   within 1 m
}
lesson { show speed of deep   repeat 2 { send deep after 5 s } }
"""


def ready(stand_in: subprocess.Popen[str]) -> str:
    """The address that the stand-in names once it is there."""
    assert stand_in.stdout is not None
    for line in stand_in.stdout:
        if line.startswith("use --on "):
            return line.split()[-1]
    raise SystemExit("the stand-in ended before it was ready")


def main() -> None:
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        program, journal = Path(folder, "lesson.feed"), str(Path(folder, "journal.sqlite"))
        program.write_text(LESSON, encoding="utf-8")
        words = [*FEEDSCRIPT, "stand-in", "--tcp", "0", "--unkeyed", "--arms-by-itself"]
        with subprocess.Popen(
            words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        ) as stand_in:
            try:
                words = [*FEEDSCRIPT, "run", str(program), "--on", ready(stand_in), "--journal"]
                done = subprocess.run(
                    [*words, journal, "--yes-i-am-behind-the-launcher"],
                    stdin=subprocess.DEVNULL,
                    capture_output=True,
                    text=True,
                )
            finally:
                stand_in.kill()
        print(done.stdout, done.stderr)
        if done.returncode != 0 or "3 balls left, 0 not sent, 0 unknown" not in done.stdout:
            raise SystemExit(1)


if __name__ == "__main__":
    main()
