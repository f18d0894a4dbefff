"""What happens in a lesson: each event a frozen value, in the form in which the journal keeps it.

The journal's entry has the event's kind and moment in columns, and the rest as JSON. Limits stand
in the types, so that a journal of a stranger is held to them as it is read. Events of a lesson are
read back in their order; what one of them means never changes within one :data:`EVENT_FORMAT`.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Any, TypeAlias

import msgspec

from feedscript.journal.stored import Count, DeviceTime, FeedId, Lane, Metres, Name, Utc
from feedscript.launcher.port import Outcome
from feedscript.plan.interpreter.actions import At, Jump, Reply, ToStep
from feedscript.plan.model import Result
from feedscript.session.operator.commands import ChangeRoster, RosterChange, SeenBy
from feedscript.session.operator.phases import Act, Happening, Phase

#: Rises when an event comes to mean something else, or a lesson's entries come to hold more. A
#: lesson of another format is read for review, and is not gone on with.
#:
#: 0: entries are not all that happened (lessons from before formats were counted).
#: 1: they are. Later lessons of this format have exercises' beginnings and ends too, and balls
#:    with their exercise; ``exercises_by_plan`` finds again those of the earlier ones.
#: 2: exercises' beginnings and ends, and each ball's, always stand there.
EVENT_FORMAT = 2

PlanTime: TypeAlias = Annotated[float, msgspec.Meta(ge=-1e9, le=1e9)]
Pace: TypeAlias = Annotated[float, msgspec.Meta(ge=0.1, le=10.0)]
PlayerName: TypeAlias = Annotated[str, msgspec.Meta(min_length=1, max_length=40)]


class Event(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Something that happened."""


# -- phases ---------------------------------------------------------------------------------------


class Commanded(Event, frozen=True, kw_only=True):
    """A person commanded something; ``phase`` is the one after it, the same where it was refused.

    ``reached_s`` is the moment of the plan at which the lesson ceased to run, if it did.
    """

    act: Act
    by: Name
    phase: Phase
    reached_s: PlanTime = 0.0
    exercise: Count | None = None  # to which a person goes, counted from 1


class Happened(Event, frozen=True, kw_only=True):
    """Something occurred that moves the lesson; ``why`` in words, where no person chose it."""

    happening: Happening
    phase: Phase
    reached_s: PlanTime = 0.0
    why: str = ""


class CauseFound(Event, frozen=True, kw_only=True):
    """What is at fault became known otherwise than by what moves the lesson."""

    why: str


class Confirmed(Event, frozen=True, kw_only=True):
    """One step of the set-up list was done."""

    key: Name
    by: Name


class Resumed(Event, frozen=True, kw_only=True):
    """Another host takes the lesson up; it connects, and everything is gone through again."""

    balls_left: Count


class Ended(Event, frozen=True, kw_only=True):
    """How it ended, and why, where nobody chose that."""

    phase: Phase
    cause: str


# -- the place in the plan ------------------------------------------------------------------------


class Decided(Event, frozen=True, kw_only=True):
    """The action of this number in this lane was answered. ``at_s``: of a ball on request whose
    time is counted, the moment of the plan from which it goes on, or at which it had left."""

    lane: Lane
    number: Count
    reply: bool | Jump | ToStep
    at_s: PlanTime | None = None

    @property
    def answer(self) -> Reply:
        """The same as a plan's interpreter takes it."""
        if self.at_s is None or not isinstance(self.reply, Jump):
            return self.reply
        return At(self.at_s, self.reply)


class TurnGiven(Event, frozen=True, kw_only=True):
    """The turn of this number in this lane is this player's; ``station`` counts from 0.

    ``own``: one of the turns that the program gives to some only.
    """

    lane: Lane
    number: Count
    player: Count
    left_handed: bool
    station: Count
    slot: Count
    own: bool = False


class SpeedSeen(Event, frozen=True, kw_only=True):
    """A person watched the speed ball of this feed and found it as stated."""

    lane: Lane
    number: Count
    feed: Count


class Jumped(Event, frozen=True, kw_only=True):
    """The oldest jump that was commanded is made: by these answers, which may be none."""

    decided: tuple[Decided, ...]


class AheadForgotten(Event, frozen=True, kw_only=True):
    """Answers that had been given further ahead than the lesson now stands."""

    places: tuple[tuple[Lane, Count], ...]


class BallAsked(Event, frozen=True, kw_only=True):
    """A person asked for the ball on request of this place: it leaves as soon as it may."""

    lane: Lane
    number: Count
    by: Name


class BreakBegan(Event, frozen=True, kw_only=True):
    """Everything is safe, and the time of the break of this place runs."""

    lane: Lane
    number: Count
    utc_s: Utc


class Spoken(Event, frozen=True, kw_only=True):
    """A call of the plan was made; ``players`` do by themselves at ``station`` what it says."""

    lane: Lane
    number: Count
    station: Name = ""
    players: tuple[PlayerName, ...] = ()


class TurnBegan(Event, frozen=True, kw_only=True):
    """A turn began on court: the player, if any, is on at the station."""

    lane: Lane
    number: Count
    station: Name
    player: Name | None


class StoodOn(Event, frozen=True, kw_only=True):
    """A player begins on this rung of a progression (from 0), which is this feed: as the last
    lesson left it, or as ``by`` wants it."""

    player: PlayerName
    progression: Name
    rung: Count
    feed: Name
    by: Name = ""


class Stepped(Event, frozen=True, kw_only=True):
    """A player went to this rung of a progression, or stayed at its end; nobody by name where the
    lesson has no player."""

    lane: Lane
    number: Count
    player: PlayerName | None
    progression: Name
    rung: Count
    feed: Name


class StationsEnded(Event, frozen=True, kw_only=True):
    """The stations are over: nobody is on until the next turn."""


class HowEnded(StrEnum):
    """How an exercise came to its end."""

    PLAYED = "played"  # everything of it, or what a person left of it
    SKIPPED = "skipped"
    AGAIN = "again"  # it begins once more
    EARLY = "ended-early"  # with the lesson, or because the lesson goes back to what was before it


class ExerciseBegan(Event, frozen=True, kw_only=True):
    """The exercise of this number is on, or on again. ``place``, in the lesson's own lane, is where
    it begins in the plan."""

    exercise: Count
    place: Count


class ExerciseEnded(Event, frozen=True, kw_only=True):
    """The exercise that was on is over; ``place`` is where it was left, if anywhere in the plan."""

    exercise: Count
    how: HowEnded
    place: Count | None = None


# -- balls ----------------------------------------------------------------------------------------


class FeedRequested(Event, frozen=True, kw_only=True):
    """A ball is about to be asked for. ``lane`` and ``number`` are its place in the plan."""

    feed_id: FeedId
    ball_no: Count
    launcher: Count
    feed: Name
    feed_index: Count
    player: Name | None
    station: Name
    lane: Lane
    number: Count
    shown: bool  # to be watched with nobody in front
    leave_at_device_s: DeviceTime
    leave_utc_s: Utc
    exercise: Count = 0  # in which it stands, from 1, and how often that was begun by then
    play: Count = 0
    at_s: PlanTime | None = None  # the moment of the plan, where it was asked for within a time

    @property
    def place(self) -> tuple[str, int]:
        return self.lane, self.number


class BallSettled(Event, frozen=True, kw_only=True):
    """What became of it; ``left_device_s`` only where the launcher measured it."""

    feed_id: FeedId
    outcome: Outcome
    left_device_s: DeviceTime | None = None
    left_utc_s: Utc | None = None
    reason: str = ""


# -- people ---------------------------------------------------------------------------------------


class GroupChanged(Event, frozen=True, kw_only=True):
    """Somebody came, left or rests."""

    change: RosterChange
    player: PlayerName
    by: Name
    left_handed: bool = False
    stage: Name | None = None
    level: Name | None = None

    @property
    def wish(self) -> ChangeRoster:
        return ChangeRoster(
            change=self.change,
            player=self.player,
            left_handed=self.left_handed,
            stage=self.stage,
            level=self.level,
        )


class ResultRecorded(Event, frozen=True, kw_only=True):
    """What a ball became."""

    feed_id: FeedId
    result: Result
    tapped_utc_s: Utc


class LandingMarked(Event, frozen=True, kw_only=True):
    """Where the shot that a player made of a recorded ball came down."""

    feed_id: FeedId
    landing_m: tuple[Metres, Metres]


class FeedMarked(Event, frozen=True, kw_only=True):
    """Where a ball came down as it was fed, by an eye or a tape; of a newer mark of a ball the
    older one counts no more."""

    feed_id: FeedId
    seen_by: SeenBy
    landing_m: tuple[Metres, Metres] | None = None


class ResultUndone(Event, frozen=True, kw_only=True):
    """The newest record, of this ball, was taken back."""

    feed_id: FeedId


class PaceChanged(Event, frozen=True, kw_only=True):
    """``pace`` real seconds for one second of the plan, from now on."""

    pace: Pace


class Called(Event, frozen=True, kw_only=True):
    """Words for everyone, or to players who speak this ``language``."""

    text: str
    utc_s: Utc
    language: str = ""


# -- for the record: they change nothing ----------------------------------------------------------


class TroubleMet(Event, frozen=True, kw_only=True):
    """What went wrong, as it was shown."""

    slug: str
    message: str


#: What the event of a launcher's greeting is called: what it said of itself when the lesson began.
GREETING = "hello"
#: And that its driver has answered for a stop, or (``"hold": true``) for a hold: from then
#: on no ball leaves it. A state that is told may come sooner.
ACKNOWLEDGED = "acknowledged"


class LauncherReported(Event, frozen=True, kw_only=True):
    """A launcher said something; what follows from it is an event of its own."""

    event: str
    launcher: Count = 0
    said: dict[str, Any] = {}


class HostSlept(Event, frozen=True, kw_only=True):
    """The computer was suspended for so long."""

    seconds: float


class GroupRefused(Event, frozen=True, kw_only=True):
    """A change of the group that was not made."""

    slug: str
    message: str
    by: Name


class TapDropped(Event, frozen=True, kw_only=True):
    """A person asked for a ball, and none comes of it; ``why`` as it was said."""

    by: Name
    why: str


class TonePlayed(Event, frozen=True, kw_only=True):
    """The sync tone for a video began."""

    by: Name


#: What the journal calls each.
KINDS: dict[str, type[Event]] = {
    "act": Commanded,
    "happened": Happened,
    "cause": CauseFound,
    "confirmed": Confirmed,
    "resumed": Resumed,
    "ended": Ended,
    "decision": Decided,
    "turn-given": TurnGiven,
    "speed-seen": SpeedSeen,
    "jump": Jumped,
    "ahead-forgotten": AheadForgotten,
    "asked": BallAsked,
    "break": BreakBegan,
    "said": Spoken,
    "turn": TurnBegan,
    "stands": StoodOn,
    "step": Stepped,
    "stations-ended": StationsEnded,
    "exercise-began": ExerciseBegan,
    "exercise-ended": ExerciseEnded,
    "feed": FeedRequested,
    "outcome": BallSettled,
    "roster": GroupChanged,
    "result": ResultRecorded,
    "landing": LandingMarked,
    "feed-landing": FeedMarked,
    "undone": ResultUndone,
    "pace": PaceChanged,
    "call": Called,
    "trouble": TroubleMet,
    "event": LauncherReported,
    "suspended": HostSlept,
    "roster-refused": GroupRefused,
    "tap-dropped": TapDropped,
    "sync-tone": TonePlayed,
}
#: The same the other way round.
KIND_OF: dict[type[Event], str] = {shape: kind for kind, shape in KINDS.items()}
