"""Whether a way back is seen from where a racket met the fed ball: one that is seen only later may
be any ball's, which comes from elsewhere and is told back to the fed ball's way.
"""

from __future__ import annotations

from feedscript.flight.models import Array
from feedscript.watch.fit.solve import Points
from feedscript.watch.fit.view import View
from feedscript.watch.seek.expected import AT

#: Of the pictures so long after the racket that should show the ball, this share does, and so many.
#: Whoever swings may hide it for a moment. Design values.
_NEAR_S, _SHARE, _LEAST = 0.2, 0.3, 3


def seen_from_contact(view: View, flight: Array, points: Points, times_s: Array) -> bool:
    """Whether pictures (taken at ``times_s``) show it just after the racket met it."""
    met_s = float(view.values(flight)[AT["left_s"]])
    px = view.px(flight, times_s[(times_s >= met_s) & (times_s <= met_s + _NEAR_S)])[0]
    shown = ((px > 0) & (px < (view.camera.width_px, view.camera.height_px))).all(-1)
    seen = int((points.times_s <= met_s + _NEAR_S).sum())
    return seen >= max(_LEAST, _SHARE * int(shown.sum()))
