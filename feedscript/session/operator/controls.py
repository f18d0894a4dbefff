"""What a person may press: each with its words, keys and place, and whether it can be done now.

Screens know none of this themselves: page and terminal draw the controls of a view and send the
command of the one that is pressed. Keys bear the names that browsers give them (W3C, UI Events
KeyboardEvent key Values), for a keyboard or a clicker that acts as one. The pad for results lies as
the court lies, seen from behind the player: up is long, down is the net.
"""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum
from functools import lru_cache

import msgspec

from feedscript.plan.model import Result
from feedscript.session.operator.commands import (
    Answer,
    Command,
    Confirm,
    RecordResult,
    SimpleCommand,
    UndoResult,
)
from feedscript.session.operator.phase_words import PHASES
from feedscript.session.operator.phases import ENDED, TO_EXERCISES, Act, Phase, allowed
from feedscript.tongues.text import _


class Area(StrEnum):
    """Where on a screen a control lies."""

    STOP = "stop"  # in reach whatever happens
    QUESTION = "question"  # the answers to what is asked about a ball
    WAITS = "waits"  # what the lesson waits for, one a line
    PLAY = "play"  # while balls fly, side by side
    REQUEST = "request"  # a ball on request: the one big button
    EXERCISE = "exercise"  # of the exercise that is on
    PAD = "pad"  # three by three, and one as wide as all three where there is a target
    LIST = "list"  # the next step of the list; a key alone


class Look(StrEnum):
    """What it means to press it."""

    PLAIN = ""
    GO = "go"  # the lesson goes on
    CARE = "care"  # it comes to rest


class Control(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One thing to press. ``name`` is its own for good; the command, keys and all the rest are as
    they are now."""

    name: str
    command: Command
    label: str
    area: Area
    look: Look = Look.PLAIN
    mark: str = ""  # a sign before its label
    colour: str = ""
    keys: tuple[str, ...] = ()
    shown: bool = False  # wanted now: it has a button, or stands among the keys
    why_not: str = ""  # why it cannot be done now; "" when it can
    to_be_read: bool = False  # counts only when what is asked could have been read
    at_once: bool = False  # is sent whatever the view says: a view may be late

    @property
    def can_be_done(self) -> bool:
        return not self.why_not


class Situation(msgspec.Struct, frozen=True, kw_only=True):
    """What decides what can be done now."""

    phase: Phase
    stopping: bool = False  # a launcher has not acknowledged a stop or hold
    closed: bool = False  # ended, and no late taps are taken any more
    next_step: str | None = None  # of the set-up list
    asked_about: int | None = None  # the ball in question
    balls: bool = True  # at least one has left
    records: bool = True  # at least one result was recorded
    exercise: bool = False  # one is on
    another: bool = False  # once it is over the next lesson is chosen
    measures: bool = False  # of its own balls it is asked where they came down, of nobody's shots
    on_request: bool = False  # the balls that come next leave when a person asks
    asked: bool = False  # one was asked for, and has not left
    target: bool = False  # the exercise that is on has one, or the one of the newest ball
    hour: bool = False  # the lesson has a length
    near_end: bool = False  # and it is of interest to end it then
    ends_at_hour: bool = False  # as was chosen
    collected: str = PHASES[Phase.COLLECTING].done  # what says that a collect, or a break, is over


_A, _L = Area, Look
_YES_KEY = "Enter"
_TOGGLE_KEYS = (" ", ".", "b")
#: The first button of a clicker that has two: in, or in the target where there is one; or a ball,
#: where they come on request.
_CLICKER_KEY = "PageDown"
#: Ends at the hour; once that is chosen: plays on.
_HOUR_KEY = "l"


def _act(act: Act, label: str, area: Area, keys: str, look: Look = Look.PLAIN) -> Control:
    return Control(
        name=act.value,
        command=SimpleCommand(act=act),
        label=label,
        area=area,
        look=look,
        keys=tuple(keys.split()),
        to_be_read=area is Area.WAITS,
        at_once=act in (Act.STOP, Act.EMERGENCY_STOP, Act.HOLD),
    )


def _result(result: Result, label: str, mark: str, colour: str, keys: str) -> Control:
    return Control(
        name=result.value,
        command=RecordResult(result=result),
        label=label,
        mark=mark,
        colour=colour,
        area=Area.PAD,
        keys=tuple(keys.split()),
    )


#: Everything but what needs to say what about, in the order in which it lies on a screen.
_CONTROLS = (
    _act(Act.STOP, _("STOP"), _A.STOP, "s Escape"),
    _act(Act.EMERGENCY_STOP, _("Power off"), _A.STOP, "x"),
    _act(Act.CLEAR, _("Nobody in front: send it"), _A.WAITS, "", _L.GO),
    _act(Act.SEEN, _("Speed is right"), _A.WAITS, "", _L.GO),
    _act(Act.WRONG, _("Speed is not right"), _A.WAITS, "w", _L.CARE),
    _act(Act.COLLECTED, PHASES[Phase.COLLECTING].done, _A.WAITS, "", _L.GO),
    _act(Act.SET_UP_AGAIN, _("Set up again"), _A.WAITS, "r", _L.GO),
    _act(Act.QUIT, _("End lesson"), _A.WAITS, "q"),
    _act(Act.AGAIN, _("Again"), _A.PLAY, "a"),
    _act(Act.GO_ON, _("Go on"), _A.PLAY, "g", _L.GO),
    _act(Act.HOLD, _("Hold"), _A.PLAY, "h", _L.CARE),
    _act(Act.SKIP, _("Skip"), _A.PLAY, "k"),
    _act(Act.SEND_ONE, _("Send one"), _A.REQUEST, "t", _L.GO),
    _act(Act.EXERCISE_AGAIN, _("Exercise again"), _A.EXERCISE, "e"),
    _act(Act.SKIP_EXERCISE, _("Skip exercise"), _A.EXERCISE, "d"),
    _act(Act.END_AT_HOUR, _("End at the hour"), _A.EXERCISE, ""),
    _act(Act.PLAY_ON, _("Play on past the hour"), _A.EXERCISE, ""),
    Control(name="undo", command=UndoResult(), label=_("Undo"), area=_A.PAD, keys=("u", "PageUp")),
    _result(Result.LONG, _("Long"), "▲", "#00518a", "8 ArrowUp"),
    _act(Act.NEXT, _("Next"), _A.PAD, "n"),
    _result(Result.LEFT, _("Left"), "◀", "#7a5200", "4 ArrowLeft"),
    _result(Result.IN, _("In"), "●", "#00664b", "5 i"),
    _result(Result.RIGHT, _("Right"), "▶", "#8a3a68", "6 ArrowRight"),
    _act(Act.SLOWER, _("Slower"), _A.PAD, "-"),
    _result(Result.NET, _("Net"), "▬", "#a34700", "2 ArrowDown"),
    _act(Act.FASTER, _("Faster"), _A.PAD, "+"),
    _result(Result.TARGET, _("In target"), "◎", "#222222", "0 o"),
)

#: Those of the pad, row by row, as seen from behind the player.
PAD = tuple(control for control in _CONTROLS if control.area is Area.PAD)

#: The colour of each result, on every screen and in every chart: dark shades of the set of Okabe
#: and Ito, "Color universal design", 2008, on which white words can be read.
RESULT_COLOURS: dict[Result, str] = {
    control.command.result: control.colour
    for control in PAD
    if isinstance(control.command, RecordResult)
}

#: What a key is called where its own name is none to read.
KEY_NAMES = {
    " ": _("space"),
    "Escape": "Esc",
    "PageUp": "Page Up",
    "PageDown": "Page Down",
    "ArrowUp": "↑",
    "ArrowDown": "↓",
    "ArrowLeft": "←",
    "ArrowRight": "→",
}

#: What ends a lesson that is over, where the next one is then chosen.
_ANOTHER = _("Another lesson")
#: Phases in which it is offered to end the lesson. It may be ended in any other too, by its key.
_MAY_END = (Phase.STOPPED, *ENDED)
_BEFORE_ANY_BALL = (Phase.CONNECTING, Phase.SETTING_UP, Phase.ARMING)
_SPEED_BALL = (Phase.SHOWING, Phase.WATCHING, Phase.JUDGING)
#: Nobody is asked to come near a launcher that has not said that it stopped, nor to go on with it.
_ONLY_WHEN_STILL = frozenset({Act.SET_UP_AGAIN, Act.ANSWER, Act.CONFIRM, Act.COLLECTED, Act.GO_ON})


def acts_now(now: Situation) -> frozenset[Act]:
    """By the phase; once the lesson has ended, only to end the waiting for late taps."""
    if now.phase in ENDED:
        return frozenset() if now.closed else frozenset({Act.QUIT})
    no_exercise = frozenset() if now.exercise else frozenset(TO_EXERCISES)
    no_ball = frozenset() if now.on_request and not now.asked else frozenset({Act.SEND_ONE})
    return (
        allowed(now.phase)
        - no_exercise
        - no_ball
        - _no_hour(now)
        - (_ONLY_WHEN_STILL if now.stopping else frozenset())
    )


def _no_hour(now: Situation) -> frozenset[Act]:
    """Of ending at the hour and playing on, what cannot be chosen: what is chosen, or both."""
    if not now.hour:
        return frozenset({Act.END_AT_HOUR, Act.PLAY_ON})
    return frozenset({Act.END_AT_HOUR if now.ends_at_hour else Act.PLAY_ON})


@lru_cache(maxsize=64)
def controls_in(now: Situation) -> tuple[Control, ...]:
    """Every control as it is now; those of a kind stand together, as they lie on a screen."""
    found = (*_answers(now), *_next_step(now), *(_now(control, now) for control in _CONTROLS))
    return tuple(_with_keys(found))


def control_of_key(controls: tuple[Control, ...], key: str) -> Control | None:
    """What a key presses; None for a key that means nothing."""
    return next((control for control in controls if key in control.keys), None)


def _answers(now: Situation) -> Iterator[Control]:
    if now.asked_about is None:
        return
    for left, name, label, key, look in (
        (True, "it-left", _("Yes, it left"), "y", Look.GO),
        (False, "it-stayed", _("No, it stayed in"), "n", Look.CARE),
    ):
        yield Control(
            name=name,
            command=Answer(feed_id=now.asked_about, left=left),
            label=label,
            area=Area.QUESTION,
            look=look,
            keys=(key,),
            shown=True,
            to_be_read=True,
        )


def _next_step(now: Situation) -> Iterator[Control]:
    if now.phase is Phase.SETTING_UP and now.next_step is not None:
        yield _now(
            Control(
                name=Act.CONFIRM.value,
                command=Confirm(key=now.next_step),
                label=_("Done"),
                area=Area.LIST,
                look=Look.GO,
                to_be_read=True,
            ),
            now,
        )


def _now(control: Control, now: Situation) -> Control:
    """The control as it is in this situation, but for the keys that move from one to another."""
    if control.name == Act.COLLECTED.value:
        control = msgspec.structs.replace(control, label=now.collected)
    if now.measures and control.area is Area.PAD:
        control = _without_pad(control)
    if control.name == Act.NEXT.value and now.on_request:
        control = msgspec.structs.replace(control, label=_("Enough"))
    if control.name == Act.SEND_ONE.value and now.asked:
        control = msgspec.structs.replace(control, label=_("On its way"))
    why_not = _why_not(control.label, control.command, now)
    shown, look = not why_not, control.look
    if control.area is Area.PAD:
        shown = (
            not now.measures
            and _pad_is_shown(now)
            and (now.target or control.name != Result.TARGET.value)
        )
    elif control.area is Area.STOP:
        shown = True
    elif control.area is Area.REQUEST:
        shown = now.on_request
    elif control.name in (Act.END_AT_HOUR.value, Act.PLAY_ON.value):
        shown = shown and now.near_end
    elif control.name == Act.QUIT.value:
        shown = shown and now.phase in _MAY_END
        if now.phase in ENDED:
            look = Look.GO
            label = _ANOTHER if now.another else control.label
            control = msgspec.structs.replace(control, label=label)
    return msgspec.structs.replace(control, shown=shown, look=look, why_not=why_not)


def _without_pad(control: Control) -> Control:
    """Nobody's shots are recorded: of the pad only what leads on is left."""
    if control.name == Act.NEXT.value:
        return msgspec.structs.replace(control, area=Area.PLAY)
    return msgspec.structs.replace(control, keys=())


def _why_not(label: str, command: Command, now: Situation) -> str:
    match command:
        case SimpleCommand(act=act):
            why = _why_no_act(act, now)
        case Confirm():
            why = _why_no_act(Act.CONFIRM, now)
        case UndoResult():
            why = "" if now.records else _("nothing is recorded yet")
        case RecordResult(result=Result.TARGET) if not now.target:
            why = _("no exercise with a target is on")
        case _:
            why = "" if now.balls else _("no ball has left yet")
    if now.closed:
        why = _("the lesson has ended")
    return _("{button}: not now, {why}.", button=label, why=why) if why else ""


def _why_no_act(act: Act, now: Situation) -> str:
    if act in acts_now(now):
        return ""
    if act in TO_EXERCISES and not now.exercise:
        return _("no exercise is on")
    if act is Act.SEND_ONE and act in allowed(now.phase):
        return _("that ball is on its way") if now.asked else _("no ball comes on request now")
    if act in (Act.END_AT_HOUR, Act.PLAY_ON) and act in allowed(now.phase):
        return _("that is chosen") if now.hour else _("no hour was planned")
    if act in allowed(now.phase):
        return _("a launcher has not confirmed yet that it stopped")
    return _("the lesson is at “{phase}”", phase=PHASES[now.phase].name)


def _pad_is_shown(now: Situation) -> bool:
    """From the first ball of the lesson proper on; and in a pause while results may be missing."""
    if now.phase in _SPEED_BALL:
        return now.records
    return now.phase not in _BEFORE_ANY_BALL


def _with_keys(controls: tuple[Control, ...]) -> Iterator[Control]:
    """Enter says yes to what is waited for; space holds and goes on; a clicker records what the
    exercise is about, or sends a ball; an answer has its letter to itself. So no key ever means
    two things."""
    yes = _yes(controls)
    by_name = {control.name: control for control in controls}
    goes_on = by_name[Act.GO_ON.value].can_be_done
    toggle = by_name[(Act.GO_ON if goes_on else Act.HOLD).value]
    counted = Result.TARGET if by_name[Result.TARGET.value].shown else Result.IN
    clicked = Act.SEND_ONE.value if by_name[Act.SEND_ONE.value].shown else counted.value
    chosen = by_name[Act.PLAY_ON.value].can_be_done
    about_the_hour = (Act.PLAY_ON if chosen else Act.END_AT_HOUR).value
    answers = {key for one in controls if one.area is Area.QUESTION for key in one.keys}
    for one in controls:
        keys = one.keys
        if one.area is not Area.QUESTION:
            keys = tuple(key for key in keys if key not in answers)
        if one.name == about_the_hour:
            keys = (*keys, _HOUR_KEY)
        if one.name == clicked and keys:  # without any where nothing is recorded
            keys = (*keys, _CLICKER_KEY)
        if one is toggle:
            keys = (*_TOGGLE_KEYS, *keys)
        if one is yes:
            keys = (_YES_KEY, *keys)
        yield msgspec.structs.replace(one, keys=keys, to_be_read=one.to_be_read or one is yes)


def _yes(controls: tuple[Control, ...]) -> Control | None:
    """The one that Enter presses: what lets the lesson go on, or is left to do where it is over."""
    asked = (one for one in controls if one.shown and one.area is not Area.QUESTION)
    return next((one for one in asked if one.look is Look.GO), None)
