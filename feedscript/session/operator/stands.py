"""Where the coach stands: how court and pad lie on a device held there.

A record always means what the player sees: left is the player's left. So whoever stands elsewhere
finds long, net, left and right where they are seen from there, under the player's name for them.
"""

from __future__ import annotations

import msgspec

from feedscript.plan.model import Result
from feedscript.session.operator.commands import RecordResult
from feedscript.session.operator.controls import PAD
from feedscript.tongues.text import _


class PadKey(msgspec.Struct, frozen=True, kw_only=True):
    """What is other about a control of the pad, as seen from one place."""

    name: str
    label: str
    mark: str
    keys: tuple[str, ...]


class Stand(msgspec.Struct, frozen=True, kw_only=True):
    """One place to stand. ``turn_deg`` turns a picture drawn with +x (ad) to the right and +y (the
    receiver's end) up, clockwise. ``pad`` are the controls' names, row by row."""

    name: str
    label: str
    turn_deg: int
    pad: tuple[str, ...]
    keys: tuple[PadKey, ...] = ()


#: Around the pad from its top clockwise: the place in reading order, and the mark towards it.
_AROUND = ((1, "▲"), (5, "▶"), (7, "▼"), (3, "◀"))
#: The same, as the player sees them: behind the player it stands so.
_SEEN = (Result.LONG, Result.RIGHT, Result.NET, Result.LEFT)
_THEIRS = {Result.LEFT: _("Player's left"), Result.RIGHT: _("Player's right")}


def _stand(name: str, label: str, turn_deg: int) -> Stand:
    """The pad turned with the court; behind the player both stand at 180 degrees."""
    quarters = (turn_deg - 180) // 90 % 4
    places = [control.name for control in PAD]
    theirs = {c.command.result: c for c in PAD if isinstance(c.command, RecordResult)}
    keys = []
    for number, result in enumerate(_SEEN):
        place, mark = _AROUND[(number + quarters) % 4]
        control, there = theirs[result], theirs[_SEEN[(number + quarters) % 4]]
        places[place] = control.name
        keys.append(
            PadKey(
                name=control.name,
                label=control.label if not quarters else _THEIRS.get(result, control.label),
                mark=control.mark if result is Result.NET else mark,
                keys=there.keys,
            )
        )
    return Stand(name=name, label=label, turn_deg=turn_deg, pad=tuple(places), keys=tuple(keys))


STANDS = (
    _stand("player", _("behind the player"), 180),
    _stand("launcher", _("behind the launcher"), 0),
    _stand("side", _("at the side, the launcher to the left"), 90),
)
