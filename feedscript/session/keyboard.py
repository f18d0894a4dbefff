"""Keys to commands. One key does one thing; the pad for results lies as the court lies.

The number pad (or the arrow keys) seen from behind the player: 8 or up is long, 2 or down is the
net, 4 and 6 or left and right are wide, 5 or ``i`` is in. A line that begins with ``:`` holds words
for what needs a name, such as ``:rest Ana`` or ``:join Bo left``.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from feedscript.diagnostics import Diagnostic, Page
from feedscript.plan.model import Result
from feedscript.session.commands import (
    Answer,
    ChangeRoster,
    Command,
    Do,
    EnterCode,
    RosterChange,
    TakeBack,
    TakeDown,
)
from feedscript.session.person import says
from feedscript.session.state import State
from feedscript.session.states import Act, Phase

NOT_A_LINE = Page(
    slug="not-understood",
    title="A typed line that says nothing the lesson knows",
    why=(
        "After `:` may stand: `join NAME [left]`, `leave NAME`, `rest NAME`, `back NAME [left]`, "
        "`code NUMBER`."
    ),
)

#: What each key does, as it is shown; the keys of results are shown apart.
KEYS: dict[str, Act] = {
    " ": Act.HOLD,
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


def command_for(key: str, state: State) -> Command | None:
    """What a key means in this state; None for a key that means nothing."""
    if key == " " and state.phase in (Phase.HELD, Phase.READY):
        return Do(act=Act.GO_ON)
    if key in ("\r", "\n"):
        return says(state)
    if state.phase is Phase.ASKING and key in "yn" and state.asked_about:
        return Answer(feed_id=state.asked_about[0].feed_id, left=key == "y")
    if key in RESULT_KEYS:
        return TakeDown(result=RESULT_KEYS[key])
    if key == "u":
        return TakeBack()
    return Do(act=KEYS[key]) if key in KEYS else None


@dataclass(slots=True)
class Typing:
    """Bytes from a terminal, taken apart into keys and typed lines."""

    line: str | None = None  # being typed; None while none is
    _rest: str = ""
    _keys: list[str] = field(default_factory=list)

    def take(self, data: bytes) -> list[str]:
        """The keys and whole lines (with their ``:``) that these bytes end."""
        text = self._rest + data.decode("utf-8", errors="ignore")
        self._rest, done = "", []
        while text:
            if text.startswith("\x1b[") and len(text) >= 3:
                key, text = text[:3], text[3:]
            elif text in ("\x1b", "\x1b["):
                self._rest = text  # the rest of an arrow key is still to come
                break
            else:
                key, text = text[0], text[1:]
            found = self._typed(key)
            if found is not None:
                done.append(found)
        return done

    def _typed(self, key: str) -> str | None:
        if self.line is None:
            if key == ":":
                self.line = ":"
                return None
            return key
        if key in ("\r", "\n"):
            line, self.line = self.line, None
            return line
        if key in ("\x7f", "\b"):
            self.line = self.line[:-1] or None
        elif key.isprintable():
            self.line += key
        elif key.startswith("\x1b"):
            self.line = None
        return None


def command_in(line: str) -> Command | Diagnostic:
    """What a typed line commands."""
    words = line.removeprefix(":").split()
    verb, rest = (words[0].lower(), words[1:]) if words else ("", [])
    if verb == "code" and len(rest) == 1 and rest[0].isdecimal():
        return EnterCode(launcher=0, code=rest[0])
    changes = {
        "join": RosterChange.JOIN,
        "back": RosterChange.JOIN,
        "leave": RosterChange.LEAVE,
        "rest": RosterChange.REST,
    }
    if verb in changes and rest:
        left = len(rest) > 1 and rest[-1].lower() == "left"
        name = " ".join(rest[:-1] if left else rest)
        return ChangeRoster(change=changes[verb], player=name, left_handed=left)
    return NOT_A_LINE.report(
        f"{line!r} is not understood", help="for instance :join Bo left, :rest Ana, :code 1234"
    )
