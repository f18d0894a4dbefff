"""A lesson on a terminal of any size: its state, what a person should do now, and the keys."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from rich.text import Text

from feedscript.diagnostics import Diagnostic
from feedscript.session.group.rotation import Role
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.operator.view import HOLD_ENDS_SOON_S, BallView, LauncherView, State, news
from feedscript.terminal.keys import ACT_WORDS, ENTER_WORDS, KEYS
from feedscript.terminal.layout import Block, Fitted
from feedscript.terminal.typed_keys import Typing

_ALARM = (Phase.STOPPED, Phase.ASKING, Phase.BROKEN_OFF)
#: Balls that left and are still shown.
_GONE = 8
_BAR = 24
#: A call is shown bright for so long, as on the page.
CALL_SHOWN_S = 8.0


@dataclass(slots=True)
class Desk:
    """What only this terminal knows: what is being typed, and what it shows beside the lesson."""

    typing: Typing = field(default_factory=Typing)
    refused: Diagnostic | None = None  # the last key's, until the next one
    help: bool = False
    quiet: bool = False  # no bell at a call
    invitation: str = ""  # how another device pairs; "" while it is not shown
    keys: bool = True
    pairs: bool = False  # there is a page that devices may pair with


def render(state: State, desk: Desk) -> Fitted:
    """The whole screen."""
    if desk.invitation:
        return Fitted((Block(1, (Text.from_ansi(desk.invitation.rstrip()),)), *_foot(state, desk)))
    if desk.help:
        return Fitted((_head(state), Block(3, tuple(_all_keys(desk))), *_foot(state, desk)))
    return Fitted(
        (
            _head(state),
            Block(1, tuple(_asked(state))),
            Block(2, tuple(_questioned(state))),
            Block(2, tuple(_set_up(state))),
            Block(4, tuple(_told(state))),
            Block(7, tuple(_launchers(state))),
            Block(6, tuple(_balls(state))),
            Block(8, tuple(_people(state))),
            Block(5, tuple(_offer(state))),
            Block(9, tuple(_counts(state))),
            *_foot(state, desk),
        )
    )


def clock(seconds: float) -> str:
    """Minutes and seconds."""
    minutes, rest = divmod(max(0, int(seconds)), 60)
    return f"{minutes:d}:{rest:02d}"


def _head(state: State) -> Block:
    alarm = state.stopping or state.phase in _ALARM
    style = "bold white on red" if alarm else "bold reverse"
    least, most = state.balls_planned
    planned = f"{least}" if least == most else f"{least} to {most}"
    done = round(_BAR * min(1.0, state.balls_left / max(1, most)))
    pace = "" if state.pace_percent == 100 else f"  pace {state.pace_percent} %"
    first = Text.assemble(
        (f" {state.phase_words} ", style), "  ", (state.title or "lesson", "bold")
    )
    second = Text.assemble(
        f"{state.balls_left} of {planned} balls  {clock(state.lesson_s)}{pace}  ",
        ("━" * done, "green"),
        ("━" * (_BAR - done), "dim"),
    )
    for line in (first, second):
        line.no_wrap, line.overflow = True, "ellipsis"
    return Block(0, (first, second))


def _asked(state: State) -> Iterator[Text]:
    """What a person should do."""
    for launcher in state.launchers:
        if not launcher.linked:
            words = f" NO LINK to {launcher.name or 'the launcher'}: use its own switch "
            yield Text(words, style="bold white on red")
    if state.waits_for:
        style = "bold white on red" if state.stopping else "reverse"
        yield Text(f" {state.waits_for} ", style=style)
    if state.hold_s is not None:
        style = "bold white on red" if state.hold_s < HOLD_ENDS_SOON_S else "bold"
        yield Text(f"Becomes a stop in {clock(state.hold_s)}", style=style)
    if state.count_in_s is not None:
        yield Text(f"First ball in {state.count_in_s:.0f} s", style="bold")


def _told(state: State) -> Iterator[Text]:
    """What everyone is told, and what went wrong."""
    if state.calls:
        call = state.calls[-1]
        fresh = state.utc_s - call.utc_s < CALL_SHOWN_S
        yield Text(f"“{call.text}”", style="bold cyan" if fresh else "dim")
    for trouble in news(state)[-2:]:
        yield Text(f"! {trouble.message} ({trouble.help})", style="yellow")


def _launchers(state: State) -> Iterator[Text]:
    for launcher in state.launchers:
        yield _launcher(launcher)


def _launcher(launcher: LauncherView) -> Text:
    words = [launcher.name or "launcher", launcher.state_words]
    if launcher.state.value in ("fault", "stopping", "stopped") and launcher.reason:
        words.append(f"({launcher.reason})")
    if launcher.hopper_balls is not None:
        words.append(f"{launcher.hopper_balls} balls in it")
    if launcher.wants_code:
        words.append("type :code and the number on its display")
    return Text("  ".join(words))


def _set_up(state: State) -> Iterator[Text]:
    """The step that is next on top, so that it is on the smallest screen."""
    if state.phase is not Phase.SETTING_UP:
        return
    todo = [step for step in state.set_up if not step.confirmed]
    done = len(state.set_up) - len(todo)
    if todo:
        yield Text(f"Step {done + 1} of {len(state.set_up)}:", style="bold")
        yield Text(todo[0].words, style="bold")
    for step in todo[1:]:
        yield Text(f"[ ] {step.words}", style="dim")


def _questioned(state: State) -> Iterator[Text]:
    for ball in state.asked_about[:1]:
        yield Text.assemble(
            ("Did this ball leave? ", "bold red"), f"{_ball(ball)}  ", ("y or n", "bold")
        )


def _balls(state: State) -> Iterator[Text]:
    for word, ball in zip(("next", "then"), state.coming, strict=False):
        seconds = max(0.0, ball.leaves_utc_s - state.utc_s)
        yield Text(f"{word} {_ball(ball)} in {seconds:.0f} s", style="green")
    for ball in state.gone[:_GONE]:
        result = "" if ball.result is None else ball.result.value
        yield Text.assemble("left ", _ball(ball), "  ", (result, "bold"))


def _ball(ball: BallView) -> str:
    who = ball.player or ball.station
    return f"{ball.feed_id} {ball.feed}" + (f" for {who}" if who else "")


def _people(state: State) -> Iterator[Text]:
    on = [f"{p.player} {p.station}".strip() for p in state.places if p.role is Role.HITTER]
    if on or state.next_up:
        yield Text.assemble(
            "on ", (", ".join(on) or "nobody", "bold"), "  next ", ", ".join(state.next_up) or "–"
        )
    others = [f"{p.player} {p.role.value}" for p in state.places if p.role is not Role.HITTER]
    if others:
        yield Text(", ".join(others), style="dim")
    away = [player.name for player in state.players if not player.here]
    if away:
        yield Text(f"resting: {', '.join(away)}", style="dim")


def _offer(state: State) -> Iterator[Text]:
    offer = state.private.offer
    if offer is not None:
        who = offer.player or "the player"
        yield Text.assemble(
            (f"Ask {who}, alone ({offer.noticed}): ", "magenta"), (offer.question, "italic magenta")
        )


def _counts(state: State) -> Iterator[Text]:
    for count in state.private.counts:
        share = "" if count.share_in is None else f", {count.share_in:.0%} in"
        each = ", ".join(f"{result.value} {n}" for result, n in count.by_result.items())
        yield Text(f"{count.player or 'nobody'}: {count.balls} recorded{share} ({each})")


# -- keys ---------------------------------------------------------------------------------


def _foot(state: State, desk: Desk) -> Iterator[Block]:
    """What was refused, what is typed, and the keys that do something now."""
    if not desk.keys:
        yield Block(0, (Text("Ctrl-C stop and end", style="dim"),), below=True)
        return
    refused = desk.refused
    if refused is not None:
        yield Block(3, (Text(f"! {refused.message} ({refused.help})", style="yellow"),), below=True)
    if desk.typing.line is not None:
        yield Block(0, (Text(f"{desk.typing.line}▏", style="bold"),), below=True)
    first = tuple(_first_keys(state, desk))
    yield Block(0, first, below=True, packed=True)
    if not (desk.help or desk.invitation):
        yield Block(7, tuple(_more_keys(state, desk)), below=True, packed=True)


def _first_keys(state: State, desk: Desk) -> Iterator[Text]:
    """Those that the smallest screen still shows."""
    yield _key("s", "STOP", "bold white on red")
    if desk.help or desk.invitation:
        yield _key("any other key", "closes this")
        return
    yes = ENTER_WORDS.get(state.phase)
    if yes is not None and not state.stopping:
        yield _key("Enter", yes, "bold green")
    if state.phase is Phase.RUNNING:
        yield _key("space", "hold", "bold green")
    if state.phase is Phase.JUDGING:
        yield _key("w", ACT_WORDS[Act.WRONG])
    yield _key("?", "all keys")


def _more_keys(state: State, desk: Desk) -> Iterator[Text]:
    if state.gone and state.phase not in (Phase.SETTING_UP, Phase.ARMING):
        pad = ("8", "long"), ("2", "net"), ("4", "left"), ("6", "right"), ("5", "in"), ("u", "undo")
        yield from (_key(key, words) for key, words in pad)
    if state.phase in (Phase.RUNNING, Phase.HELD, Phase.READY):
        yield from (_key(key, ACT_WORDS[KEYS[key]]) for key in "nak-+")
    if desk.pairs and state.phase is Phase.SETTING_UP:
        yield _key("p", "pair a phone")
    if state.phase in (Phase.STOPPED, Phase.SETTING_UP, Phase.HELD):
        yield _key("q", ACT_WORDS[Act.QUIT])


def _key(key: str, words: str, style: str = "") -> Text:
    return Text.assemble((key, "bold"), " ", (words, style))


def _all_keys(desk: Desk) -> Iterator[Text]:
    """The page behind ``?``, short enough for twenty lines of forty columns."""
    for keys, words in (
        ("Enter", "yes, to what is asked"),
        ("space h", "hold; space again: go on"),
        ("g", ACT_WORDS[Act.GO_ON]),
        ("s x q", _words("sxq")),
        ("n a k", _words("nak")),
        ("- +", _words("-+")),
        ("w r", _words("wr")),
        ("8 2 4 6 5", "long net left right in"),
        ("arrows i", "the same"),
        ("u", "take the last back"),
        ("y n", "it left; it did not"),
        ("v", "bell at calls again" if desk.quiet else "quiet: no bell at calls"),
        *([("p P", "pair a coach; a screen")] if desk.pairs else []),
        (":", "join, back, rest, leave NAME"),
        ("", "at ACROSS ALONG, code NUMBER"),
    ):
        yield Text.assemble((f"{keys:<10}", "bold"), words)


def _words(keys: str) -> str:
    return "; ".join(ACT_WORDS[KEYS[key]] for key in keys)
