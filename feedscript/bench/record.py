"""What a comparison looks at: one lesson's balls, as somebody or something has them."""

from __future__ import annotations

import msgspec

from feedscript.launcher.setting import Setting
from feedscript.plan.model import Ellipse


class Ball(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One ball; None where that is not known of it.

    ``gap_s``: how long after this launcher's ball before, where no person's time lies between.
    ``scatter``: how far its landing may be from where it was aimed (one sigma); ``meant``: the
    landing is where it was aimed, not where it came down.
    """

    launcher: int
    feed: str = ""  # the plan's name for it; "" where nobody said which it was
    left: bool = True
    why: str = ""  # it did not
    player: str | None = None
    setting: Setting | None = None
    gap_s: float | None = None
    landing_m: tuple[float, float] | None = None
    meant: bool = False
    scatter: Ellipse | None = None
    speed_mps: float | None = None
    flight_s: float | None = None


class Record(msgspec.Struct, frozen=True, kw_only=True):
    """A lesson's balls in each launcher's order, as ``what`` has them (words for people).

    ``said``: calls, and who came and left, in order; ``ending``: how it ended. None: not known.
    ``whole``: a ball that is not in it was none; else it was perhaps not measured.
    """

    what: str
    balls: tuple[Ball, ...]
    said: tuple[str, ...] | None = None
    ending: str | None = None
    whole: bool = True
