"""The port: the one interface that every launcher answers to.

A launcher keeps its own clock (seconds, from an origin of its own). The host measures the offset
and schedules one or two feeds ahead by that clock; hold and stop flush what is queued. Every call
returns when the launcher has acknowledged it, not when it has done it; what was done comes back as
an event. Drivers are found by the entry-point group :data:`ENTRY_POINT_GROUP`, whose names are URL
schemes and whose values are :class:`Connect` callables.
"""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import AbstractAsyncContextManager
from enum import IntEnum, StrEnum
from pathlib import Path
from typing import Protocol, runtime_checkable

import msgspec

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.setting import Setting
from feedscript.launcher.trials.trial import Trial

ENTRY_POINT_GROUP = "feedscript.launchers"


LINK_LOST = Page(
    slug="link-lost",
    title="The link to the launcher is gone",
    why=(
        "Nothing was heard from the launcher for longer than the protocol allows, or the port "
        "closed. The launcher stops by itself when it hears nothing: its gate shuts and its "
        "drives lose power within its stated watchdog time. Whether a feed that was under way "
        "left is asked about when the link is open again; it is never sent a second time."
    ),
)


class StopCategory(IntEnum):
    """IEC 60204-1:2016, 9.2.2: 0 removes power at once, 1 runs down and then removes it."""

    POWER_OFF = 0
    RUN_DOWN = 1


class LauncherState(StrEnum):
    """What the launcher itself says it is doing."""

    SAFE = "safe"  # not armed: nothing turns, nothing leaves
    AWAITING_ARM = "awaiting-arm"  # asked to arm; a person must act at the launcher
    ARMED = "armed"  # drives may turn, scheduled feeds leave
    HELD = "held"  # gate shut, drives turning, queue flushed; becomes a stop after a bounded time
    STOPPING = "stopping"  # category 1 under way
    STOPPED = "stopped"  # latched emergency stop: a person resets it at the launcher
    FAULT = "fault"  # jam, empty, motor, voltage, temperature: not armed


#: The reason of a launcher that awaits nobody any more: a person has acted, and its axes look for
#: their places before it is armed.
HOMING = "homing"


class Outcome(StrEnum):
    """What became of a scheduled feed. An unknown one is asked about, never repeated."""

    LEFT = "left"
    NOT_SENT = "not-sent"
    UNKNOWN = "unknown"


class Description(msgspec.Struct, frozen=True, kw_only=True):
    """What a launcher says of itself in the hello."""

    name: str
    serial: str
    protocol: int
    profile_hash: str
    capabilities: frozenset[str]
    watchdog_s: float | None  # None: the device has none, and the checker tightens accordingly
    queue_depth: int
    hold_limit_s: float  # a hold longer than this becomes a stop
    horizon_s: float = 120.0  # feeds further ahead than this are refused
    asking_s: float = 0.0  # most that a change of setting takes beside its parts' moving
    lacks: frozenset[str] = frozenset()  # guarantees that it does not keep, by name
    firmware: str = ""  # its version; "" where it does not say
    homing_s: float | None = None  # the longest that its axes look for their places, if they do


class Status(msgspec.Struct, frozen=True, kw_only=True):
    """One reading of the launcher's state."""

    state: LauncherState
    device_s: float
    last_left_feed_id: int  # 0: none since the session was opened
    queued: int
    hopper_balls: int | None
    drives: tuple[float, ...]
    reason: str = ""
    supply_v: float | None = None  # as last read; None where it is not sensed
    temperature_c: float | None = None  # of the hotter motor, the same


class ScheduledFeed(msgspec.Struct, frozen=True, kw_only=True):
    """One ball to be sent: its id (rising, never reused in a session), setting and moment."""

    feed_id: int
    setting: Setting
    leave_at_device_s: float


class ClockReading(msgspec.Struct, frozen=True, kw_only=True):
    """``device_s = host_s + offset_s`` within ``uncertainty_s`` (half the round trip)."""

    offset_s: float
    uncertainty_s: float
    drift_ppm: float = 0.0


class FeedOutcome(msgspec.Struct, frozen=True, kw_only=True):
    """The launcher's own memory of one feed id."""

    feed_id: int
    outcome: Outcome
    device_s: float | None = None
    reason: str = ""


class Event(msgspec.Struct, frozen=True, kw_only=True, tag_field="event"):
    """Something the launcher did; ``device_s`` by its own clock."""

    device_s: float


class Left(Event, frozen=True, kw_only=True, tag="left"):
    """A ball passed the sensor."""

    feed_id: int


class NotSent(Event, frozen=True, kw_only=True, tag="not-sent"):
    """A scheduled feed will not leave: flushed, late, or refused at the moment of feeding."""

    feed_id: int
    reason: str


class OutcomeUnknown(Event, frozen=True, kw_only=True, tag="outcome-unknown"):
    """The gate opened for a feed and no ball was seen: a person must look."""

    feed_id: int
    reason: str


class StateChanged(Event, frozen=True, kw_only=True, tag="state"):
    """The launcher went into another state, and why."""

    state: LauncherState
    reason: str


class Fault(Event, frozen=True, kw_only=True, tag="fault"):
    """The launcher found trouble; ``launcher/faults.py`` has the kinds and what they mean."""

    kind: str
    detail: str = ""


class Gauged(Event, frozen=True, kw_only=True, tag="gauged"):
    """What it measures of its supply and motors, told as it is read; None: not sensed."""

    supply_v: float | None
    least_supply_v: float | None  # at which it stops by itself; None: it never does
    temperature_c: float | None


class LinkLost(Event, frozen=True, kw_only=True, tag="link-lost"):
    """The link is gone; nothing further can be known until it is opened again."""

    detail: str
    cause: str = ""  # of `launcher/faults.py`, where it is known


class LauncherError(FeedscriptError):
    """The launcher or its link refused or failed; the diagnostic says which step and what next."""


class CommandRefusedError(LauncherError):
    """The launcher itself said no: the command had no effect, for certain.

    Any other LauncherError of a command leaves its effect open; ask ``history`` about a feed.
    """


class GivenUpError(LauncherError):
    """The host's own stop or hold went ahead of the command: no trouble of launcher or link."""


class LauncherPort(Protocol):
    """A launcher as the engine sees it. Every method raises LauncherError on failure.

    ``host_s`` is ``anyio.current_time()`` throughout.
    """

    @property
    def description(self) -> Description:
        """What the hello said."""
        ...

    async def arm(self, ceiling: tuple[float, ...]) -> None:
        """Ask to be armed. A person's act at the launcher follows; StateChanged says so.

        ``ceiling`` holds the largest magnitude of each drive that the certified plan uses; until
        it is armed again the launcher itself refuses every setting above it.
        """
        ...

    async def arming_code(self, code: str) -> None:
        """Pass on the number that a person read from the launcher's display.

        Only for a launcher with the capability ``arming-code``.
        """
        ...

    async def disarm(self) -> None:
        """Make the launcher safe: drives run down, nothing leaves until armed again."""
        ...

    async def prepare(self, setting: Setting) -> None:
        """Begin moving to a setting, ahead of the feed that needs it."""
        ...

    async def schedule(self, feed: ScheduledFeed) -> None:
        """Queue one ball. A feed id that was accepted before is refused, never sent twice."""
        ...

    async def hold(self) -> None:
        """Shut the gate and flush the queue; drives keep turning for a bounded time."""
        ...

    async def go_on(self) -> None:
        """End a hold. The queue is empty: the engine schedules again."""
        ...

    async def stop(self, category: StopCategory) -> None:
        """Stop. Goes ahead of everything else on the wire; safe to repeat."""
        ...

    async def status(self) -> Status:
        """Read the launcher's state."""
        ...

    async def history(self, after_feed_id: int, up_to_feed_id: int) -> tuple[FeedOutcome, ...]:
        """What became of each feed with ``after < id <= up_to``; one each, in order.

        Asking settles: an id the launcher never accepted comes back as not sent, and it and all
        lower ones are refused from then on, even if their schedule line is still on its way. A
        feed that is still queued is left out. Where the launcher's memory was lost, or cannot be
        shown to reach back to before this connection (``left_before``), unknown.
        """
        ...

    async def measure_clock(self) -> ClockReading:
        """Measure the offset between the launcher's clock and the host's."""
        ...

    def events(self) -> AsyncIterator[Event]:
        """The launcher's events, in order, each once; one consumer. Ends after LinkLost."""
        ...


class MouthThrow(msgspec.Struct, frozen=True, kw_only=True):
    """How one ball really left, as a far end that can see it tells; azimuth from pan 0."""

    feed_id: int
    device_s: float
    speed_mps: float
    elevation_deg: float
    azimuth_deg: float
    top_rpm: float
    side_rpm: float


@runtime_checkable
class SeesBalls(Protocol):
    """What a simulated launcher offers beside the port: the truth about every ball."""

    def throws(self) -> tuple[MouthThrow, ...]:
        """Every ball that has left so far, in order, with its scatter."""
        ...


class ConnectOptions(msgspec.Struct, frozen=True, kw_only=True):
    """What a driver may need to open a link."""

    profile: Profile
    session: int  # 32-bit token; the same one continues the launcher's memory of feed ids
    left_before: int = 0  # highest feed id of it that the launcher itself reported as left
    seed: int = 0  # for the stand-in's scatter
    faults: tuple[str, ...] = ()  # for the stand-in: what shall go wrong
    trials: tuple[Trial, ...] = ()  # for it too: named faults, those of this launcher
    capture: Path | None = None  # copy every byte of the link to this file
    key: bytes | None = None  # shared key of a paired launcher


class Connect(Protocol):
    """Opens a launcher: what an entry point of the group names.

    ``address`` is what stands after the scheme in the URL (``serial:ADDRESS``).
    """

    def __call__(
        self, address: str, options: ConnectOptions
    ) -> AbstractAsyncContextManager[LauncherPort]: ...
