"""Rendered films of shots: how each ended is told, or that it was not seen. Minutes: ``--long``."""

from __future__ import annotations

import numpy as np
import pytest

from feedscript.diagnostics import Diagnostic
from feedscript.watch.shots.seen import Shot
from tests.watch.shots.filmed import filmed

ENDS = ("in", "net", "long", "left", "right", "none")


@pytest.mark.long
@pytest.mark.timeout(900)
@pytest.mark.parametrize("place", ["behind receiver", "behind launcher"])
def test_how_shots_ended_is_told_from_a_film(place: str) -> None:
    seen = filmed(4, ENDS, place=place)
    assert not isinstance(seen, Diagnostic)
    told, inside = [], []
    for hit, shot in zip(seen.hits, seen.shots(), strict=True):
        true = "none" if hit is None else hit.outcome
        result = shot.suggested.value if isinstance(shot, Shot) and shot.suggested else None
        told.append((true, result))
        if hit is not None and isinstance(shot, Shot) and shot.landing_m is not None:
            off = np.subtract(shot.landing_m, hit.back.bounces()[0].place_m[:2])
            inside.append(off @ np.linalg.solve(np.array(shot.covariance_m2), off) < 13.8)
    assert [(true, result) for true, result in told if result not in (true, None)] == []
    assert sum(result is not None for _true, result in told) >= 4
    assert all(inside)
