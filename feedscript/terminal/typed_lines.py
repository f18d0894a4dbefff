"""Typed lines to commands: what needs a name or a number, such as ``:rest Ana``."""

from __future__ import annotations

from feedscript.diagnostics import Diagnostic, Page
from feedscript.session.operator.commands import (
    ChangeRoster,
    Command,
    EnterCode,
    MarkLanding,
    RosterChange,
    SetRung,
    ToExercise,
)
from feedscript.session.operator.view import LessonView

NOT_A_LINE = Page(
    slug="not-understood",
    title="A typed line that says nothing the lesson knows",
    why=(
        "After `:` may stand: `join NAME [left]`, `leave NAME`, `rest NAME`, `back NAME [left]`, "
        "`code NUMBER`, `exercise NUMBER` (go to it), `step NAME FEED` (on which feed of a "
        "progression somebody begins), `at ACROSS ALONG` (where the last recorded "
        "shot came down: metres to the ad side and past the net, as the launcher looks; "
        "its own half is negative)."
    ),
)

_CHANGES = {
    "join": RosterChange.JOIN,
    "back": RosterChange.JOIN,
    "leave": RosterChange.LEAVE,
    "rest": RosterChange.REST,
}


def command_in(line: str, view: LessonView) -> Command | Diagnostic:
    """What a typed line commands."""
    verb, *rest = line.removeprefix(":").split() or [""]
    verb = verb.lower()
    found: Command | None = None
    if verb == "code" and len(rest) == 1 and rest[0].isdecimal():
        found = EnterCode(launcher=_wants_code(view), code=rest[0])
    elif verb == "exercise" and len(rest) == 1 and rest[0].isdecimal():
        found = ToExercise(number=int(rest[0][:9]))
    elif verb == "step" and len(rest) > 1:
        found = _rung(" ".join(rest[:-1]), rest[-1], view)
    elif verb == "at" and len(rest) == 2:
        found = _landing(rest)
    elif verb in _CHANGES and rest:
        left = len(rest) > 1 and rest[-1].lower() == "left"
        name = " ".join(rest[:-1] if left else rest)
        found = ChangeRoster(change=_CHANGES[verb], player=name, left_handed=left)
    return found or NOT_A_LINE.report(
        f"{line!r} is not understood",
        help="for instance :join Bo left, :rest Ana, :code 1234, :at 1.5 -9",
    )


def _rung(player: str, feed: str, view: LessonView) -> SetRung | None:
    """The rung of this name, of a player who stands in its progression."""
    for one in view.private.rungs:
        if one.player.lower() == player.lower() and feed in one.rungs:
            return SetRung(
                player=one.player, progression=one.progression, rung=one.rungs.index(feed)
            )
    return None


def _wants_code(view: LessonView) -> int:
    """The launcher that asks for the number on its display; the first where none does."""
    return next((n for n, launcher in enumerate(view.launchers) if launcher.wants_code), 0)


def _landing(words: list[str]) -> MarkLanding | None:
    try:
        across_m, along_m = (float(word.removesuffix("m")) for word in words)
    except ValueError:
        return None
    return MarkLanding(landing_m=(across_m, along_m))
