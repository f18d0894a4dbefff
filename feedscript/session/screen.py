"""A lesson on a terminal: its state as rich shows it, and plain lines where no terminal is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

from rich.console import Group, RenderableType
from rich.panel import Panel
from rich.progress_bar import ProgressBar
from rich.table import Table
from rich.text import Text

from feedscript.session.keyboard import KEYS
from feedscript.session.state import BallView, State
from feedscript.session.states import Act, Phase

_ALARM = (Phase.STOPPED, Phase.ASKING, Phase.BROKEN_OFF)
_KEY_NAMES = {" ": "space", "\r": "Enter"}


def render(state: State, typed: str | None = None) -> RenderableType:
    """The whole screen."""
    return Group(
        _head(state),
        _launchers(state),
        _set_up(state),
        _balls(state),
        _people(state),
        _private(state),
        *(Text(f"! {t.message}  ({t.help})", style="yellow") for t in state.troubles[-2:]),
        Text(typed or _keys(state), style="dim"),
    )


def _head(state: State) -> RenderableType:
    style = "bold red" if state.phase in _ALARM else "bold"
    minutes, seconds = divmod(int(state.lesson_s), 60)
    words = Text.assemble(
        (state.title or "lesson", "bold"),
        "  ",
        (state.phase.value, style),
        f"  {minutes:02d}:{seconds:02d}",
        f"  pace {state.pace:g}" if state.pace != 1.0 else "",
    )
    if state.count_in_s is not None:
        words.append(f"  first ball in {state.count_in_s:.0f} s", style="bold")
    most = max(1, state.balls_planned[1])
    bar = Table.grid(padding=(0, 1))
    bar.add_row(
        ProgressBar(total=most, completed=min(state.balls_left, most), width=40),
        Text(f"{state.balls_left} of {state.balls_planned[0]} to {most} balls"),
    )
    rows: list[RenderableType] = [words, bar]
    if state.waits_for:
        rows.append(Text(state.waits_for, style="reverse"))
    return Panel(Group(*rows))


def _launchers(state: State) -> RenderableType:
    table = Table.grid(padding=(0, 2))
    for launcher in state.launchers:
        link = "" if launcher.linked else "LINK LOST"
        hopper = "" if launcher.hopper_balls is None else f"{launcher.hopper_balls} in the hopper"
        table.add_row(
            Text(launcher.name, style="bold"),
            launcher.state.value,
            Text(link, style="bold red"),
            launcher.reason,
            f"{launcher.queued} queued",
            hopper,
        )
    return table


def _set_up(state: State) -> RenderableType:
    if state.phase is not Phase.SETTING_UP:
        return Text("", end="")
    return Group(
        *(Text(f" [{'x' if step.confirmed else ' '}] {step.words}") for step in state.set_up)
    )


def _balls(state: State) -> RenderableType:
    table = Table.grid(padding=(0, 2))
    for ball in state.asked_about:
        table.add_row("?", *_ball(ball), Text("did it leave? y or n", style="bold red"))
    for ball in reversed(state.coming[:2]):
        table.add_row("next", *_ball(ball), f"in {ball.leaves_utc_s - state.utc_s:.1f} s")
    for ball in state.gone[:6]:
        result = "" if ball.result is None else ball.result.value
        table.add_row("left", *_ball(ball), result)
    return table


def _ball(ball: BallView) -> tuple[str, str, str]:
    return (str(ball.feed_id), ball.feed, ball.player or ball.station)


def _people(state: State) -> RenderableType:
    places = ", ".join(f"{p.player}: {p.role.value} {p.station}".strip() for p in state.places)
    call = f"“{state.calls[-1].text}”" if state.calls else ""
    return Group(Text(call, style="bold"), Text(places)) if call or places else Text("", end="")


def _private(state: State) -> RenderableType:
    table = Table.grid(padding=(0, 2))
    for count in state.private.counts:
        share = "" if count.share_in is None else f"{count.share_in:.0%} in"
        each = ", ".join(f"{result.value} {n}" for result, n in count.by_result.items())
        table.add_row(count.player or "", f"{count.balls} recorded", share, each)
    offer = state.private.offer
    if offer is None:
        return table
    who = f"{offer.player}, " if offer.player else ""
    words = Text(f"{who}{offer.noticed}: {offer.question}", style="italic")
    return Group(table, words)


def _keys(state: State) -> str:
    """The keys that do something now."""
    shown = [
        f"{_KEY_NAMES.get(key, key)} {act.value}"
        for key, act in KEYS.items()
        if act in state.allowed and not (key == " " and state.phase is Phase.HELD)
    ]
    if state.waits_for and state.phase is not Phase.STOPPED:
        shown.insert(0, "Enter yes")
    if state.phase is Phase.RUNNING or Act.GO_ON in state.allowed:
        shown.append("8 long 2 net 4 left 6 right 5 in  u undo  :rest NAME …")
    return "  ".join(shown)


@dataclass(slots=True)
class Lines:
    """Plain lines for a log: what is new in each state."""

    _phase: Phase | None = None
    _ball: int = 0
    _call: int = 0
    _troubles: int = 0

    def new_in(self, state: State) -> Iterator[str]:
        at = datetime.fromtimestamp(state.utc_s, UTC).strftime("%H:%M:%S")
        for ball in reversed(state.gone):
            if ball.feed_id > self._ball:
                self._ball = ball.feed_id
                player = f" for {ball.player}" if ball.player else ""
                yield f"{at} ball {ball.feed_id} left: {ball.feed}{player}"
        for call in state.calls:
            if call.number > self._call:
                self._call = call.number
                yield f"{at} call: {call.text}"
        if state.phase is not self._phase:
            self._phase = state.phase
            yield f"{at} {state.phase.value}" + (f": {state.waits_for}" if state.waits_for else "")
