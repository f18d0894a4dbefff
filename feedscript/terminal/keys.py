"""Keys to commands. One key does one thing; the pad for results lies as the court lies.

The number pad (or the arrow keys) seen from behind the player: 8 or up is long, 2 or down is the
net, 4 and 6 or left and right are wide, 5 or ``i`` is in. The page takes the same keys. A line that
begins with ``:`` holds words for what needs a name, such as ``:rest Ana`` or ``:join Bo left``;
``typing`` takes those apart.
"""

from __future__ import annotations

from feedscript.plan.model import Result
from feedscript.session.operator.auto_operator import says
from feedscript.session.operator.commands import (
    Answer,
    Command,
    RecordResult,
    SimpleCommand,
    UndoResult,
)
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.operator.view import LessonView

#: What each key does, in the order in which a hand needs them; results are shown apart.
KEYS: dict[str, Act] = {
    " ": Act.HOLD,
    "h": Act.HOLD,
    "g": Act.GO_ON,
    "n": Act.NEXT,
    "a": Act.AGAIN,
    "k": Act.SKIP,
    "-": Act.SLOWER,
    "+": Act.FASTER,
    "w": Act.WRONG,
    "r": Act.SET_UP_AGAIN,
    "s": Act.STOP,
    "x": Act.EMERGENCY_STOP,
    "q": Act.QUIT,
}
RESULT_KEYS: dict[str, Result] = {
    "5": Result.IN,
    "i": Result.IN,
    "8": Result.LONG,
    "\x1b[A": Result.LONG,
    "2": Result.NET,
    "\x1b[B": Result.NET,
    "4": Result.LEFT,
    "\x1b[D": Result.LEFT,
    "6": Result.RIGHT,
    "\x1b[C": Result.RIGHT,
}
#: What an act is called beside its key.
ACT_WORDS: dict[Act, str] = {
    Act.HOLD: "hold",
    Act.GO_ON: "go on",
    Act.NEXT: "next",
    Act.AGAIN: "again",
    Act.SKIP: "skip ball",
    Act.SLOWER: "slower",
    Act.FASTER: "faster",
    Act.WRONG: "speed not right",
    Act.SET_UP_AGAIN: "set up again",
    Act.STOP: "STOP",
    Act.EMERGENCY_STOP: "power off",
    Act.QUIT: "end",
}
#: What Enter says in each phase in which it says anything.
ENTER_WORDS: dict[Phase, str] = {
    Phase.SETTING_UP: "done",
    Phase.SHOWING: "nobody in front, send it",
    Phase.JUDGING: "speed is right",
    Phase.READY: "go on",
    Phase.HELD: "go on",
    Phase.COLLECTING: "all collected",
    Phase.STOPPED: "set up again",
    Phase.FINISHED: "end",
    Phase.BROKEN_OFF: "end",
}


def command_for(key: str, view: LessonView) -> Command | None:
    """What a key means in this state; None for a key that means nothing."""
    if key == " " and view.phase in (Phase.HELD, Phase.READY):
        return SimpleCommand(act=Act.GO_ON)
    if key in ("\r", "\n"):
        return _enter(view)
    if view.phase is Phase.ASKING and key in "yn" and view.asked_about:
        return Answer(feed_id=view.asked_about[0].feed_id, left=key == "y")
    if key in RESULT_KEYS:
        return RecordResult(result=RESULT_KEYS[key])
    if key == "u":
        return UndoResult()
    return SimpleCommand(act=KEYS[key]) if key in KEYS else None


def _enter(view: LessonView) -> Command | None:
    """Enter says yes to what the lesson waits for."""
    if view.phase is Phase.HELD:
        return SimpleCommand(act=Act.GO_ON)
    if view.phase is Phase.STOPPED:
        return SimpleCommand(act=Act.SET_UP_AGAIN)
    if view.phase in (Phase.FINISHED, Phase.BROKEN_OFF):
        return SimpleCommand(act=Act.QUIT)
    return says(view)
