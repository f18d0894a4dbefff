"""Whether a way back is seen from where a racket met the fed ball: one that is seen only later may
be any ball's, which comes from elsewhere and is told back to the fed ball's way.
"""

from __future__ import annotations

from feedscript.flight.models import Array
from feedscript.watch.fit.solve import Points

#: Of the pictures so long after the racket this share shows it, and so many. Whoever swings may
#: hide it for a moment. Design values.
_NEAR_S, _SHARE, _LEAST = 0.2, 0.3, 3


def seen_from_contact(met_s: float, points: Points, times_s: Array) -> bool:
    """Whether pictures (taken at ``times_s``) show it just after a racket met it: outside of them
    nothing is known of how it began."""
    taken = int(((times_s >= met_s) & (times_s <= met_s + _NEAR_S)).sum())
    seen = int((points.times_s <= met_s + _NEAR_S).sum())
    return seen >= max(_LEAST, _SHARE * taken)
