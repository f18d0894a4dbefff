"""What only this terminal knows: what is being typed, and what it shows beside the lesson."""

from __future__ import annotations

import msgspec

from feedscript.diagnostics import Diagnostic
from feedscript.terminal.key_reader import KeyReader


class TerminalState(msgspec.Struct, eq=False):
    """The keys in front of a person, and what they change on this screen alone."""

    reader: KeyReader = msgspec.field(default_factory=KeyReader)
    refused: Diagnostic | None = None  # the last key's, until the next one
    help: bool = False
    quiet: bool = False  # no bell at a call
    invitation: str = ""  # how another device pairs; "" while it is not shown
    keys: bool = True
    pairs: bool = False  # there is a page that devices may pair with
