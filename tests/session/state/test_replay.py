"""Whatever happens in a lesson, its journal read back is the lesson: at every event."""

from __future__ import annotations

import pytest

from feedscript.journal.store import Journal
from feedscript.session.engine import live_run
from feedscript.session.operator.phases import Phase
from feedscript.session.state.event_log import write_event
from feedscript.session.state.events import Event, TurnBegan
from tests.session.state.generated_lessons import Shadow, conduct

_LESSONS = 25
_LONG_LESSONS = 10_000


class _Sum:
    """What the generated lessons came to."""

    def __init__(self) -> None:
        self.lessons, self.events, self.phases = 0, 0, set[Phase]()

    def told(self, shadow: Shadow) -> None:
        self.lessons += 1
        self.events += shadow.events
        self.phases |= shadow.phases


def test_the_state_that_is_read_back_is_the_live_one_at_every_event() -> None:
    found = _Sum()
    for seed in range(_LESSONS):
        conduct(seed, found.told)
    assert found.lessons > _LESSONS  # some were broken off, and taken up again
    assert found.events > 50 * _LESSONS
    assert len(found.phases) > 12


@pytest.mark.long
@pytest.mark.timeout(0)
def test_it_is_so_in_ten_thousand_lessons() -> None:
    found = _Sum()
    for seed in range(_LONG_LESSONS):
        conduct(seed, found.told)
    assert found.phases == set(Phase)


def test_an_event_that_is_not_written_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    """The comparison can fail."""

    def leaves_out(journal: Journal, session_id: int, utc_s: float, event: Event) -> None:
        if not isinstance(event, TurnBegan):
            write_event(journal, session_id, utc_s, event)

    monkeypatch.setattr(live_run, "write_event", leaves_out)
    assert any(_differs(seed) for seed in range(_LESSONS))


def _differs(seed: int) -> bool:
    try:
        conduct(seed)
    except AssertionError:
        return True
    return False
