"""Each shipped fault holds, and goes red once what protects from it is switched off."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from feedscript_simulator import feeder, machine
from feedscript_simulator.far_end import FarEnd
from feedscript_simulator.feeder import Feeder
from feedscript_simulator.machine import Machine
from feedscript_simulator.plant import Plant

from feedscript.bench.trials.hold_trials import Asked, Standing, hold_all
from feedscript.check.check_program import check_program
from feedscript.launcher.port import LauncherState, Outcome
from feedscript.session.engine.launcher_handle import LauncherHandle
from feedscript.shipped import shipped_folder
from tests.bench.trials.programs import held, shipped

Patch = pytest.MonkeyPatch


def _finds_nothing(patch: Patch) -> None:
    patch.setattr(Machine, "find_fault", lambda *_: None)


def _hears_no_silence(patch: Patch) -> None:
    patch.setattr(Machine, "_silent_ms", lambda _: None)


def _keeps_its_queue(patch: Patch) -> None:
    patch.setattr(Feeder, "flush", lambda *_: None)


def _takes_every_line(patch: Patch) -> None:
    patch.setattr(FarEnd, "_is_newer", lambda *_: True)
    patch.setattr(machine, "check_feed", lambda *_: None)
    patch.setattr(feeder.Times, "READY_GRACE", 5000)  # or the drives' readiness keeps it in


def _arms_itself(patch: Patch) -> None:
    def arm(self: Machine, ceiling: tuple[int, int, int]) -> None:
        self.ceiling, self._fresh_ms = ceiling, self.now_ms
        self._go(LauncherState.ARMED, machine.Reason.HOST_LINE)

    patch.setattr(Machine, "arm", arm)


def _keeps_power(patch: Patch) -> None:
    patch.setattr(Plant, "power_off", lambda *_: None)


def _runs_on(patch: Patch) -> None:
    patch.setattr(Plant, "run_down", lambda _, now_ms: now_ms + 60_000)


def _wheels_too_fast(patch: Patch) -> None:
    patch.setattr(
        Plant, "measured", lambda self, now: tuple(round(1.1 * d.value(now)) for d in self.drives)
    )


def _host_invents(patch: Patch) -> None:
    """The host writes down every ball as one that left."""
    settle: Callable[..., Any] = LauncherHandle.settle

    def invented(self: LauncherHandle, feed: int, _: Outcome, at_s: float | None, why: str = ""):
        settle(self, feed, Outcome.LEFT, at_s or 0.0, why)

    patch.setattr(LauncherHandle, "settle", invented)


#: A protection, how it is switched off, the fault that then tells, and what it says.
OFF: list[tuple[Callable[[Patch], None], str, str]] = [
    (_finds_nothing, "two balls come at once", "stopped within 0.1 s"),
    (_hears_no_silence, "the link is dead", "stopped within 0.75 s"),
    (_keeps_its_queue, "the coach holds", "held within 0.1 s"),
    (_takes_every_line, "five feeds cross twice", "nothing twice"),
    (_arms_itself, "a drive loses its speed", "armed by a person"),
    (_keeps_power, "the emergency stop is pressed", "without power within 0.05 s"),
    (_runs_on, "a motor is too hot", "without power within 0.5 s"),
    (_wheels_too_fast, "the clock is fast", "none too fast"),
    (_host_invents, "a ball jams", "written down"),
]


@pytest.mark.parametrize(("off", "fault", "words"), OFF)
def test_a_fault_goes_red_where_its_protection_is_off(
    monkeypatch: Patch, off: Callable[[Patch], None], fault: str, words: str
) -> None:
    before = held(shipped()[fault])
    assert before.standing is Standing.HOLDS, before.failed
    off(monkeypatch)
    after = held(shipped()[fault])
    assert words in [one.words for one in after.failed], after


#: Those that are tried at every change; the others, and every shipped program, by `--long`.
SAMPLE = 4


@pytest.mark.parametrize("name", [*shipped()][::SAMPLE])
def test_a_lesson_withstands_the_shipped_faults(name: str) -> None:
    found = held(shipped()[name])
    assert found.standing is Standing.HOLDS, (found.standing, found.failed)


def test_there_are_forty() -> None:
    assert len(shipped()) == 40


@pytest.mark.long
@pytest.mark.timeout(1800)
@pytest.mark.parametrize("path", sorted(shipped_folder().glob("*.feed")), ids=lambda one: one.stem)
def test_every_shipped_program_withstands_all_of_them(path: Path) -> None:
    found = list(hold_all([(path, check_program(path))], Asked(trials=tuple(shipped().values()))))
    wrong = [(one.trial.name, one.standing, one.failed) for one in found if not one.ok()]
    assert wrong == []
    assert sum(one.standing is Standing.HOLDS for one in found) == 40
