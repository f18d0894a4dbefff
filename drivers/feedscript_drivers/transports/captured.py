"""The balls of a capture: what each was set to, and when it left by the launcher's own clock."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from feedscript.launcher.setting import Setting
from feedscript_drivers.transports.replay import Crossed, each_crossed
from feedscript_drivers.wire.messages import Command, EventLine, Reply

#: The launcher's clock begins again after so many milliseconds.
_WRAP_MS = 2**32


def balls_captured(path: Path) -> list[tuple[Setting, float | None]]:
    """Every ball that the launcher took on, in the order in which it was asked for.

    A ball that was asked for again (after a hold) counts as it was asked for last. The time is None
    where it did not leave. Raises LauncherError for a file that is no capture.
    """
    return _balls(each_crossed(path))


def _balls(crossed: Iterable[Crossed]) -> list[tuple[Setting, float | None]]:
    asked: dict[int, tuple[int, Setting]] = {}
    taken: dict[int, Setting] = {}
    left_ms: dict[int, int] = {}
    for message in crossed:
        match message:
            case Command(word="FEED"):
                feed, _, *numbers = message.numbers()
                asked[message.sequence] = feed, _setting(numbers)
            case Reply(code=None) if message.sequence in asked:
                feed, setting = asked.pop(message.sequence)
                taken[feed] = setting
            case EventLine(word="LEFT", numbers=(feed,)):
                left_ms.setdefault(feed, message.ms)
    first = next(iter(left_ms.values()), 0)
    return [
        (setting, (left_ms[feed] - first) % _WRAP_MS / 1000 if feed in left_ms else None)
        for feed, setting in sorted(taken.items())
    ]


def _setting(numbers: list[int]) -> Setting:
    *drives, pan, tilt, roll = numbers
    return Setting(
        drives=tuple(map(float, drives)),
        pan_deg=pan / 100,
        tilt_deg=tilt / 100,
        roll_deg=roll / 100,
    )
