"""The keys at the foot of the screen: what each does now, as the view says."""

from __future__ import annotations

from collections.abc import Iterator

from rich.text import Text

from feedscript.session.operator.controls import Area, Control, Look
from feedscript.session.operator.view import LessonView
from feedscript.terminal.key_reader import NEVER_COME, STOPS_ALWAYS
from feedscript.terminal.layout import Block
from feedscript.terminal.terminal_state import TerminalState

_STYLES = {Look.PLAIN: "", Look.GO: "bold green", Look.CARE: "bold yellow"}


def foot(view: LessonView, own: TerminalState) -> Iterator[Block]:
    """What was refused, what is typed, and the keys that do something now."""
    if not own.keys:
        yield Block(rank=0, lines=(Text("Ctrl-C stop and end", style="dim"),), below=True)
        return
    if own.refused is not None:
        help_ = f" ({own.refused.help})" if own.refused.help else ""
        told = Text(f"! {own.refused.message}{help_}", style="yellow")
        yield Block(rank=3, lines=(told,), below=True)
    if own.reader.line is not None:
        typed = Text(f"{own.reader.line}▏", style="bold")
        yield Block(rank=0, lines=(typed,), below=True)
    yield Block(rank=0, lines=tuple(_first(view, own)), below=True, packed=True)
    if not (own.help or own.invitation or own.reader.line is not None):
        yield Block(rank=7, lines=tuple(_more(view, own)), below=True, packed=True)


def _first(view: LessonView, own: TerminalState) -> Iterator[Text]:
    """Those that the smallest screen still shows."""
    stops = [control for control in view.controls if control.area is Area.STOP]
    if own.reader.line is not None:  # every other key is a letter of the line
        yield from (_with_ctrl(control, "bold white on red") for control in stops)
        yield _key("Enter", "does it")
        return
    yield _hint(view, stops[0], "bold white on red")
    if own.help or own.invitation:
        yield _key("any other key", "closes this")
        return
    yield from (_hint(view, control) for control in _now(view) if control.look is not Look.PLAIN)
    yield _key("?", "all keys")


def _more(view: LessonView, own: TerminalState) -> Iterator[Text]:
    yield from (_hint(view, control) for control in _now(view) if control.look is Look.PLAIN)
    if own.pairs and view.set_up:
        yield _key("p", "pair a phone")


def _now(view: LessonView) -> Iterator[Control]:
    """What can be done now, but for the stops."""
    for control in view.controls:
        if control.shown and control.can_be_done and control.area is not Area.STOP:
            yield control


def _hint(view: LessonView, control: Control, style: str = "") -> Text:
    key = view.conventions.key_names.get(control.keys[0], control.keys[0])
    return _key(key, control.label, style or _STYLES[control.look])


def _with_ctrl(control: Control, style: str = "") -> Text:
    """A stop as it can be pressed whatever is being typed."""
    letter = next(key for key in control.keys if key in STOPS_ALWAYS.values())
    return _key(f"Ctrl-{letter.upper()}", control.label, style)


def _key(key: str, words: str, style: str = "") -> Text:
    return Text.assemble((key, "bold"), " ", (words, style))


def all_keys(view: LessonView, own: TerminalState) -> Block:
    """The page behind ``?``, short enough for twenty lines of forty columns."""
    names = view.conventions.key_names
    keys = [
        _key(" ".join(names.get(k, k) for k in control.keys if k not in NEVER_COME), control.label)
        for control in view.controls
        if control.keys
    ]
    here_alone = (
        ("v", "bell at calls again" if own.quiet else "quiet: no bell at calls"),
        *([("p P", "pair a coach; a screen")] if own.pairs else []),
        (":", "join, back, rest, leave NAME"),
        (":", "at ACROSS ALONG, code NUMBER"),
    )
    return Block(rank=3, lines=(*keys, *(_key(*each) for each in here_alone)), packed=True)
