"""What phases and launchers' states are called on a screen, and what to do in each.

All that is said of a phase stands here alone; screens, page and reports show what a view says.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from feedscript.launcher.port import LauncherState
from feedscript.session.operator.phases import Phase
from feedscript.units import spoken_time


class PhaseWords(msgspec.Struct, frozen=True, kw_only=True):
    """What is said of one phase; "" where there is nothing to say."""

    name: str
    to_do: str = ""  # what a person should do now; "" needs nobody
    to_group: str = ""  # what everyone on court should know, in place of calls
    reported: str = ""  # on the time line of a rehearsal
    done: str = ""  # on the button with which a person says that it is done


#: What stands in the phase's place while a launcher has not acknowledged a stop or hold.
STOPPING = PhaseWords(name="Stopping", to_group="Stopping. Stay where you are.")

_SHOWN = "Nobody in front: one ball is shown."
_STAY = "Stopped. Stay where you are."

PHASES: dict[Phase, PhaseWords] = {
    Phase.CONNECTING: PhaseWords(name="Connecting"),
    Phase.SETTING_UP: PhaseWords(
        name="Set up",
        to_do="Go through the set-up list and confirm each step.",
        reported="the set-up list is gone through",
    ),
    Phase.ARMING: PhaseWords(
        name="Arm it there",
        to_do="Arm the launcher: act at the launcher itself.",
        to_group="The launcher is being armed. Stay behind it.",
        reported="a person arms the launcher",
    ),
    Phase.SHOWING: PhaseWords(
        name="Speed ball next",
        to_do="See that nobody is in front, then send the speed ball.",
        to_group=_SHOWN,
        reported="a ball is shown, nobody in front",
    ),
    Phase.WATCHING: PhaseWords(
        name="Watch the ball", to_do="Watch the speed ball from the side.", to_group=_SHOWN
    ),
    Phase.JUDGING: PhaseWords(
        name="Speed right?",
        to_do="Was the ball as fast as stated?",
        to_group="Nobody in front: one ball was shown.",
    ),
    Phase.READY: PhaseWords(name="Ready", to_do="Armed. Go on when everyone is in place."),
    Phase.RUNNING: PhaseWords(name="Running"),
    Phase.REGROUPING: PhaseWords(name="Regrouping"),
    Phase.HELD: PhaseWords(name="Held", to_do="Held. Go on, or stop.", to_group="Wait."),
    Phase.MAKING_SAFE: PhaseWords(name="Making safe", to_group="Wait."),
    Phase.COLLECTING: PhaseWords(
        name="Collect",
        to_do="The launcher is off. Say when the balls are collected.",
        to_group="Collect the balls. The launcher is off.",
        reported="the launcher is off; balls are collected",
        done="All collected",
    ),
    Phase.ASKING: PhaseWords(
        name="Question",
        to_do="Look: did this ball leave the launcher?",
        to_group=_STAY,
        reported="a ball's outcome is unknown; a person is asked",
    ),
    Phase.STOPPED: PhaseWords(
        name="Stopped",
        to_do="Stopped. See why, then set up again or end the lesson.",
        to_group=_STAY,
        reported="stopped",
    ),
    Phase.DISARMING: PhaseWords(name="Ending"),
    Phase.FINISHED: PhaseWords(
        name="Finished",
        to_do="Finished. Tap what is still to be recorded, then end the lesson.",
        to_group="The lesson is over.",
        reported="finished",
    ),
    Phase.BROKEN_OFF: PhaseWords(
        name="Broken off",
        to_do="Broken off. Tap what is still to be recorded, then end the lesson.",
        to_group="The lesson is over.",
        reported="broken off",
    ),
}


def sentence(words: str) -> str:
    """Words with a mark at their end."""
    return words if words.endswith((".", "!", "?")) else f"{words}."


def pause_words(words: str, break_s: float | None) -> PhaseWords:
    """The same of a collect that is a break or waits for the coach, and of one that is neither."""
    if break_s is None and not words:
        return PHASES[Phase.COLLECTING]
    if break_s is None:
        name, done, told = "Wait", "All said", sentence(words)
    else:
        told = sentence(f"Break of {spoken_time(break_s)}{f': {words}' if words else ''}")
        name, done = "Break", "All back"
    off = "The launcher is off."
    asked = f"{off} {told} Pick up the balls; say when that is done."
    return PhaseWords(name=name, to_do=asked, to_group=f"{told} {off}", done=done)


#: What should be seen from afar.
ALARMS = (Phase.STOPPED, Phase.ASKING, Phase.BROKEN_OFF)


def how_it_ended(phase: Phase, cause: str) -> str:
    """The end of a lesson in a sentence."""
    return f"The lesson has ended: {PHASES[phase].name.lower()}{f' ({cause})' if cause else ''}."


def by_hand(names: Sequence[str]) -> str:
    """What a person should do while these launchers have not said that they stopped."""
    whose = " and ".join(name for name in names if name) or "The launcher"
    have, their = ("have", "their") if len(names) > 1 else ("has", "its")
    return (
        f"{whose} {have} not confirmed yet: a ball may still leave. Keep away; press {their} own "
        "emergency stop."
    )


def without_link(names: Sequence[str]) -> str:
    """What a person should do while these launchers cannot be reached; "" for none."""
    if not names:
        return ""
    whose = " and ".join(name or "the launcher" for name in names)
    return f"No link to {whose}. It stops by itself; use its own switch."


NO_LINK = "no link"
LAUNCHERS: dict[LauncherState, str] = {
    LauncherState.SAFE: "safe",
    LauncherState.AWAITING_ARM: "waits to be armed",
    LauncherState.ARMED: "armed",
    LauncherState.HELD: "held",
    LauncherState.STOPPING: "stopping",
    LauncherState.STOPPED: "off, to be reset at it",
    LauncherState.FAULT: "fault",
}
#: Somebody should look after a launcher in such a state.
LAUNCHER_ALARMS = (LauncherState.STOPPING, LauncherState.STOPPED, LauncherState.FAULT)
