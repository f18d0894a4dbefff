"""Bytes from a terminal, taken apart into keys and typed lines."""

from __future__ import annotations

import codecs
import re

#: What a key may send beside its character: ECMA-48 control sequences (5.4), and the older form
#: of an arrow key, ESC O and a letter.
_SEQUENCE = re.compile(r"\x1b\[[0-?]*[ -/]*[@-~]|\x1bO[@-~]")
#: The beginning of one of which the rest is still to come.
_BEGUN = re.compile(r"\x1b(?:\[[0-?]*[ -/]*|O)?\Z")

#: The keys that commands are given by, as browsers name them.
_NAMES = {
    "\r": "Enter",
    "\n": "Enter",
    "\x1b[A": "ArrowUp",
    "\x1b[B": "ArrowDown",
    "\x1b[C": "ArrowRight",
    "\x1b[D": "ArrowLeft",
    "\x1b[5~": "PageUp",
    "\x1b[6~": "PageDown",
}


#: What stops even while a line is typed, and takes the line back: each is its letter with Ctrl.
STOPS_ALWAYS = {"\x13": "s", "\x18": "x"}

#: Keys that a terminal cannot tell: alone, Esc is the beginning of many others.
NEVER_COME = ("Escape",)


class KeyReader:
    """Remembers a key or a line of which only the beginning has come."""

    def __init__(self, line: str | None = None) -> None:
        self.line = line  # being typed, with its ``:``; None while none is
        self._rest = ""
        self._decoder = codecs.getincrementaldecoder("utf-8")(errors="ignore")

    def take(self, data: bytes) -> list[str]:
        """The keys, by name, and whole lines (with their ``:``) that these bytes end."""
        text = self._rest + self._decoder.decode(data)
        self._rest, done = "", []
        while text:
            if _BEGUN.match(text):
                self._rest = text
                break
            sequence = _SEQUENCE.match(text)
            key = sequence.group() if sequence else text[0]
            text = text[len(key) :]
            found = self._ended_by(key.replace("\x1bO", "\x1b["))
            if found is not None:
                done.append(found)
        return done

    def _ended_by(self, key: str) -> str | None:
        if key in STOPS_ALWAYS:
            self.line = None
            return STOPS_ALWAYS[key]
        if self.line is None:
            if key == ":":
                self.line = ":"
                return None
            return _NAMES.get(key, key)
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
