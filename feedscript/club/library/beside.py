"""What takes long about a text, found out beside the server: whether it passes, and how it looks.

A check may take long, or much, and a thread of the server's own that checks takes its time from
whoever waits for a STOP. So the text goes to a process of its own, which is bounded and ends when
it has answered.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import threading
from typing import TypeVar

import msgspec

from feedscript import club_library
from feedscript.club.apart import be_bounded, surroundings
from feedscript.club.library.look import Look, look, unseen
from feedscript.club.library.shelf import Judged, judged_here, not_done
from feedscript.tongues.tongue import IN_ENGLISH, Tongue, Tongues

#: So many texts are looked over at once, and each may take so long, s. Design values.
AT_ONCE, MOST_S = 2, 120.0
_TURNS = threading.BoundedSemaphore(AT_ONCE)
_COMMAND = [sys.executable, "-P", "-m", __name__]
AnswerT = TypeVar("AnswerT")


class _ToJudge(msgspec.Struct, frozen=True, tag="judge"):
    name: str
    text: str


class _ToLookAt(msgspec.Struct, frozen=True, tag="look"):
    name: str
    content: bytes
    language: str


_Wish = _ToJudge | _ToLookAt


class _NoWordError(Exception):
    """The process ended, or was ended, without an answer."""


def judged_apart(name: str, text: str) -> Judged:
    """What the check says of a text that stands alone. Raises NotDoneError where it ends without
    a word."""
    try:
        return _asked(_ToJudge(name, text), Judged)
    except _NoWordError:
        raise not_done(
            "its check did not come to an end here", "make it shorter, or split it"
        ) from None


def looked_at_apart(name: str, content: bytes, tongue: Tongue = IN_ENGLISH) -> Look:
    """A text looked at; where that ends without a word, a look that says so."""
    try:
        return _asked(_ToLookAt(name, content, tongue.language), Look)
    except _NoWordError:
        return unseen()


def _asked(wish: _Wish, shape: type[AnswerT]) -> AnswerT:
    with _TURNS, tempfile.TemporaryDirectory() as alone:
        try:
            done = subprocess.run(
                _COMMAND,
                input=msgspec.json.encode(wish),
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                cwd=alone,
                env=surroundings(HOME=alone, **{club_library.VARIABLE: alone}),
                timeout=MOST_S,
                check=True,
            )
            return msgspec.json.decode(done.stdout, type=shape)
        except (OSError, subprocess.SubprocessError, msgspec.DecodeError) as trouble:
            raise _NoWordError from trouble


def main() -> None:
    be_bounded()
    wish = msgspec.json.decode(sys.stdin.buffer.read(), type=_Wish)
    found: Judged | Look
    if isinstance(wish, _ToJudge):
        found = judged_here(wish.name, wish.text)
    else:
        found = look(wish.name, wish.content, Tongues().named(wish.language) or IN_ENGLISH)
    sys.stdout.buffer.write(msgspec.json.encode(found, enc_hook=str))


if __name__ == "__main__":
    main()
