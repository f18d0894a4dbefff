"""When each named fault comes, and what it then does to the stand-in.

A moment may be reached in the middle of what the launcher does; what comes then is done when that
is over, at the same moment of the clock.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from feedscript_drivers.wire.protocol import STATES, FaultKind, Reason
from msgspec import Struct, field

from feedscript.launcher.port import LauncherState
from feedscript.launcher.trials.meaning import BEFALLS_A_BALL, BY_THE_COURT, FACTS
from feedscript.launcher.trials.trial import Trial, What
from feedscript_simulator.far_end import FarEnd
from feedscript_simulator.feeder import SOUND_BALL, Befallen
from feedscript_simulator.person import Person
from feedscript_simulator.trials.line import Line
from feedscript_simulator.trials.record import FarRecord

#: A person keeps the emergency stop pressed for so long, where it is not said. Design value.
PRESSED_S = 2.0


class Strikes(Struct):
    """The faults of one launcher. ``line`` and the rest are there once it is built."""

    trials: tuple[Trial, ...]
    record: FarRecord
    end: FarEnd | None = None
    person: Person | None = None
    line: Line | None = None
    _balls: int = 0
    _openings: int = 0
    _armed_s: float | None = None
    _due: list[tuple[float, Callable[[float], None]]] = field(default_factory=list)
    _begun: set[str] = field(default_factory=set)
    _of_balls: list[Trial] = field(default_factory=list)  # that the next ball is to meet

    # From the beginning

    def begin(self, end: FarEnd, person: Person, line: Line, now_s: float) -> None:
        """All is built and switched on."""
        self.end, self.person, self.line = end, person, line
        for trial in self.trials:
            if FACTS[trial.what].begins:
                self._from_the_beginning(trial, person)
                self.record.struck(trial.name, now_s)

    def _from_the_beginning(self, trial: Trial, person: Person) -> None:
        match trial.what:
            case What.ARMS_LATE:
                person.after_s += trial.by_s or 0.0
            case What.NEVER_ARMS:
                person.arms = False
            case What.FILLS_FEW:
                person.first_load = trial.balls
            case _:
                pass  # the clock is built so

    def clock_ppm(self) -> float | None:
        """How far off its clock shall be; None where nothing is said of it."""
        off = [trial.ppm for trial in self.trials if trial.what is What.CLOCK_OFF]
        return off[-1] if off else None

    # Moments

    def left(self) -> None:
        """A ball came out."""
        self._balls += 1
        for trial in self.trials:
            if trial.ball == self._balls and trial.what not in (*BEFALLS_A_BALL, *BY_THE_COURT):
                self._comes(trial)

    def watch(self, word: str, numbers: str) -> None:
        """An event of the launcher."""
        if word != "STATE" or self.end is None:
            return
        number, reason = map(int, numbers.split())
        state = STATES[number]
        now_s = self.end.host_s(self.end.machine.now_ms)
        for trial in self.trials:
            if trial.state == state:
                self._comes(trial)
            latched = trial.what is What.STOPS_AT_ONCE and state is LauncherState.STOPPED
            if latched and trial.lasts_s is not None:
                self._due.append((now_s + trial.lasts_s, self._release))
        if self._armed_s is None and state is LauncherState.ARMED and reason == Reason.PERSON:
            self._armed_s = now_s
            for trial in self.trials:
                if trial.at_s is not None:
                    self._comes(trial, self._armed_s + trial.at_s)

    def _comes(self, trial: Trial, at_s: float | None = None) -> None:
        if trial.name in self._begun:
            return
        self._begun.add(trial.name)
        end = self._end()
        due_s = end.host_s(end.machine.now_ms) if at_s is None else at_s
        self._due.append((due_s, partial(self._strike, trial)))

    def befalls(self) -> Befallen:
        """What befalls the ball for which the gate opens now."""
        self._openings += 1
        met = [
            trial
            for trial in self.trials
            if trial.what in BEFALLS_A_BALL and trial.ball == self._openings
        ]
        met += self._of_balls
        self._of_balls = []
        if not met:
            return SOUND_BALL
        end = self._end()
        for trial in met:
            # What befalls it does so when it should come out.
            lead_s = end.machine.feeder.lead_ms / 1000
            self.record.struck(trial.name, end.host_s(end.machine.now_ms) + lead_s)
        kinds = {trial.what for trial in met}
        return Befallen(
            jams=What.JAM in kinds,
            unseen=What.UNSEEN in kinds,
            twice=What.TWO_AT_ONCE in kinds,
            late_ms=1000 * sum(trial.by_s or 0.0 for trial in met),
            speed=1.0 + sum(trial.share or 0.0 for trial in met),
        )

    # What is due

    def next_wake_s(self) -> float | None:
        return min((at_s for at_s, _ in self._due), default=None)

    def act(self, now_s: float) -> None:
        """Do what is due."""
        if not self._due:
            return
        due = [one for one in self._due if one[0] <= now_s]
        self._due = [one for one in self._due if one[0] > now_s]
        for _, what in due:
            what(now_s)

    def _strike(self, trial: Trial, now_s: float) -> None:
        if trial.what in BEFALLS_A_BALL:
            self._of_balls.append(trial)
            return
        assert self.line is not None
        if trial.of is not None:
            self.line.begin(trial)
            return  # it strikes when a line meets it
        self.record.struck(trial.name, now_s)
        machine = self._end().machine
        match trial.what:
            case What.RUNS_EMPTY:
                machine.feeder.hopper = 0
            case What.POWER_CUT:
                self._end().power_cycle(now_s)
                self.line.die(now_s, None, trial.lasts_s)
            case What.FINDS:
                machine.find_fault(FaultKind[(trial.kind or "").upper().replace("-", "_")])
            case What.DEAD:
                self.line.die(now_s, trial.way, trial.lasts_s)
            case What.SWITCH_OFF:
                machine.turn_switch(False)
            case What.EMERGENCY_STOP:
                machine.press_emergency(True)
                until_s = now_s + (trial.lasts_s or PRESSED_S)
                self._due.append((until_s, self._release))
            case _:
                raise AssertionError(f"{trial.what} is carried out elsewhere")

    def _release(self, _now_s: float) -> None:
        """The emergency stop is released, and reset by the switch."""
        machine = self._end().machine
        machine.press_emergency(False)
        machine.turn_switch(True)
        machine.turn_switch(False)

    def _end(self) -> FarEnd:
        assert self.end is not None, "nothing happens before it is built"
        return self.end
