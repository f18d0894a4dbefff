"""A lesson on a terminal of any size: its state, what a person should do now, and the keys."""

from __future__ import annotations

from collections.abc import Iterator

from rich.text import Text

from feedscript.session.operator.aims import SideView
from feedscript.session.operator.view import BallView, LauncherView, LessonView, news
from feedscript.terminal.key_hints import all_keys, foot
from feedscript.terminal.layout import Block, ScreenLayout
from feedscript.terminal.terminal_state import TerminalState
from feedscript.tongues.tongue import IN_ENGLISH

_ALARM = "bold white on red"
#: Balls that left and are still shown.
_GONE = 8
_BAR = 24


def render(view: LessonView, own: TerminalState) -> ScreenLayout:
    """The whole screen."""
    if own.invitation:
        invited = Block(rank=1, lines=(Text.from_ansi(own.invitation.rstrip()),))
        return ScreenLayout((invited, *foot(view, own)))
    if own.help:
        return ScreenLayout((_head(view), all_keys(view, own), *foot(view, own)))
    parts = (
        (1, _asked(view)),
        (2, _questioned(view)),
        (2, _set_up(view)),
        (3, _request(view)),
        (6, _hour(view)),
        (4, _exercise(view)),
        (4, _rungs(view)),
        (4, _aims(view)),
        (4, _told(view)),
        (5, _standing(view)),
        (7, (_launcher(launcher) for launcher in view.launchers)),
        (6, _balls(view)),
        (8, _others(view)),
        (5, _offer(view)),
        (9, _counts(view)),
    )
    blocks = (Block(rank=rank, lines=tuple(lines)) for rank, lines in parts)
    return ScreenLayout((_head(view), *blocks, *foot(view, own)))


def clock(seconds: float) -> str:
    """Minutes and seconds."""
    minutes, rest = divmod(max(0, int(seconds)), 60)
    return f"{minutes:d}:{rest:02d}"


def _head(view: LessonView) -> Block:
    style = _ALARM if view.alarm else "bold reverse"
    least, most = view.balls_planned
    planned = f"{least}" if least == most else f"{least} to {most}"
    done = round(_BAR * min(1.0, view.balls_left / max(1, most)))
    pace = "" if view.pace_percent == 100 else f"  pace {view.pace_percent} %"
    first = Text.assemble((f" {view.phase_words} ", style), "  ", (view.title or "lesson", "bold"))
    second = Text.assemble(
        f"{view.balls_left} of {planned} balls{pace}  ",
        ("━" * done, "green"),
        ("━" * (_BAR - done), "dim"),
        _gone(view),
    )
    for line in (first, second):
        line.no_wrap, line.overflow = True, "ellipsis"
    return Block(rank=0, lines=(first, second))


def _gone(view: LessonView) -> str:
    """How long it has run; where there is an hour, its clock says so."""
    if view.hour is not None:
        return ""
    planned = f"{clock(view.planned_s[1])} planned, without pauses"
    return f"  {clock(view.lesson_s)} since the first ball; {planned}"


def _asked(view: LessonView) -> Iterator[Text]:
    """What a person should do."""
    if view.no_link:
        yield Text(f" {view.no_link} ", style=_ALARM)
    if view.waits_for:
        yield Text(f" {view.waits_for} ", style=_ALARM if view.stopping else "reverse")
    if view.hold_s is not None:
        soon = view.hold_s < view.conventions.hold_ends_soon_s
        yield Text(f"Becomes a stop in {clock(view.hold_s)}", style=_ALARM if soon else "bold")
    if view.break_s is not None:
        left = f"Break: {clock(view.break_s)} left" if view.break_s else "The break is over"
        yield Text(left, style="bold")
    if view.count_in_s is not None:
        yield Text(f"First ball in {view.count_in_s:.0f} s", style="bold")


def _hour(view: LessonView) -> Iterator[Text]:
    """The hour's clock, and what could go to end in time."""
    one = view.hour
    if one is None:
        return
    ahead_s = one.planned_s - one.run_s - one.left_s
    most = max(1, round(abs(ahead_s) / 60))
    standing = f"{most} min {'ahead' if ahead_s > 0 else 'behind'}"
    standing = "on time" if abs(ahead_s) < one.on_time_s else standing
    clocks = f"{clock(one.run_s)} gone, {clock(one.planned_s)} planned"
    left = f"{round(one.left_s / 60)} min to come"
    yield Text(f"Hour {clocks}; {left}: {standing}", style="bold")
    if one.ends_at_hour:
        yield Text("ends after the turn in which the hour is full")
    if one.could_go:
        ways = ", ".join(
            f"{' + '.join(way.titles)} ({round(way.saves_s / 60)} min)" for way in one.could_go
        )
        yield Text(f"to end in time leave out one of these: {ways}")


def _request(view: LessonView) -> Iterator[Text]:
    """Balls that come when the coach asks for them."""
    one = view.request
    if one is None:
        return
    whose = f"{one.player}: {one.feed}" if one.player else one.feed
    there = f"{one.station}: " if one.station else ""
    yield Text(f"On request: {there}{whose}, {one.left} of {one.at_most} left", style="bold")
    if one.may_leave_utc_s is not None:
        wait_s = max(0.0, one.may_leave_utc_s - view.utc_s)
        soonest = f"in {wait_s:.0f} s at the soonest" if wait_s >= 0.5 else "at once"
        again = "the last one did not leave, ask again; " if one.came_to_nothing else ""
        yield Text(f"{again}{'it leaves' if one.asked else 'the next'} {soonest}")
    if one.ends_utc_s is not None:
        yield Text(f"they end in {max(0.0, one.ends_utc_s - view.utc_s):.0f} s")


def _exercise(view: LessonView) -> Iterator[Text]:
    """What the group works at, and what the coach looks for."""
    on = view.exercise
    if on is None:
        return
    yield Text(f"{on.number} of {on.of}: {on.title}", style="bold")
    for word in ("aim", "watch", "easier", "harder"):
        if said := getattr(on, word):
            yield Text(f"{word}: {said}")


def _rungs(view: LessonView) -> Iterator[Text]:
    """Who stands on which step, a line a progression."""
    progressions: dict[str, list[str]] = {}
    for one in view.private.rungs:
        again = " (as last time)" if one.as_last_time and one.may_be_set else ""
        progressions.setdefault(one.progression, []).append(
            f"{one.player} {one.rungs[one.rung]}{again}"
        )
    for name, theirs in progressions.items():
        yield Text(f"{name}: {', '.join(theirs)}")
    settable = next((one for one in view.private.rungs if one.may_be_set), None)
    if settable is not None:
        yield Text(f"to change it, type :step {settable.player} {settable.rungs[0]}", style="dim")


def _aims(view: LessonView) -> Iterator[Text]:
    """How everyone stands with target, goals and score."""
    aims = view.aims
    if aims is None:
        return
    if aims.target is not None:
        marked = f", {aims.target.marked}" if aims.target.marked else ""
        yield Text(f"target: {aims.target.name}{marked}")
    for goal in aims.goals:
        each = ", ".join(
            f"{one.player or 'all'} {'met it' if one.met else one.made}" for one in goal.players
        )
        yield Text.assemble(f"goal: {goal.words}  ", (each, "bold"))
    for row in aims.rows:
        yield Text(f"{row.player or 'all'}: {row.running} in a row", style="bold")
    if aims.scored:
        to = "" if aims.to is None else f" to {aims.to}"
        yield Text.assemble(f"score{to}: ", (", ".join(map(_side, aims.score)), "bold"))


def _side(side: SideView) -> str:
    who = " and ".join(player or "all" for player in side.players)
    over = " won" if side.won else " lost" if side.lost else ""
    return f"{who} {side.points}:{side.against}{over}"


def _told(view: LessonView) -> Iterator[Text]:
    """What everyone is told, and what went wrong."""
    if view.calls:
        call = view.calls[-1]
        fresh = view.utc_s - call.utc_s < view.conventions.call_shown_s
        yield Text(f"“{IN_ENGLISH(call.text)}”", style="bold cyan" if fresh else "dim")
    for trouble in news(view)[-2:]:
        yield Text(f"! {trouble.message} ({trouble.help})", style="yellow")


def _launcher(launcher: LauncherView) -> Text:
    words = [launcher.name or "launcher", launcher.state_words]
    if launcher.alarm and launcher.reason:
        words.append(f"({launcher.reason})")
    if launcher.hopper_balls is not None:
        of = "" if launcher.loaded_balls is None else f" of {launcher.loaded_balls}"
        words.append(f"{launcher.hopper_balls}{of} balls in it")
    if launcher.supply_v is not None:
        words.append(_battery(launcher.supply_v, launcher.battery_balls))
    if launcher.wants_code:
        words.append("type :code and the number on its display")
    return Text("  ".join(words))


def _battery(supply_v: float, balls: int | None) -> str:
    about = "" if balls is None else f", about {balls} balls left in the battery"
    return f"{supply_v:.1f} V{about}"


def _set_up(view: LessonView) -> Iterator[Text]:
    """The step that is next on top, so that it is on the smallest screen."""
    todo = [step for step in view.set_up if not step.confirmed]
    done = len(view.set_up) - len(todo)
    if todo:
        yield Text(f"Step {done + 1} of {len(view.set_up)}:", style="bold")
        yield Text(todo[0].words, style="bold")
    for step in todo[1:]:
        yield Text(f"[ ] {step.words}", style="dim")


def _questioned(view: LessonView) -> Iterator[Text]:
    for ball in view.asked_about[:1]:
        yield Text.assemble(("Did this ball leave? ", "bold red"), _ball(ball))


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


def _standing(view: LessonView) -> Iterator[Text]:
    """What stays until it changes: who is on, who is next, the last words."""
    for each in view.stations:
        if each.on or each.next_up:
            at = f"{each.name}: " if each.name else ""
            yield Text.assemble(
                f"{at}on ", (each.on or "nobody", "bold"), "  next ", each.next_up or "–"
            )
        if each.said:
            yield Text.assemble(f"{each.name}: ", (each.said, "bold"))
    if view.said:
        yield Text.assemble("said: ", (view.said, "bold"))


def _others(view: LessonView) -> Iterator[Text]:
    """What those do who are not on."""
    others = [f"{p.player} {p.role.value}" for p in view.places if not p.hits]
    if others:
        yield Text(", ".join(others), style="dim")
    for presence in list(view.conventions.presences)[1:]:
        away = [player.name for player in view.players if player.presence is presence]
        if away:
            yield Text(f"{presence.value}: {', '.join(away)}", style="dim")


def _offer(view: LessonView) -> Iterator[Text]:
    offer = view.private.offer
    if offer is not None:
        who = offer.player or "the player"
        asked = (IN_ENGLISH(offer.question), "italic magenta")  # in the player's own, where known
        yield Text.assemble((f"Ask {who}, alone ({offer.noticed}): ", "magenta"), asked)


def _counts(view: LessonView) -> Iterator[Text]:
    for count in view.private.counts:
        share = "" if count.share_in is None else f", {count.share_in:.0%} in"
        each = ", ".join(f"{result.value} {n}" for result, n in count.by_result.items())
        yield Text(f"{count.player or 'nobody'}: {count.balls} recorded{share} ({each})")
