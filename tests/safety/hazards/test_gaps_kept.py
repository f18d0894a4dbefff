"""A gap is worked out once for the corridor and the place it is of, however often it is asked."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest

from feedscript.memo import Memo
from feedscript.safety.hazards import gaps
from feedscript.safety.hazards.envelope import Envelope

OUTLINE = np.array([(1.0, 4.0), (2.0, 4.0), (2.0, 6.0), (1.0, 6.0)])


def straight(x_m: float, stray_m: float = 0.1) -> Envelope:
    """A ball that flies along the court at this x."""
    centre = np.array([(x_m, y, 1.0) for y in np.linspace(-10.0, 8.0, 12)])
    moves = np.array([(stray_m, 0.0, 0.0), (-stray_m, 0.0, 0.0)])
    single = np.tile(moves, (12, 1, 1))
    nothing = np.empty((12, 0, 3))
    return Envelope(centre, single, nothing, nothing)


def test_what_is_kept_is_what_is_worked_out_anew() -> None:
    memo = Memo()
    corridors = [straight(x, stray) for x in (-1.0, 0.2, 0.6) for stray in (0.1, 0.2)]
    for enough in (10.0, 0.3, 10.0):
        for one in corridors:
            kept = gaps.clearance_m(one, OUTLINE, 2.0, enough, memo)
            assert kept == gaps.clearance_m(one, OUTLINE, 2.0, enough)
            for other in corridors:
                assert gaps.apart_m(one, other, enough, memo) == gaps.apart_m(one, other, enough)


def test_every_number_of_a_corridor_counts() -> None:
    one = straight(0.0)
    moved = one.single_m.copy()
    moved[3, 1, 0] = np.nextafter(moved[3, 1, 0], math.inf)
    assert one.content == straight(0.0).content
    assert msgspec.structs.replace(one, single_m=moved).content != one.content
    assert msgspec.structs.replace(one, joint_m=one.single_m).content != one.content


def test_nothing_is_looked_at_closely_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    looks: list[int] = []
    least = gaps._least

    def counted(*given: object) -> float:
        looks.append(1)
        return least(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(gaps, "_least", counted)
    memo = Memo()
    for _ in range(3):
        gaps.clearance_m(straight(0.5), OUTLINE, 2.0, 10.0, memo)
        gaps.apart_m(straight(0.5), straight(0.0), 10.0, memo)
    assert len(looks) == 2
