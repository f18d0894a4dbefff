"""Whether a text passes, found out beside the server.

A check may take long, and a thread of the server's own that checks takes its time from whoever
waits for a STOP. So the text goes to a process of its own, which ends when it has answered.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import threading

import msgspec

from feedscript import club_library
from feedscript.club.apart import be_bounded, surroundings
from feedscript.club.library.shelf import Judged, judged_here, not_done

#: So many texts are judged at once, and each may take so long, s. Design values.
AT_ONCE, MOST_S = 2, 120.0
_TURNS = threading.BoundedSemaphore(AT_ONCE)


class _Text(msgspec.Struct):
    """What the process is told."""

    name: str
    text: str


def judged_apart(name: str, text: str) -> Judged:
    """What the check says of a text that stands alone. Raises NotDoneError where it ends without
    a word."""
    with _TURNS, tempfile.TemporaryDirectory() as alone:
        try:
            done = subprocess.run(
                [sys.executable, "-P", "-m", __name__],
                input=msgspec.json.encode(_Text(name, text)),
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                cwd=alone,
                env=surroundings(HOME=alone, **{club_library.VARIABLE: alone}),
                timeout=MOST_S,
                check=True,
            )
            return msgspec.json.decode(done.stdout, type=Judged)
        except (OSError, subprocess.SubprocessError, msgspec.DecodeError):
            raise not_done(
                "its check did not come to an end here", "make it shorter, or split it"
            ) from None


def main() -> None:
    be_bounded()
    told = msgspec.json.decode(sys.stdin.buffer.read(), type=_Text)
    found = judged_here(told.name, told.text)
    sys.stdout.buffer.write(msgspec.json.encode(found, enc_hook=str))


if __name__ == "__main__":
    main()
