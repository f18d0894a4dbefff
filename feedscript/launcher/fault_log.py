"""What a launcher remembers of its last faults and unclean starts, as it tells them."""

from __future__ import annotations

import msgspec

from feedscript.launcher.faults import fault_words, where_to_look


class LoggedFault(msgspec.Struct, frozen=True, kw_only=True):
    """One of them. ``kind`` is a fault, or how a start came about: reset, brown-out, watchdog."""

    boot: int  # the launcher's power-up in which it was
    second: int  # since that power-up; 65535 stands for that and later
    kind: str
    detail: str = ""


class FaultLog(msgspec.Struct, frozen=True, kw_only=True):
    """The newest first. ``rows`` is None where the launcher keeps no log."""

    launcher: str
    rows: tuple[LoggedFault, ...] | None

    def lines(self) -> list[str]:
        """For a person: one line each, with where to look."""
        if self.rows is None:
            return [f"{self.launcher} keeps no log of its faults"]
        if not self.rows:
            return [f"{self.launcher} remembers no fault"]
        return [f"{self.launcher} remembers, the newest first:", *map(_line, self.rows)]


def _line(row: LoggedFault) -> str:
    words = fault_words(row.kind, row.detail)
    look = where_to_look(row.kind, row.detail)
    when = f"power-up {row.boot}, {row.second} s"
    return f"  {when}: {words}" + (f"; {look}" if look else "")
