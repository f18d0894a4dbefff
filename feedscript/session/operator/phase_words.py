"""What phases and launchers' states are called on a screen, and what a person should do in each."""

from __future__ import annotations

from collections.abc import Sequence

from feedscript.launcher.port import LauncherState
from feedscript.session.operator.phases import Phase

PHASES: dict[Phase, str] = {
    Phase.CONNECTING: "Connecting",
    Phase.SETTING_UP: "Set up",
    Phase.ARMING: "Arm it there",
    Phase.SHOWING: "Speed ball next",
    Phase.WATCHING: "Watch the ball",
    Phase.JUDGING: "Speed right?",
    Phase.READY: "Ready",
    Phase.RUNNING: "Running",
    Phase.REGROUPING: "Regrouping",
    Phase.HELD: "Held",
    Phase.MAKING_SAFE: "Making safe",
    Phase.COLLECTING: "Collect",
    Phase.ASKING: "Question",
    Phase.STOPPED: "Stopped",
    Phase.DISARMING: "Ending",
    Phase.FINISHED: "Finished",
    Phase.BROKEN_OFF: "Broken off",
}

#: What stands in the phase's place while a launcher has not acknowledged a stop or hold.
STOPPING = "Stopping"


def by_hand(names: Sequence[str]) -> str:
    """What a person should do while these launchers have not said that they stopped."""
    whose = " and ".join(name for name in names if name) or "The launcher"
    have, their = ("have", "their") if len(names) > 1 else ("has", "its")
    return (
        f"{whose} {have} not confirmed yet: a ball may still leave. Keep away; press {their} own "
        "emergency stop."
    )


#: In plain words, what a person should do now. Phases without a word need nobody.
WAITS_FOR: dict[Phase, str] = {
    Phase.SETTING_UP: "Go through the set-up list and confirm each step.",
    Phase.ARMING: "Arm the launcher: act at the launcher itself.",
    Phase.SHOWING: "See that nobody is in front, then send the speed ball.",
    Phase.WATCHING: "Watch the speed ball from the side.",
    Phase.JUDGING: "Was the ball as fast as stated?",
    Phase.READY: "Armed. Go on when everyone is in place.",
    Phase.HELD: "Held. Go on, or stop.",
    Phase.COLLECTING: "The launcher is off. Say when the balls are collected.",
    Phase.ASKING: "Look: did this ball leave the launcher?",
    Phase.STOPPED: "Stopped. See why, then set up again or end the lesson.",
    Phase.FINISHED: "Finished. Tap what is still to be recorded, then end the lesson.",
    Phase.BROKEN_OFF: "Broken off. Tap what is still to be recorded, then end the lesson.",
}

LAUNCHERS: dict[LauncherState, str] = {
    LauncherState.SAFE: "safe",
    LauncherState.AWAITING_ARM: "waits to be armed",
    LauncherState.ARMED: "armed",
    LauncherState.HELD: "held",
    LauncherState.STOPPING: "stopping",
    LauncherState.STOPPED: "off, to be reset at it",
    LauncherState.FAULT: "fault",
}
