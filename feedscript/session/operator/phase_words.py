"""What phases and launchers' states are called on a screen, and what to do in each.

All that is said of a phase stands here alone; screens, page and reports show what a view says.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec

from feedscript.launcher.port import LauncherState
from feedscript.session.operator.phases import Phase
from feedscript.tongues.text import _, joined, listed
from feedscript.units import spoken_time


class PhaseWords(msgspec.Struct, frozen=True, kw_only=True):
    """What is said of one phase; "" where there is nothing to say."""

    name: str
    to_do: str = ""  # what a person should do now; "" needs nobody
    to_group: str = ""  # what everyone on court should know, in place of calls
    reported: str = ""  # on the time line of a rehearsal
    done: str = ""  # on the button with which a person says that it is done


#: What stands in the phase's place while a launcher has not acknowledged a stop or hold.
STOPPING = PhaseWords(name=_("Stopping"), to_group=_("Stopping. Stay where you are."))

_SHOWN = _("Nobody in front: one ball is shown.")
_STAY = _("Stopped. Stay where you are.")

PHASES: dict[Phase, PhaseWords] = {
    Phase.CONNECTING: PhaseWords(name=_("Connecting")),
    Phase.SETTING_UP: PhaseWords(
        name=_("Set up"),
        to_do=_("Go through the set-up list and confirm each step."),
        reported=_("the set-up list is gone through"),
    ),
    Phase.ARMING: PhaseWords(
        name=_("Arm it there"),
        to_do=_("Arm the launcher: act at the launcher itself."),
        to_group=_("The launcher is being armed. Stay behind it."),
        reported=_("a person arms the launcher"),
    ),
    Phase.SHOWING: PhaseWords(
        name=_("Speed ball next"),
        to_do=_("See that nobody is in front, then send the speed ball."),
        to_group=_SHOWN,
        reported=_("a ball is shown, nobody in front"),
    ),
    Phase.WATCHING: PhaseWords(
        name=_("Watch the ball"), to_do=_("Watch the speed ball from the side."), to_group=_SHOWN
    ),
    Phase.JUDGING: PhaseWords(
        name=_("Speed right?"),
        to_do=_("Was the ball as fast as stated?"),
        to_group=_("Nobody in front: one ball was shown."),
    ),
    Phase.READY: PhaseWords(name=_("Ready"), to_do=_("Armed. Go on when everyone is in place.")),
    Phase.RUNNING: PhaseWords(name=_("Running")),
    Phase.REGROUPING: PhaseWords(name=_("Regrouping")),
    Phase.HELD: PhaseWords(name=_("Held"), to_do=_("Held. Go on, or stop."), to_group=_("Wait.")),
    Phase.MAKING_SAFE: PhaseWords(name=_("Making safe"), to_group=_("Wait.")),
    Phase.COLLECTING: PhaseWords(
        name=_("Collect"),
        to_do=_("The launcher is off. Say when the balls are collected."),
        to_group=joined(" ", [_("Collect the balls."), _("The launcher is off.")]),
        reported=_("the launcher is off; balls are collected"),
        done=_("All collected"),
    ),
    Phase.ASKING: PhaseWords(
        name=_("Question"),
        to_do=_("Look: did this ball leave the launcher?"),
        to_group=_STAY,
        reported=_("a ball's outcome is unknown; a person is asked"),
    ),
    Phase.STOPPED: PhaseWords(
        name=_("Stopped"),
        to_do=_("Stopped. See why, then set up again or end the lesson."),
        to_group=_STAY,
        reported=_("stopped"),
    ),
    Phase.DISARMING: PhaseWords(name=_("Ending")),
    Phase.FINISHED: PhaseWords(
        name=_("Finished"),
        to_do=_("Finished. Tap what is still to be recorded, then end the lesson."),
        to_group=_("The lesson is over."),
        reported=_("finished"),
    ),
    Phase.BROKEN_OFF: PhaseWords(
        name=_("Broken off"),
        to_do=_("Broken off. Tap what is still to be recorded, then end the lesson."),
        to_group=_("The lesson is over."),
        reported=_("broken off"),
    ),
}


def sentence(words: str) -> str:
    """Words with a mark at their end."""
    return words if words.endswith((".", "!", "?")) else joined("", [words, "."])


def pause_words(words: str, break_s: float | None) -> PhaseWords:
    """The same of a collect that is a break or waits for the coach, and of one that is neither."""
    if break_s is None and not words:
        return PHASES[Phase.COLLECTING]
    if break_s is None:
        name, done, told = _("Wait"), _("All said"), sentence(words)
    else:
        name, done, told = _("Break"), _("All back"), sentence(_break_words(words, break_s))
    off = _("The launcher is off.")
    pick_up = _("Pick up the balls; say when that is done.")
    asked, to_group = joined(" ", [off, told, pick_up]), joined(" ", [told, off])
    return PhaseWords(name=name, to_do=asked, to_group=to_group, done=done)


def collect_call(words: str, break_s: float | None, *, several: bool) -> str:
    """What everyone is told when launchers are off for a collect, a break or a talk."""
    off = _("All launchers are off.") if several else _("The launcher is off.")
    if break_s is None and not words:
        return joined(" ", [_("Collect the balls."), off])
    told = words if break_s is None else _break_words(words, break_s)
    return joined(" ", [sentence(told), off])


def _break_words(words: str, break_s: float) -> str:
    time = spoken_time(break_s)
    if words:
        return _("Break of {time}: {words}", time=time, words=words)
    return _("Break of {time}", time=time)


def speed_asked(phase: Phase, speed_kmh: float) -> str:
    """What a person should do about the speed ball, with the number it is held against."""
    if phase is Phase.SHOWING:
        return _(
            "See that nobody is in front, then send the speed ball: {speed:.0f} km/h.",
            speed=speed_kmh,
        )
    return _("Was the ball as fast as stated: {speed:.0f} km/h?", speed=speed_kmh)


def arming_words(limits_s: Sequence[float | None], *, acted: bool) -> PhaseWords:
    """``limits_s``: of each head that looks for its home, the longest that it may take, where that
    is known. ``acted``: a person has done so at every launcher."""
    arming = PHASES[Phase.ARMING]
    if not limits_s:
        return msgspec.structs.replace(arming, to_do="") if acted else arming
    known_s = [limit_s for limit_s in limits_s if limit_s is not None]
    looks = _homes(max(known_s) if len(known_s) == len(limits_s) else None)
    if not acted:
        return msgspec.structs.replace(arming, to_do=joined(" ", [arming.to_do, looks]))
    return msgspec.structs.replace(arming, name=_("Finding home"), to_do=looks)


def _homes(limit_s: float | None) -> str:
    """What to do while the axes of a launcher look for their places, and how long that takes."""
    if limit_s is None:
        return _(
            "Hands off: the head looks for its home. If that does not end, press its emergency "
            "stop and look at its home sensors."
        )
    return _(
        "Hands off: the head looks for its home, {limit:.0f} s at most. If it takes longer, press "
        "its emergency stop and look at its home sensors.",
        limit=math.ceil(limit_s),
    )


def hold_ends(limit_s: float) -> str:
    """How long a hold may last."""
    return _(
        "A hold becomes a stop after {limit:.0f} s: a longer talk wants a stop, or a break.",
        limit=limit_s,
    )


def broken_off(cause: str) -> str:
    """What to do about a lesson that broke off for a cause."""
    return _(
        "Broken off: {cause}. Tap what is still to be recorded, then end the lesson.", cause=cause
    )


#: What should be seen from afar.
ALARMS = (Phase.STOPPED, Phase.ASKING, Phase.BROKEN_OFF)


def how_it_ended(phase: Phase, cause: str) -> str:
    """The end of a lesson in a sentence."""
    finished = phase is Phase.FINISHED
    if cause and finished:
        return _("The lesson has ended: finished ({cause}).", cause=cause)
    if cause:
        return _("The lesson has ended: broken off ({cause}).", cause=cause)
    if finished:
        return _("The lesson has ended: finished.")
    return _("The lesson has ended: broken off.")


def by_hand(names: Sequence[str]) -> str:
    """What a person should do while these launchers have not said that they stopped."""
    known = [name for name in names if name]
    if len(names) > 1:
        return _(
            "{launchers} have not confirmed yet: a ball may still leave. Keep away; press their "
            "own emergency stop.",
            launchers=listed(known),
        )
    if known:
        return _(
            "{launcher} has not confirmed yet: a ball may still leave. Keep away; press its own "
            "emergency stop.",
            launcher=known[0],
        )
    return _(
        "The launcher has not confirmed yet: a ball may still leave. Keep away; press its own "
        "emergency stop."
    )


def by_watchdog(names: Sequence[str]) -> str:
    """What a person should know of launchers that never said that they stopped, and by now should
    have stopped by themselves."""
    return _(
        "Not confirmed by {launchers}: only the time of its own watchdog is over. Go to its own "
        "switch first.",
        launchers=listed(name or _("the launcher") for name in names),
    )


def without_link(names: Sequence[str], *, alone: bool = True) -> str:
    """What a person should do while these launchers cannot be reached; "" for none. ``alone``: each
    of them stops by itself when it hears nothing."""
    if not names:
        return ""
    whose = listed(name or _("the launcher") for name in names)
    if not alone and not any(names):
        return _("No link to the launcher. It may go on: use its own switch.")
    if not alone:
        return _("No link to {launchers}. It may go on: use its own switch.", launchers=whose)
    if not any(names):
        return _("No link to the launcher. It stops by itself; use its own switch.")
    return _("No link to {launchers}. It stops by itself; use its own switch.", launchers=whose)


def without_laptop(*, alone: bool) -> str:
    """What a person should do whose page hears nothing of the lesson's computer."""
    if alone:
        return _(
            "The launcher stops by itself when the laptop is gone; if in doubt use the switch at "
            "the launcher."
        )
    return _("A launcher may go on when the laptop is gone: use the switch at the launcher.")


CONFIRMED = _("confirmed")


def not_confirmed(watchdog_s: float | None, *, over: bool) -> str:
    """What is known of a launcher that did not say that it stopped. ``over``: its watchdog's time
    is."""
    if watchdog_s is None:
        return _("not confirmed, not known to stop by itself: use its own switch")
    if over:
        return _(
            "not confirmed; the {seconds:g} s after which its own watchdog stops it are over",
            seconds=watchdog_s,
        )
    return _("not confirmed yet; its own watchdog stops it after {seconds:g} s", seconds=watchdog_s)


NO_LINK = _("no link")
HOMING = _("looks for its home")
LAUNCHERS: dict[LauncherState, str] = {
    LauncherState.SAFE: _("safe"),
    LauncherState.AWAITING_ARM: _("waits to be armed"),
    LauncherState.ARMED: _("armed"),
    LauncherState.HELD: _("held"),
    LauncherState.STOPPING: _("stopping"),
    LauncherState.STOPPED: _("off, to be reset at it"),
    LauncherState.FAULT: _("fault"),
}
#: Somebody should look after a launcher in such a state.
LAUNCHER_ALARMS = (LauncherState.STOPPING, LauncherState.STOPPED, LauncherState.FAULT)
