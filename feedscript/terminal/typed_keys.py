"""Bytes from a terminal, taken apart into keys and typed lines, and lines into commands."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass, field

from feedscript.diagnostics import Diagnostic, Page
from feedscript.session.operator.commands import (
    ChangeRoster,
    Command,
    EnterCode,
    MarkLanding,
    RosterChange,
)
from feedscript.session.operator.view import LessonView

NOT_A_LINE = Page(
    slug="not-understood",
    title="A typed line that says nothing the lesson knows",
    why=(
        "After `:` may stand: `join NAME [left]`, `leave NAME`, `rest NAME`, `back NAME [left]`, "
        "`code NUMBER`, `at ACROSS ALONG` (where the last recorded shot came down: metres to the "
        "ad side and past the net, as the launcher looks; its own half is negative)."
    ),
)

#: What a key may send beside its character: ECMA-48 control sequences (5.4), and the older form
#: of an arrow key, ESC O and a letter.
_SEQUENCE = re.compile(r"\x1b\[[0-?]*[ -/]*[@-~]|\x1bO[@-~]")
#: The beginning of one of which the rest is still to come.
_BEGUN = re.compile(r"\x1b(?:\[[0-?]*[ -/]*|O)?\Z")

_CHANGES = {
    "join": RosterChange.JOIN,
    "back": RosterChange.JOIN,
    "leave": RosterChange.LEAVE,
    "rest": RosterChange.REST,
}


@dataclass(slots=True)
class Typing:
    """What has been typed so far."""

    line: str | None = None  # being typed; None while none is
    _rest: str = ""
    _decoder: codecs.IncrementalDecoder = field(
        default_factory=lambda: codecs.getincrementaldecoder("utf-8")(errors="ignore")
    )

    def take(self, data: bytes) -> list[str]:
        """The keys and whole lines (with their ``:``) that these bytes end."""
        text = self._rest + self._decoder.decode(data)
        self._rest, done = "", []
        while text:
            if _BEGUN.match(text):
                self._rest = text
                break
            sequence = _SEQUENCE.match(text)
            key = sequence.group() if sequence else text[0]
            text = text[len(key) :]
            found = self._typed(key.replace("\x1bO", "\x1b["))
            if found is not None:
                done.append(found)
        return done

    def _typed(self, key: str) -> str | None:
        if self.line is None:
            if key == ":":
                self.line = ":"
                return None
            return key
        if key in ("\r", "\n"):
            line, self.line = self.line, None
            return line
        if key in ("\x7f", "\b"):
            self.line = self.line[:-1] or None
        elif key.isprintable():
            self.line += key
        elif key.startswith("\x1b"):
            self.line = None
        return None


def command_in(line: str, view: LessonView) -> Command | Diagnostic:
    """What a typed line commands."""
    verb, *rest = line.removeprefix(":").split() or [""]
    verb = verb.lower()
    found: Command | None = None
    if verb == "code" and len(rest) == 1 and rest[0].isdecimal():
        found = EnterCode(launcher=_wants_code(view), code=rest[0])
    elif verb == "at" and len(rest) == 2:
        found = _landing(rest)
    elif verb in _CHANGES and rest:
        left = len(rest) > 1 and rest[-1].lower() == "left"
        name = " ".join(rest[:-1] if left else rest)
        found = ChangeRoster(change=_CHANGES[verb], player=name, left_handed=left)
    return found or NOT_A_LINE.report(
        f"{line!r} is not understood",
        help="for instance :join Bo left, :rest Ana, :code 1234, :at 1.5 -9",
    )


def _wants_code(view: LessonView) -> int:
    """The launcher that asks for the number on its display; the first where none does."""
    return next((n for n, launcher in enumerate(view.launchers) if launcher.wants_code), 0)


def _landing(words: list[str]) -> MarkLanding | None:
    try:
        across_m, along_m = (float(word.removesuffix("m")) for word in words)
    except ValueError:
        return None
    return MarkLanding(landing_m=(across_m, along_m))
