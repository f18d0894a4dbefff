"""What a person has said so far of a film, written down answer by answer: whoever was interrupted
goes on from there. Numbers only.
"""

from __future__ import annotations

from pathlib import Path
from typing import TypeAlias

import msgspec

from feedscript.diagnostics import Diagnostic
from feedscript.watch.camera.camera import Camera
from feedscript.watch.found import Said
from feedscript.watch.kept_lines import KeptLines
from feedscript.watch.ruler.find import Ruler


class _Court(msgspec.Struct, frozen=True, tag_field="of", tag="court", omit_defaults=True):
    """The court in the next part of the film; without a camera that part is left out."""

    camera: Camera | None = None
    by_lines: bool = False
    worst_sd_m: float = 0.0
    shown: float = 0.0


class _Ball(msgspec.Struct, frozen=True, tag_field="of", tag="ball"):
    number: int
    said: Said | None


class _Again(msgspec.Struct, frozen=True, tag_field="of", tag="again"):
    """Back to the first part of the film: all that was said before is let go."""


_Row: TypeAlias = _Court | _Ball | _Again


class Answers:
    """The file of one person's answers; ``lost``: why it could not be written to its end."""

    def __init__(self, path: Path, key: str) -> None:
        """Reads what is there of the same film. Raises OSError where it is no plain file."""
        head = msgspec.json.encode({"answers": key})
        self._lines: KeptLines[_Row] = KeptLines(
            path, head, lambda line: msgspec.json.decode(line, type=_Row), msgspec.json.encode
        )
        self.lost = ""

    def _since(self) -> list[_Row]:
        """Since the person last began."""
        rows = self._lines.rows
        again = [at for at, one in enumerate(rows) if isinstance(one, _Again)]
        return rows[again[-1] + 1 :] if again else rows

    @property
    def courts(self) -> list[Ruler | None]:
        """What was said of each part of the film, in order; None of one that is left out."""
        return [
            None
            if one.camera is None
            else Ruler(one.camera, one.by_lines, one.worst_sd_m, one.shown)
            for one in self._since()
            if isinstance(one, _Court)
        ]

    @property
    def said(self) -> dict[int, Said | None]:
        """What was said of balls, by their numbers."""
        return {one.number: one.said for one in self._since() if isinstance(one, _Ball)}

    def of_court(self, ruler: Ruler | Diagnostic) -> None:
        if isinstance(ruler, Diagnostic):
            self._keep(_Court())
        else:
            self._keep(_Court(ruler.camera, ruler.by_lines, ruler.worst_sd_m, ruler.shown))

    def of_ball(self, number: int, said: Said | None) -> None:
        self._keep(_Ball(number, said))

    def again(self) -> None:
        if self._since():
            self._keep(_Again())

    def _keep(self, row: _Row) -> None:
        """A full disk must not keep a person from going on."""
        try:
            self._lines.add(row)
        except OSError as trouble:
            self.lost = trouble.strerror or str(trouble)
