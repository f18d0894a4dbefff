"""Keyed sessions through an untrusted bridge hold the five invariants of a faulty line.

Run by hand for long: `pytest tests/drivers/faults/test_bridged.py --long` (2,000 sessions).
"""

from __future__ import annotations

import pytest
from feedscript_drivers.wire.codec import Keyed
from feedscript_drivers.wire.seal import KeyedSeal

from tests.drivers.faults.bridged_session import FEEDS, run_bridged


def check_sessions(seeds: range) -> tuple[int, int]:
    """How many balls left, and how many lines were forged."""
    balls = forgeries = 0
    for seed in seeds:
        w, broken, forged = run_bridged(seed)
        assert not broken, f"seed {seed}: {broken}"
        balls += len(w.far.truth)
        forgeries += forged
    return balls, forgeries


def test_no_session_breaks_an_invariant() -> None:
    balls, forged = check_sessions(range(20))
    assert balls > 20 * FEEDS / 2, "the bridges were too bad to prove anything"
    assert forged > 100


@pytest.mark.long
@pytest.mark.timeout(0)
def test_no_session_of_two_thousand_breaks_an_invariant() -> None:
    balls, forged = check_sessions(range(2000))
    assert balls > 2000 * FEEDS / 2
    assert forged > 10_000


def test_tags_that_nobody_looked_at_would_be_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    def believes(self: KeyedSeal, line: Keyed, nonce: int | None = None) -> bool:
        del nonce
        if not self.is_new(line.counter):
            return False
        self.heard = line.counter
        return True

    monkeypatch.setattr(KeyedSeal, "accepts", believes)
    assert any(run_bridged(seed)[1] for seed in (11, 12, 26))  # one in eight of all
