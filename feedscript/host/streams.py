"""Standard output, as text for people and as bytes for machines."""

from __future__ import annotations

import os
import sys
from typing import TextIO


def set_up_streams() -> None:
    """What cannot be shown is replaced, never a fault. On Windows what goes into a file or a pipe
    is UTF-8, as everywhere else; its terminals take any character as they are."""
    for stream in (sys.stdout, sys.stderr):
        if not hasattr(stream, "reconfigure"):
            continue
        if sys.platform == "win32" and not stream.isatty():
            stream.reconfigure(encoding="utf-8", errors="replace", newline="\n")
        else:
            stream.reconfigure(errors="replace")


def put(out: TextIO, text: str) -> None:
    """Write past the stream's own buffer, whose lock nobody may be found holding at the end.

    Raises OSError where nobody is there to read it.
    """
    try:
        descriptor = out.fileno()
    except OSError:  # a stream in memory
        out.write(text)
        return
    out.flush()
    if sys.platform == "win32" and out.isatty():  # its bytes would be of the console's code page
        out.write(text)
        out.flush()
        return
    data = text.encode(errors="replace")
    while data:
        data = data[os.write(descriptor, data) :]
