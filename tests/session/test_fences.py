"""What the engine asks of a launcher before anything else."""

from __future__ import annotations

import msgspec
import pytest

from feedscript.launcher.port import Description
from feedscript.session.fences import slow_watchdogs
from tests.session.rehearsing import GARAGE

SAID = Description(
    name="garage",
    serial="1",
    protocol=1,
    profile_hash="",
    capabilities=frozenset(),
    watchdog_s=GARAGE.guard.watchdog_s,
    queue_depth=2,
    hold_limit_s=30.0,
)


@pytest.mark.parametrize(
    ("off_s", "slugs"), [(-0.1, []), (0.0, []), (0.05, ["slow-watchdog"]), (None, [])]
)
def test_a_launcher_may_stop_sooner_than_its_profile_says_and_never_later(
    off_s: float | None, slugs: list[str]
) -> None:
    own_s = None if off_s is None else GARAGE.guard.watchdog_s + off_s
    said = msgspec.structs.replace(SAID, watchdog_s=own_s)
    assert [found.slug for found in slow_watchdogs([said], [GARAGE])] == slugs
