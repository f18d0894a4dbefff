"""Views of an invented lesson, as a screen or a page is given them."""

from __future__ import annotations

from typing import Any

import msgspec

from feedscript.launcher.port import LauncherState, Outcome
from feedscript.plan.model import Result
from feedscript.session.group.goals import (
    GoalOf,
    RowOf,
    Side,
    row_words,
    side_words,
    tried_words,
)
from feedscript.session.group.rotation import Role
from feedscript.session.operator.aims import (
    AimsView,
    GoalView,
    RowView,
    SideView,
    TargetView,
    Tried,
)
from feedscript.session.operator.controls import Situation, controls_in
from feedscript.session.operator.phase_words import (
    ALARMS,
    PHASES,
    STOPPING,
    by_hand,
    without_laptop,
)
from feedscript.session.operator.phases import Phase
from feedscript.session.operator.view import (
    BallView,
    Call,
    CountView,
    ExerciseChoice,
    ExerciseView,
    HourView,
    LauncherView,
    LeftOut,
    LessonView,
    Offer,
    Place,
    PlayerView,
    Presence,
    Private,
    RequestView,
    SetUpStep,
    StationNow,
    Trouble,
)

NOW = 1_800_000_000.0


def a_ball(feed_id: int, result: Result | None = None, *, in_s: float = 0.0) -> BallView:
    return BallView(
        feed_id=feed_id,
        launcher=0,
        station="",
        feed="deep_backhand",
        player="Ash",
        landing_m=(2.2, 8.6),
        speed_mps=20.0,
        leaves_utc_s=NOW + in_s,
        outcome=None if in_s > 0 else Outcome.LEFT,
        result=result,
    )


def a_player(name: str, presence: Presence = Presence.HERE) -> PlayerView:
    return PlayerView(
        name=name,
        language="",
        left_handed=False,
        presence=presence,
        may_be=tuple(Presence),
        turns=1,
        balls=3,
    )


def a_state(revision: int = 1) -> LessonView:
    """A running lesson with something private in it."""
    return LessonView(
        revision=revision,
        utc_s=NOW,
        phase=Phase.RUNNING,
        phase_words=PHASES[Phase.RUNNING].name,
        stopping=False,
        alarm=False,
        controls=controls_in(Situation(phase=Phase.RUNNING)),
        title="Invented lesson",
        rehearsal=True,
        waits_for="",
        to_group="",
        no_link="",
        without_laptop=without_laptop(alone=True),
        ended="",
        set_up=(),
        launchers=(
            LauncherView(
                name="main",
                state=LauncherState.ARMED,
                state_words="armed",
                linked=True,
                reason="",
                alarm=False,
                queued=1,
                hopper_balls=37,
                supply_v=12.1,
                battery_balls=140,
                loaded_balls=40,
                wants_code=False,
                mouth_m=(0.0, -12.9),
            ),
        ),
        balls_left=3,
        balls_planned=(40, 40),
        lesson_s=12.0,
        planned_s=(200.0, 240.0),
        pace_percent=100,
        coming=(),
        gone=(),
        asked_about=(),
        places=(),
        stations=(StationNow(next_up="Birch"),),
        said="",
        players=(a_player("Ash"),),
        calls=(),
        count_in_s=None,
        hold_s=None,
        troubles=(),
        cause="",
        ending=None,
        private=Private(
            counts=(CountView(player="Ash", balls=3, by_result={}, share_in=None),),
            offer=Offer(number=1, player="Ash", noticed="net twice", question="PRIVATE QUESTION?"),
        ),
    )


STEPS = (
    "The net stands at its height for the singles court; no balls lie about.",
    "The launcher stands 12.89 m from the net, on the middle line, its mouth 0.95 m high.",
    "60 balls are in (the plan needs up to 41): all of one kind, dry, none split.",
    "Those who wait stand together, out of every ball's way, where the coach sees them.",
    "Power off: guards on, wheels free and whole, feet locked, cable out of the way.",
    "Try the emergency stop once, then know where it is and who stands at it.",
    "Nobody in front of the launcher until the shown balls were seen from the side.",
)


def at(phase: Phase) -> LessonView:
    """The same lesson in any phase, with as much on it as there may be."""
    gone = tuple(a_ball(8 - n, list(Result)[n % 5] if n else None) for n in range(8))
    names = tuple(f"Player number {n}" for n in range(1, 17))
    roles = (Role.HITTER, *([Role.COLLECTOR] * 15))
    asked_about = (a_ball(9),) if phase is Phase.ASKING else ()
    set_up = tuple(
        SetUpStep(key=str(n), words=words, confirmed=n < 2) for n, words in enumerate(STEPS)
    )
    now = Situation(phase=phase, next_step="2", asked_about=9 if asked_about else None)
    return msgspec.structs.replace(
        a_state(),
        phase=phase,
        phase_words=PHASES[phase].name,
        alarm=phase in ALARMS,
        controls=controls_in(now),
        waits_for=PHASES[phase].to_do,
        to_group=PHASES[phase].to_group,
        set_up=set_up if phase is Phase.SETTING_UP else (),
        coming=(a_ball(10, in_s=2.4), a_ball(11, in_s=6.0)) if phase is Phase.RUNNING else (),
        gone=() if phase in (Phase.SETTING_UP, Phase.CONNECTING) else gone,
        asked_about=asked_about,
        places=tuple(
            Place(player=name, station="", role=role, hits=role is Role.HITTER)
            for name, role in zip(names, roles, strict=True)
        ),
        stations=(StationNow(on=names[0], next_up=names[1]),),
        said="Back to the middle after each ball.",
        players=tuple(a_player(name) for name in names),
        calls=(Call(number=3, text="Player number 1 is on", utc_s=NOW - 2.0),),
        troubles=(
            Trouble(
                slug="jam",
                message="jam: the gate opened and nothing passed the sensor",
                help="switch it off there, clear the gate, set up again",
                utc_s=NOW - 60.0,
                until_utc_s=NOW - 40.0 if phase in (Phase.RUNNING, Phase.REGROUPING) else None,
            ),
        ),
    )


def in_exercise(view: LessonView) -> LessonView:
    """The same in the second of five exercises."""
    exercise = ExerciseView(
        number=2,
        of=5,
        title="Depth, crosscourt",
        aim="past the service line",
        watch="height over the net",
        easier="from inside the baseline",
        harder="past the cones",
        planned_s=480.0,
        repeats_left=1,
    )
    choices = (
        ExerciseChoice(number=1, title="Warm-up", why_not="no repeat of it is left"),
        ExerciseChoice(number=2, title="Depth, crosscourt", why_not=""),
    )
    controls = controls_in(Situation(phase=view.phase, exercise=True))
    return msgspec.structs.replace(view, exercise=exercise, exercises=choices, controls=controls)


def on_request(view: LessonView, **more: Any) -> LessonView:
    """The same where balls come on request: the next may leave in a while."""
    running = view.phase is Phase.RUNNING
    request = RequestView(
        feed="deep_backhand",
        player="Player number 1",
        left=7,
        at_most=12,
        may_leave_utc_s=NOW + 40.0 if running else None,
        asked=False,
        came_to_nothing=False,
    )
    request = msgspec.structs.replace(request, **more)
    now = Situation(
        phase=view.phase, exercise=view.exercise is not None, on_request=True, asked=request.asked
    )
    return msgspec.structs.replace(view, request=request, coming=(), controls=controls_in(now))


def in_an_hour(view: LessonView, *, behind_s: float = 300.0) -> LessonView:
    """The same 50 min into an hour, so much behind; two exercises could go."""
    hour = HourView(
        run_s=3000.0,
        planned_s=3600.0,
        left_s=600.0 + behind_s,
        goes_on=view.phase is Phase.RUNNING,
        on_time_s=60.0,
        could_go=(
            LeftOut(titles=("Serve and first volley, both sides",), saves_s=480.0),
            LeftOut(titles=("Points", "Serve"), saves_s=720.0),
        )
        if behind_s >= 60.0
        else (),
        ends_at_hour=False,
    )
    now = Situation(phase=view.phase, exercise=view.exercise is not None, hour=True, near_end=True)
    return msgspec.structs.replace(view, hour=hour, controls=controls_in(now))


def stopping(phase: Phase) -> LessonView:
    """The same in a phase in which nothing should leave, before the launcher said so."""
    return msgspec.structs.replace(
        at(phase),
        phase_words=STOPPING.name,
        stopping=True,
        alarm=True,
        controls=controls_in(Situation(phase=phase, stopping=True)),
        waits_for=by_hand(["main"]),
        to_group=STOPPING.to_group,
        asked_about=(),
    )


#: An area deep on the launcher's side, to the right as a player sees it.
DEEP_CROSS = ((-4.1, -11.9), (0.0, -11.9), (0.0, -9.9), (-4.1, -9.9))


def _tried(player: str, made: int, *, met: bool = False) -> Tried:
    words = tried_words(GoalOf(player=player, made=made, best=made, met_by=1 if met else None))
    return Tried(player=player, made=made, met=met, words=words)


def _row(player: str, running: int) -> RowView:
    words = row_words(RowOf(player=player, running=running, best=running))
    return RowView(player=player, running=running, words=words)


def _side(player: str, points: int, against: int, *, won: bool = False) -> SideView:
    side = Side(players=(player,), points=points, against=against, won=won)
    words = side_words(side, launcher=True)
    return SideView(
        players=(player,), points=points, against=against, won=won, lost=False, words=words
    )


def aiming(state: LessonView) -> LessonView:
    """The same in an exercise with a target, a goal that somebody met, and a score."""
    now = in_exercise(state)
    aims = AimsView(
        target=TargetView(name="deep cross", marked="four cones", outlines_m=(DEEP_CROSS,)),
        goals=(
            GoalView(
                words="7 of 10 in deep cross",
                players=(
                    _tried("Player number 1", 7, met=True),
                    _tried("Player number 2", 4),
                ),
            ),
        ),
        rows=(_row("Player number 1", 5),),
        score=(_side("Player number 1", 11, 6, won=True), _side("Player number 2", 5, 9)),
        scored=True,
        to=11,
        launcher=True,
    )
    controls = controls_in(Situation(phase=state.phase, exercise=True, target=True))
    return msgspec.structs.replace(now, aims=aims, controls=controls)
