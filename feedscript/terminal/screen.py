"""A lesson on a terminal of any size: its state, what a person should do now, and the keys."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from rich.text import Text

from feedscript.diagnostics import Diagnostic
from feedscript.session.group.rotation import Role
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.operator.view import (
    HOLD_ENDS_SOON_S,
    BallView,
    LauncherView,
    LessonView,
    news,
)
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


def render(view: LessonView, desk: Desk) -> Fitted:
    """The whole screen."""
    if desk.invitation:
        return Fitted((Block(1, (Text.from_ansi(desk.invitation.rstrip()),)), *_foot(view, desk)))
    if desk.help:
        return Fitted((_head(view), Block(3, tuple(_all_keys(desk))), *_foot(view, desk)))
    return Fitted(
        (
            _head(view),
            Block(1, tuple(_asked(view))),
            Block(2, tuple(_questioned(view))),
            Block(2, tuple(_set_up(view))),
            Block(4, tuple(_told(view))),
            Block(7, tuple(_launchers(view))),
            Block(6, tuple(_balls(view))),
            Block(8, tuple(_people(view))),
            Block(5, tuple(_offer(view))),
            Block(9, tuple(_counts(view))),
            *_foot(view, desk),
        )
    )


def clock(seconds: float) -> str:
    """Minutes and seconds."""
    minutes, rest = divmod(max(0, int(seconds)), 60)
    return f"{minutes:d}:{rest:02d}"


def _head(view: LessonView) -> Block:
    alarm = view.stopping or view.phase in _ALARM
    style = "bold white on red" if alarm else "bold reverse"
    least, most = view.balls_planned
    planned = f"{least}" if least == most else f"{least} to {most}"
    done = round(_BAR * min(1.0, view.balls_left / max(1, most)))
    pace = "" if view.pace_percent == 100 else f"  pace {view.pace_percent} %"
    first = Text.assemble((f" {view.phase_words} ", style), "  ", (view.title or "lesson", "bold"))
    second = Text.assemble(
        f"{view.balls_left} of {planned} balls  {clock(view.lesson_s)}{pace}  ",
        ("━" * done, "green"),
        ("━" * (_BAR - done), "dim"),
    )
    for line in (first, second):
        line.no_wrap, line.overflow = True, "ellipsis"
    return Block(0, (first, second))


def _asked(view: LessonView) -> Iterator[Text]:
    """What a person should do."""
    for launcher in view.launchers:
        if not launcher.linked:
            words = f" NO LINK to {launcher.name or 'the launcher'}: use its own switch "
            yield Text(words, style="bold white on red")
    if view.waits_for:
        style = "bold white on red" if view.stopping else "reverse"
        yield Text(f" {view.waits_for} ", style=style)
    if view.hold_s is not None:
        style = "bold white on red" if view.hold_s < HOLD_ENDS_SOON_S else "bold"
        yield Text(f"Becomes a stop in {clock(view.hold_s)}", style=style)
    if view.count_in_s is not None:
        yield Text(f"First ball in {view.count_in_s:.0f} s", style="bold")


def _told(view: LessonView) -> Iterator[Text]:
    """What everyone is told, and what went wrong."""
    if view.calls:
        call = view.calls[-1]
        fresh = view.utc_s - call.utc_s < CALL_SHOWN_S
        yield Text(f"“{call.text}”", style="bold cyan" if fresh else "dim")
    for trouble in news(view)[-2:]:
        yield Text(f"! {trouble.message} ({trouble.help})", style="yellow")


def _launchers(view: LessonView) -> Iterator[Text]:
    for launcher in view.launchers:
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


def _set_up(view: LessonView) -> Iterator[Text]:
    """The step that is next on top, so that it is on the smallest screen."""
    if view.phase is not Phase.SETTING_UP:
        return
    todo = [step for step in view.set_up if not step.confirmed]
    done = len(view.set_up) - len(todo)
    if todo:
        yield Text(f"Step {done + 1} of {len(view.set_up)}:", style="bold")
        yield Text(todo[0].words, style="bold")
    for step in todo[1:]:
        yield Text(f"[ ] {step.words}", style="dim")


def _questioned(view: LessonView) -> Iterator[Text]:
    for ball in view.asked_about[:1]:
        yield Text.assemble(
            ("Did this ball leave? ", "bold red"), f"{_ball(ball)}  ", ("y or n", "bold")
        )


def _balls(view: LessonView) -> Iterator[Text]:
    for word, ball in zip(("next", "then"), view.coming, strict=False):
        seconds = max(0.0, ball.leaves_utc_s - view.utc_s)
        yield Text(f"{word} {_ball(ball)} in {seconds:.0f} s", style="green")
    for ball in view.gone[:_GONE]:
        result = "" if ball.result is None else ball.result.value
        yield Text.assemble("left ", _ball(ball), "  ", (result, "bold"))


def _ball(ball: BallView) -> str:
    who = ball.player or ball.station
    return f"{ball.feed_id} {ball.feed}" + (f" for {who}" if who else "")


def _people(view: LessonView) -> Iterator[Text]:
    on = [f"{p.player} {p.station}".strip() for p in view.places if p.role is Role.HITTER]
    if on or view.next_up:
        yield Text.assemble(
            "on ", (", ".join(on) or "nobody", "bold"), "  next ", ", ".join(view.next_up) or "–"
        )
    others = [f"{p.player} {p.role.value}" for p in view.places if p.role is not Role.HITTER]
    if others:
        yield Text(", ".join(others), style="dim")
    away = [player.name for player in view.players if not player.here]
    if away:
        yield Text(f"resting: {', '.join(away)}", style="dim")


def _offer(view: LessonView) -> Iterator[Text]:
    offer = view.private.offer
    if offer is not None:
        who = offer.player or "the player"
        yield Text.assemble(
            (f"Ask {who}, alone ({offer.noticed}): ", "magenta"), (offer.question, "italic magenta")
        )


def _counts(view: LessonView) -> Iterator[Text]:
    for count in view.private.counts:
        share = "" if count.share_in is None else f", {count.share_in:.0%} in"
        each = ", ".join(f"{result.value} {n}" for result, n in count.by_result.items())
        yield Text(f"{count.player or 'nobody'}: {count.balls} recorded{share} ({each})")


# -- keys ---------------------------------------------------------------------------------


def _foot(view: LessonView, desk: Desk) -> Iterator[Block]:
    """What was refused, what is typed, and the keys that do something now."""
    if not desk.keys:
        yield Block(0, (Text("Ctrl-C stop and end", style="dim"),), below=True)
        return
    refused = desk.refused
    if refused is not None:
        yield Block(3, (Text(f"! {refused.message} ({refused.help})", style="yellow"),), below=True)
    if desk.typing.line is not None:
        yield Block(0, (Text(f"{desk.typing.line}▏", style="bold"),), below=True)
    first = tuple(_first_keys(view, desk))
    yield Block(0, first, below=True, packed=True)
    if not (desk.help or desk.invitation):
        yield Block(7, tuple(_more_keys(view, desk)), below=True, packed=True)


def _first_keys(view: LessonView, desk: Desk) -> Iterator[Text]:
    """Those that the smallest screen still shows."""
    yield _key("s", "STOP", "bold white on red")
    if desk.help or desk.invitation:
        yield _key("any other key", "closes this")
        return
    yes = ENTER_WORDS.get(view.phase)
    if yes is not None and not view.stopping:
        yield _key("Enter", yes, "bold green")
    if view.phase is Phase.RUNNING:
        yield _key("space", "hold", "bold green")
    if view.phase is Phase.JUDGING:
        yield _key("w", ACT_WORDS[Act.WRONG])
    yield _key("?", "all keys")


def _more_keys(view: LessonView, desk: Desk) -> Iterator[Text]:
    if view.gone and view.phase not in (Phase.SETTING_UP, Phase.ARMING):
        pad = ("8", "long"), ("2", "net"), ("4", "left"), ("6", "right"), ("5", "in"), ("u", "undo")
        yield from (_key(key, words) for key, words in pad)
    if view.phase in (Phase.RUNNING, Phase.HELD, Phase.READY):
        yield from (_key(key, ACT_WORDS[KEYS[key]]) for key in "nak-+")
    if desk.pairs and view.phase is Phase.SETTING_UP:
        yield _key("p", "pair a phone")
    if view.phase in (Phase.STOPPED, Phase.SETTING_UP, Phase.HELD):
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
