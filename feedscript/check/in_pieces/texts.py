"""A program's texts, and the verdict on them with one launcher."""

from __future__ import annotations

from functools import cached_property

import msgspec

from feedscript.check.check_program import check_text_on
from feedscript.check.in_pieces.pieces import LauncherAnswer, LauncherPiece
from feedscript.diagnostics import Severity
from feedscript.language.resolve.loading import Loaded, NotLoaded
from feedscript.tongues.text import plain


class Used(msgspec.Struct, frozen=True):
    """A text that another one uses: who, by which path, and what was found there."""

    using: str
    path: str
    found: Loaded


class TextsData(msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag="texts"):
    """The case as it travels."""

    text: str
    source: str
    used: tuple[Used, ...]

    def case(self) -> Texts:
        return Texts(self)


class Texts(msgspec.Struct, frozen=True, dict=True, eq=False):
    """A program with everything that it uses: no other file is read."""

    sent: TextsData

    @cached_property
    def data(self) -> bytes:
        """The case as JSON."""
        return msgspec.json.encode(self.sent, enc_hook=plain)

    @cached_property
    def _found(self) -> dict[tuple[str, str], Loaded]:
        return {(one.using, one.path): one.found for one in self.sent.used}

    def load(self, using: str, path: str) -> Loaded | NotLoaded:
        """As :func:`load_beside` found it where the program lies."""
        return self._found.get((using, path)) or NotLoaded("it was not sent")


def judged(case: Texts, piece: LauncherPiece) -> LauncherAnswer:
    """The one check's verdict, and each kind of error with its first message."""
    verdict = check_text_on(case.sent.text, case.sent.source, case.load, piece.profile, piece.name)
    errors: dict[str, str] = {}
    for one in verdict.diagnostics:
        if one.severity is Severity.ERROR:
            errors.setdefault(one.slug, str(one.message))
    return LauncherAnswer(verdict.ok, tuple(errors.items()))
