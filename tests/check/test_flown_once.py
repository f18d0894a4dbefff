"""What a check has flown, nobody who looks at it afterwards flies again."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from feedscript.check.check_program import check_program
from feedscript.check.sample import sample
from feedscript.flight.launches import Release
from feedscript.flight.motion import flights
from feedscript.review.drawing.files import draw_plan, draw_worst
from feedscript.safety.certify import certify

PROGRAM = """feedscript 1
court { lines doubles  surface hard }
balls { type 2 }
group { players "Ash", "Birch", "Cedar", "Dill"  level club }
coach { walks deuce run-off }
launcher west {
    profile "garage.toml"  stands 1 m behind baseline, 2.5 m to ad of centre mark  load 40
}
launcher east {
    profile "garage.toml"  stands 1 m behind baseline, 2.5 m to deuce of centre mark  load 40
}
keep out "bench" { area ad run-off }
require net-clearance 0.4 m
allow too-fast-for-group because "they know where the ball comes"
feed left {
    land 3 m inside baseline, 2.5 m to deuce of centre line  speed 85 km/h  receiver at -2.5 m, 13 m
}
feed right {
    land 3 m inside baseline, 2.5 m to ad of centre line  speed 85 km/h  receiver at 2.5 m, 13 m
}
pattern many(ball: feed) { repeat 4 { send ball after 5 s } }
lesson {
    show speed of left
    show speed of right
    together {
        station "a" on launcher west { many(left)  rest 12 s  many(left) }
        station "b" on launcher east { many(right)  rest 12 s  many(right) }
    }
    collect
}
expect { balls <= 18  left clears net by 0.2 m }
"""


@pytest.fixture
def balls(monkeypatch: pytest.MonkeyPatch) -> Counter[bytes]:
    """Every ball that is flown, by how it was let go."""
    seen: Counter[bytes] = Counter()

    class Seen(flights.Integration):
        def __init__(self, release: Release, *others: Any) -> None:
            parts = (release.place_m, release.velocity_mps, release.spin_radps)
            seen.update(column.tobytes() for column in np.concatenate(parts).T)
            super().__init__(release, *others)

    monkeypatch.setattr(flights, "Integration", Seen)
    return seen


def test_what_is_looked_at_after_a_check_flies_no_ball_again(balls: Counter[bytes]) -> None:
    verdict = check_program(Path("once.feed"), text=PROGRAM)
    assert verdict.facts is not None
    assert verdict.certificate is not None
    before = Counter(balls)
    assert before
    balls.clear()
    assert isinstance(draw_plan(verdict.facts, ".svg", 800), bytes)
    assert isinstance(draw_worst(verdict.facts, verdict.certificate, ".svg", 800), bytes)
    assert not balls.keys() & before.keys()
    assert max(balls.values(), default=1) == 1
    balls.clear()
    sample(verdict.facts, 2, 1)
    assert not balls.keys() & before.keys()


def test_a_plan_that_is_certified_anew_is_flown_anew(balls: Counter[bytes]) -> None:
    """The second opinion before a run trusts no flight of the first."""
    verdict = check_program(Path("once.feed"), text=PROGRAM)
    assert verdict.draft is not None
    before = Counter(balls)
    balls.clear()
    certified = certify(verdict.draft, verdict.profiles)
    assert certified.plan is not None
    assert balls.keys() <= before.keys()
    assert len(balls) > 20 * len(verdict.draft.feeds)
