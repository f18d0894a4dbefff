"""What can be seen of a running lesson: one frozen value, made anew whenever something changes.

The terminal and the court-side page show the same value. What only the coach may see stands under
``private``; a view for the group leaves that out. Moments are seconds of UTC.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from typing import Any

import msgspec

from feedscript.launcher.port import LauncherState, Outcome
from feedscript.plan.model import Result
from feedscript.session.group.rotation import Role
from feedscript.session.operator.aims import AimsView
from feedscript.session.operator.commands import RosterChange, SeenBy, SimpleCommand
from feedscript.session.operator.controls import KEY_NAMES, Area, Control
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.operator.stands import STANDS, Stand
from feedscript.tongues.text import _, p_, plain


class ExerciseView(msgspec.Struct, frozen=True, kw_only=True):
    """The exercise that is on: the one of this ``number``, from 1, ``of`` so many."""

    number: int
    of: int
    title: str
    aim: str
    watch: str
    easier: str
    harder: str
    planned_s: float | None
    repeats_left: int


class ExerciseChoice(msgspec.Struct, frozen=True, kw_only=True):
    """An exercise of the lesson, by its number from 1; ``why_not`` it cannot be gone to, or ""."""

    number: int
    title: str
    why_not: str


class RequestView(msgspec.Struct, frozen=True, kw_only=True):
    """Balls on request: ``left`` of ``at_most`` may still be asked for."""

    feed: str
    player: str | None  # whose turn it is
    left: int
    at_most: int
    may_leave_utc_s: float | None  # the earliest for the next; None while the lesson stands still
    asked: bool  # one is asked for and has not left
    came_to_nothing: bool  # the last that was asked for did not leave: ask again
    station: str = ""  # where they come, at stations side by side
    ends_utc_s: float | None = None  # when their time is over, where it is counted and runs


class RungView(msgspec.Struct, frozen=True, kw_only=True):
    """Where a player stands in a progression: on the rung of this number, from 0."""

    player: str
    progression: str
    rung: int
    rungs: tuple[str, ...]
    as_last_time: bool  # it is where their last lesson left them
    may_be_set: bool


class LeftOut(msgspec.Struct, frozen=True, kw_only=True):
    """Exercises that could be left out, and what that saves."""

    titles: tuple[str, ...]
    saves_s: float


class HourView(msgspec.Struct, frozen=True, kw_only=True):
    """The hour's clock. Ahead is ``planned_s - run_s - left_s``, behind what is below nothing.

    ``left_s`` is what is still planned, reckoned as the check does; while the lesson ``goes_on``
    it becomes less as time runs.
    """

    run_s: float
    planned_s: float
    left_s: float
    goes_on: bool
    on_time_s: float  # nearer than this is on time
    could_go: tuple[LeftOut, ...]  # to end in time; each is enough
    ends_at_hour: bool  # the coach wants that: after the turn in which the hour is full


class SetUpStep(msgspec.Struct, frozen=True, kw_only=True):
    """One thing a person looks at or does before the launcher may be armed."""

    key: str
    words: str
    confirmed: bool


class Still(StrEnum):
    """How it is known of a launcher that no ball leaves it, where people count on that."""

    CONFIRMED = "confirmed"  # it acknowledged the stop, or the hold
    WATCHDOG = "watchdog"  # it did not; the time is over after which it stops by itself
    NOT_KNOWN = "not-known"  # neither


class LauncherView(msgspec.Struct, frozen=True, kw_only=True):
    """One launcher and its own safety state."""

    name: str
    state: LauncherState
    state_words: str  # the same as a person reads it
    linked: bool
    reason: str
    alarm: bool  # somebody should look after it
    still: Still | None = None  # None while nobody counts on its being still
    queued: int
    hopper_balls: int | None  # left in it, by what was loaded and what has left since
    loaded_balls: int | None  # so many were; None where the program does not say
    supply_v: float | None  # of its battery; None where it is not sensed
    battery_balls: int | None  # that it has in it, by this run's own draw; None: not known
    wants_code: bool  # asks for the number on its display
    mouth_m: tuple[float, float]


class BallView(msgspec.Struct, frozen=True, kw_only=True):
    """One ball, coming or gone. ``feed_id`` is its number, for people too: its alone in the whole
    lesson, of all launchers, from before it is asked for to the review."""

    feed_id: int
    launcher: int
    station: str
    feed: str
    player: str | None
    landing_m: tuple[float, float]
    speed_mps: float
    leaves_utc_s: float
    outcome: Outcome | None = None
    result: Result | None = None


class Place(msgspec.Struct, frozen=True, kw_only=True):
    """Who does what at which station. ``station`` is "" where there is only one."""

    player: str
    station: str
    role: Role
    hits: bool  # it is their turn


ON_COURT, NEXT = _("On court"), p_("who", "Next")


class StationNow(msgspec.Struct, frozen=True, kw_only=True):
    """What stands at one station until it changes: who is on, who is next, what was last said
    there. ``name`` is "" where there is only one; "" stands for nobody and for nothing too."""

    name: str = ""
    on: str = ""
    on_words: str = ON_COURT  # in the language of whoever it is
    next_up: str = ""
    next_words: str = NEXT
    said: str = ""


class Presence(StrEnum):
    """Whether a player takes part, as a person says it."""

    HERE = "here"
    SITS_OUT = "sits out"
    GONE = "gone"


#: The same in words.
PRESENCES: dict[Presence, str] = {
    Presence.HERE: p_("player", "here"),
    Presence.SITS_OUT: p_("player", "sits out"),
    Presence.GONE: p_("player", "gone"),
}


class ToComeView(msgspec.Struct, frozen=True, kw_only=True):
    """So many ``balls`` are still to come for a player in the exercise that is on: just so many
    where that is ``exact``, else at most."""

    balls: int
    exact: bool


class PlayerView(msgspec.Struct, frozen=True, kw_only=True):
    """One player of the group. ``may_be`` is what a person may make of ``presence`` now."""

    name: str
    language: str  # of what is called to them; "" where the screen's is meant
    left_handed: bool
    presence: Presence
    may_be: tuple[Presence, ...]
    turns: int
    balls: int
    to_come: ToComeView | None = None


class Call(msgspec.Struct, frozen=True, kw_only=True):
    """Words for everyone: a cue, a rotation, a count-in. ``number`` rises with each call;
    ``language`` is that of the player who is called, "" where the screen's is meant."""

    number: int
    text: str
    utc_s: float
    language: str = ""


class CountView(msgspec.Struct, frozen=True, kw_only=True):
    """One player's record so far."""

    player: str | None
    balls: int
    by_result: dict[Result, int]
    share_in: float | None


class Offer(msgspec.Struct, frozen=True, kw_only=True):
    """Something noticed, and a question that the coach may put to the player."""

    number: int
    player: str | None
    noticed: str
    question: str


class Landing(msgspec.Struct, frozen=True, kw_only=True):
    """Where the shot that a player made of a ball came down, in court axes."""

    feed_id: int
    landing_m: tuple[float, float]
    result: Result


class FedBall(msgspec.Struct, frozen=True, kw_only=True):
    """A ball that left in a lesson that measures, and where it came down, if that was said."""

    feed_id: int
    feed: str
    asked_m: tuple[float, float]
    seen_by: SeenBy | None = None
    landing_m: tuple[float, float] | None = None


class Private(msgspec.Struct, frozen=True, kw_only=True):
    """For the coach alone."""

    counts: tuple[CountView, ...] = ()
    offer: Offer | None = None
    last_record: BallView | None = None  # what an undo takes back, and a landing belongs to
    review: bool = False  # the lesson stands still or is over: its review can be read
    rungs: tuple[RungView, ...] = ()  # of those who are here, in each progression
    landings: tuple[Landing, ...] = ()  # marked ones, the newest first
    fed: tuple[FedBall, ...] | None = None  # where the lesson measures: all, the newest first


class Trouble(msgspec.Struct, frozen=True, kw_only=True):
    """A diagnostic as plain data (see ``feedscript.diagnostics.as_json``).

    It is news until ``until_utc_s``; without one, as long as the lesson stands for it.
    """

    slug: str
    message: str
    help: str
    utc_s: float
    until_utc_s: float | None


#: Trouble that is over is still shown for so long. Design value.
TROUBLE_SHOWN_S = 20.0
#: A hold that ends by itself within this is near its end; somebody should be told. Design value:
#: enough to end a sentence and walk to the keys.
HOLD_ENDS_SOON_S = 15.0


class Conventions(msgspec.Struct, frozen=True, kw_only=True):
    """What every screen does alike."""

    #: A call stands large, or bright, for so long. Design value.
    call_shown_s: float = 8.0
    hold_ends_soon_s: float = HOLD_ENDS_SOON_S
    #: A yes that comes sooner after what is asked was not said to it: a key held down, the second
    #: tap of a double one. Design value, about a person's reaction to something that is read.
    read_s: float = 0.4
    too_soon: str = _("That came before this could be read. Read, then press it again.")
    key_names: dict[str, str] = msgspec.field(default_factory=lambda: KEY_NAMES)
    #: What a player who shall be so is said to do.
    presences: dict[Presence, RosterChange] = msgspec.field(
        default_factory=lambda: {
            Presence.HERE: RosterChange.JOIN,
            Presence.SITS_OUT: RosterChange.REST,
            Presence.GONE: RosterChange.LEAVE,
        }
    )
    presence_words: dict[Presence, str] = msgspec.field(default_factory=lambda: PRESENCES)
    stands: tuple[Stand, ...] = STANDS  # where a coach may stand; the first, where none was chosen


class LessonView(msgspec.Struct, frozen=True, kw_only=True):
    """Everything that can be seen of a lesson now."""

    revision: int
    utc_s: float
    phase: Phase
    phase_words: str  # the same as a person reads it; "Stopping" until every launcher said so
    stopping: bool  # a launcher has not acknowledged yet that it stopped, or holds
    alarm: bool  # what ``phase_words`` says should be seen from afar
    controls: tuple[Control, ...]
    title: str
    rehearsal: bool
    waits_for: str  # in plain words, what a person should do now; "" while nothing is needed
    to_group: str  # what everyone on court should know, in place of calls; "" where calls are
    no_link: str  # to which launchers there is none, and what to do; ""
    without_laptop: str  # what to do where a page hears nothing more
    ended: str  # how the lesson ended, in a sentence; "" before
    set_up: tuple[SetUpStep, ...]  # while it is gone through
    launchers: tuple[LauncherView, ...]
    exercise: ExerciseView | None = None
    aims: AimsView | None = None
    request: RequestView | None = None
    hour: HourView | None = None
    exercises: tuple[ExerciseChoice, ...] = ()
    balls_left: int
    balls_planned: tuple[int, int]
    lesson_s: float  # since the first ball, pauses included; 0 before
    planned_s: tuple[float, float]
    pace_percent: int  # 100 as written; more is faster
    coming: tuple[BallView, ...]  # queued at a launcher, the next first
    gone: tuple[BallView, ...]  # the last ones that left, the newest first
    asked_about: tuple[BallView, ...]  # outcome unknown: a person must say
    places: tuple[Place, ...]
    stations: tuple[StationNow, ...]
    said: str  # the last words of the program for everyone; "" before any and after the end
    players: tuple[PlayerView, ...]
    calls: tuple[Call, ...]  # the last few, the newest last
    count_in_s: float | None  # until the first ball after a pause
    hold_s: float | None  # until the hold becomes a stop by itself
    break_s: float | None = None  # until the break is over; 0 once it is, None outside one
    troubles: tuple[Trouble, ...]
    cause: str  # why it does not run or has ended, where nobody chose that
    ending: str | None
    private: Private
    conventions: Conventions = Conventions()

    @property
    def allowed(self) -> tuple[Act, ...]:
        """The acts without more words that can be done now."""
        can = (c.command for c in self.controls if c.can_be_done)
        return tuple(sorted(command.act for command in can if isinstance(command, SimpleCommand)))


class Asks(msgspec.Struct, frozen=True, kw_only=True):
    """Of what can be seen, what a lesson waits for and what can be pressed: enough to answer it."""

    phase: Phase
    controls: tuple[Control, ...]
    request: RequestView | None
    asked_about: tuple[BallView, ...]
    break_s: float | None


def news(view: LessonView) -> tuple[Trouble, ...]:
    """Trouble that a person should read now: what keeps the lesson standing, and what has just
    come up."""
    return tuple(
        trouble
        for trouble in view.troubles
        if trouble.until_utc_s is None or view.utc_s < trouble.until_utc_s
    )


def for_the_group(view: LessonView, tell: Callable[[object], str] = plain) -> dict[str, Any]:
    """The view as plain data without what only the coach may see or press; ``tell`` turns our own
    words into those of a language."""
    stops = tuple(control for control in view.controls if control.area is Area.STOP)
    shown = msgspec.structs.replace(view, controls=stops)
    public: dict[str, Any] = msgspec.to_builtins(shown, enc_hook=tell)
    del public["private"]
    for ball in (*public["gone"], *public["coming"], *public["asked_about"]):
        del ball["result"]
    return public
