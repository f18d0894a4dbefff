"""The launcher's own mind: its states, arming, the silence limit, what it refuses."""

from __future__ import annotations

from collections.abc import Callable

from feedscript_drivers.wire.protocol import STATES, Code, FaultKind, Number, Reason, Times

from feedscript.launcher.port import LauncherState
from feedscript_simulator.feeder import (
    QUEUE_PLACES,
    SOUND_BALL,
    Befallen,
    Departure,
    Feeder,
    QueuedFeed,
)
from feedscript_simulator.memory import FeedMemory
from feedscript_simulator.plant import Fields, Plant
from feedscript_simulator.refusal import Refusal, check_feed, check_setting
from feedscript_simulator.stored import Stored

S = LauncherState
_SILENCE_COUNTS = (S.AWAITING_ARM, S.ARMED, S.HELD)
_POWERED = (S.ARMED, S.HELD)


class Machine:
    """Sans-IO: told the time with every call, never asks for it.

    ``report(word, *numbers)`` takes every event; ``depart`` every ball; ``jams_at`` says which
    balls, counted from 1, jam.
    """

    def __init__(
        self,
        stored: Stored,
        plant: Plant,
        report: Callable[..., None],
        depart: Callable[[Departure], None],
        hopper: int,
        jams_at: frozenset[int] = frozenset(),
        befalls: Callable[[], Befallen] = lambda: SOUND_BALL,
    ) -> None:
        self.stored = stored
        self.plant = plant
        self.report = report
        self.depart = depart
        self.memory = FeedMemory()
        self.feeder = Feeder(
            plant=plant,
            stored=stored,
            memory=self.memory,
            report=report,
            fault=self.find_fault,
            depart=lambda departure: self.depart(departure),
            hopper=hopper,
            jams_at=jams_at,
            befalls=befalls,
        )
        self.state = S.SAFE
        self.reason = Reason.POWER_UP
        self.ceiling = (0, 0, 0)
        self.switch_on = self.emergency_input = False
        self.standing_fault: FaultKind | None = None
        self.now_ms = self._fresh_ms = self._since_ms = self._power_off_ms = 0.0
        self._homed_ms: float | None = None  # when axes will have found their home

    @property
    def homing(self) -> bool:
        """Whether a person has armed it and its axes look for their home: they have power."""
        return self._homed_ms is not None

    # Time

    def next_wake_ms(self) -> float | None:
        """The next moment at which something happens by itself."""
        moments = [self.feeder.next_wake_ms(), self._deadline_ms(), self._silent_ms()]
        known = [moment for moment in moments if moment is not None]
        return min(known) if known else None

    def advance(self, now_ms: float) -> None:
        """Let everything happen that is due up to now, in its order."""
        while (wake := self.next_wake_ms()) is not None and wake <= now_ms:
            self.now_ms = max(self.now_ms, wake)
            self._wake(self.now_ms)
        self.now_ms = max(self.now_ms, now_ms)

    def _silent_ms(self) -> float | None:
        """When the host counts as silent; None where nobody need be heard."""
        return self._fresh_ms + Times.SILENCE if self.state in _SILENCE_COUNTS else None

    def _deadline_ms(self) -> float | None:
        match self.state:
            case S.AWAITING_ARM:
                waits_until = self._since_ms + Times.PERSON
                return waits_until if self._homed_ms is None else self._homed_ms
            case S.HELD:
                return self._since_ms + self._hold_limit_ms()
            case S.STOPPING:
                return self._power_off_ms
            case _:
                return None

    def _wake(self, now_ms: float) -> None:
        silent = self._silent_ms()
        if silent is not None and now_ms >= silent:
            self.stop(Reason.SILENCE)
            return
        deadline = self._deadline_ms()
        if deadline is not None and now_ms >= deadline:
            self._pass_deadline()
            return
        moment = self.feeder.next_wake_ms()
        if moment is not None and now_ms >= moment:
            self.feeder.wake(now_ms)

    def _pass_deadline(self) -> None:
        match self.state:
            case S.AWAITING_ARM if self.homing:
                self.plant.stand_at_home(self.now_ms)
                self._go(S.ARMED, Reason.PERSON)
            case S.AWAITING_ARM:
                self._go(S.SAFE, Reason.NOBODY_ARMED)
            case S.HELD:
                self.stop(Reason.HOLD_LIMIT)
            case S.STOPPING:
                self._go(S.SAFE, Reason.DRIVES_OFF)
            case _:
                raise AssertionError(f"{self.state} has no deadline")

    def _hold_limit_ms(self) -> int:
        stored = self.stored.get(Number.HOLD_LIMIT_MS)
        return stored if 0 <= stored <= Times.HOLD_MOST else Times.HOLD_MOST

    def hear(self, echo_ms: float) -> None:
        """The host has heard the launcher's clock as it stood at ``echo_ms``."""
        if self._fresh_ms < echo_ms <= self.now_ms:
            self._fresh_ms = echo_ms

    # What the host asks

    def open(self, session: int) -> bool:
        """Begin or continue a session; whether the memory was kept. Made safe before."""
        self.ceiling = (0, 0, 0)
        return self.memory.open(session)

    def arm(self, ceiling: tuple[int, int, int]) -> Refusal | None:
        """Ask a person to arm."""
        if self.state is S.STOPPED:
            return Refusal(Code.LATCHED)
        if self.state in (S.SAFE, S.FAULT) and self.standing_fault is not None:
            return Refusal(Code.FAULT_PRESENT, int(self.standing_fault))
        if self.state is not S.SAFE:
            return Refusal(Code.WRONG_STATE, STATES.index(self.state))
        missing = self.stored.missing()
        if missing is not None:
            return Refusal(Code.NOT_CONFIGURED, missing)
        self.ceiling = ceiling
        self._fresh_ms = self.now_ms
        self._go(S.AWAITING_ARM, Reason.HOST_LINE)
        return None

    def disarm(self) -> Refusal | None:
        if self.state is S.STOPPED:
            return Refusal(Code.LATCHED)
        self.make_safe(Reason.HOST_LINE)
        if self.state is S.FAULT and self.standing_fault is not None:
            return Refusal(Code.FAULT_PRESENT, int(self.standing_fault))
        return None

    def prepare(self, fields: Fields) -> Refusal | None:
        if self.state is not S.ARMED:
            return self._wrong_state()
        if self.feeder.queue or self.feeder.opening:
            return Refusal(Code.QUEUE_FULL)
        trouble = check_setting(self.stored, self.ceiling, fields)
        if trouble is None:
            self.plant.aim(fields, self.now_ms)
        return trouble

    def feed(self, feed: QueuedFeed) -> Refusal | None:
        """Queue one ball, or say why not; a refused id stays unused."""
        if self.state is not S.ARMED:
            return self._wrong_state()
        before_ms = self.feeder.last_leave_ms()
        full = len(self.feeder.queue) >= QUEUE_PLACES
        trouble = check_feed(
            self.stored, self.memory, self.ceiling, feed, self.now_ms, before_ms, full
        )
        if trouble is None:
            self.feeder.accept(feed, self.now_ms)
        return trouble

    def hold(self, reason: Reason) -> None:
        if self.state is S.ARMED:
            self._go(S.HELD, reason)
            self.feeder.flush(reason, self.now_ms)

    def go_on(self) -> Refusal | None:
        if self.state is not S.HELD:
            return self._wrong_state()
        self._go(S.ARMED, Reason.HOST_LINE)
        return None

    def stop(self, reason: Reason) -> None:
        """Category 1; nothing to do where nothing is armed."""
        if self.state is S.AWAITING_ARM and not self.homing:
            self._go(S.SAFE, reason)
        elif self.state in _POWERED or self.homing:
            self._power_off_ms = self.plant.run_down(self.now_ms)
            self._go(S.STOPPING, reason)
            self.feeder.flush(reason, self.now_ms)

    def emergency(self, reason: Reason) -> None:
        """Category 0, latched."""
        self.plant.power_off(self.now_ms)
        if self.state is not S.STOPPED:
            self._go(S.STOPPED, reason)
        self.feeder.flush(reason, self.now_ms)

    def make_safe(self, reason: Reason) -> None:
        """Stop, if anything is armed or about to be, and end a fault whose cause is gone."""
        if self.state in _SILENCE_COUNTS:
            self.stop(reason)
        elif self.state is S.FAULT and self.standing_fault is None:
            powered = self.now_ms < self._power_off_ms  # it still runs down
            self._go(S.STOPPING if powered else S.SAFE, reason)

    # What a person does, and what breaks

    def turn_switch(self, on: bool) -> None:
        """The arming switch. Only its turning counts."""
        was_on, self.switch_on = self.switch_on, on
        if on and not was_on and self.state is S.AWAITING_ARM and not self.homing:
            self._take_persons_act()
        elif was_on and not on:
            if self.state is S.STOPPED and not self.emergency_input:
                self._go(S.SAFE, Reason.PERSON)
            elif self.state is not S.AWAITING_ARM or self.homing:  # else off is half of the act
                self.stop(Reason.SWITCH)

    def _take_persons_act(self) -> None:
        """Armed; but axes that have a home look for it before."""
        self._homed_ms = self.plant.homed_ms(self.now_ms)
        if self._homed_ms is None:
            self._go(S.ARMED, Reason.PERSON)
        else:
            self.reason = Reason.HOMING
            self.report("STATE", STATES.index(self.state), int(self.reason))

    def press_emergency(self, pressed: bool) -> None:
        """The emergency stop's input: pressed and released."""
        self.emergency_input = pressed
        if pressed:
            self.emergency(Reason.EMERGENCY_INPUT)

    def find_fault(self, kind: FaultKind, detail: int = 0) -> None:
        """Something broke; never leaves an emergency stop."""
        self.report("FAULT", int(kind), detail)
        if self.state in (S.STOPPED, S.FAULT):
            return
        self.stored.note_fault(int(self.now_ms) // 1000, int(kind), detail)
        if self.state in _POWERED or self.homing:
            self._power_off_ms = self.plant.run_down(self.now_ms)
        self._go(S.FAULT, Reason.FAULT)
        self.feeder.flush(Reason.FAULT, self.now_ms)

    # Inside

    def _go(self, state: LauncherState, reason: Reason) -> None:
        self.state, self.reason, self._since_ms = state, reason, self.now_ms
        self._homed_ms = None
        self.report("STATE", STATES.index(state), int(reason))

    def _wrong_state(self) -> Refusal:
        if self.state is S.HELD:
            return Refusal(Code.HELD)
        return Refusal(Code.WRONG_STATE, STATES.index(self.state))
