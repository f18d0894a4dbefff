"""The one interpreter of a plan: a pure generator of actions.

The engine, the rehearsal, resuming by replay, the sampler and the brute-force tests all run a plan
through here, so they cannot disagree. A run reads no clock and no record: what it must know it
asks, and the same plan with the same replies gives the same actions. All chance comes from the
plan's seed.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import suppress
from functools import partial
from typing import Any

from feedscript.plan.bodies import bodies
from feedscript.plan.interpreter.actions import (
    Action,
    Actions,
    Ask,
    At,
    BeginExercise,
    EndExercise,
    Jump,
    OnTurn,
    Pause,
    PickUp,
    Reply,
    Request,
    SendBall,
    Speak,
    Stands,
    StartStations,
    StationRun,
    StepMove,
    TakeTurn,
    ToStep,
    WatchSpeed,
)
from feedscript.plan.interpreter.chance import stream
from feedscript.plan.interpreter.cursor import (
    AllBallsSent,
    Cursor,
    LeaveLesson,
    LeaveSeries,
    Sent,
    Source,
    cursor_at,
)
from feedscript.plan.model import (
    Choose,
    Collect,
    Exercise,
    Move,
    OnRequest,
    Plan,
    Repeat,
    Rest,
    Say,
    Send,
    ShowSpeed,
    Shuffle,
    Station,
    Step,
    Together,
    Turns,
    Until,
    When,
)
from feedscript.plan.times import milliseconds


def interpret(
    plan: Plan,
    source: Source = stream,
    at_step: Callable[[int], None] = lambda _: None,
    stands: Stands | None = None,
) -> Actions:
    """Every action of one run, in order. See ``actions`` for what may be replied.

    ``source`` gives the stream of chance of a name; only a test puts another in its place.
    ``at_step`` is told the index of each step of the lesson as it begins. ``stands`` is where
    players stand in the progressions until they are moved; it is looked at when they are fed.
    """
    everyone = tuple(range(len(plan.group.players)))
    sent = Sent(dict.fromkeys(range(len(plan.launchers)), 0), plan.bounds.most_balls)
    cursor = cursor_at(plan, sent, source, {} if stands is None else stands, players=everyone)
    yield from _until_all_sent(cursor, _lesson(cursor, at_step))


def _until_all_sent(cursor: Cursor, actions: Actions) -> Actions:
    try:
        yield from actions
    except AllBallsSent:
        yield Speak(cursor.now_s, 0, cursor.station, "All balls of this plan have been sent.")


def _lesson(cursor: Cursor, at_step: Callable[[int], None]) -> Actions:
    """The steps in their order, each a series for a person's jumps.

    A person may go to another step. What was begun comes again by a person's word only, and only an
    exercise that has a repeat left; whatever is passed over, the next step begins after a collect.
    """
    steps, begun = cursor.plan.steps, [0] * len(cursor.plan.steps)
    step, asked, seam, safe = 0, -1, False, False
    alone = cursor.player, cursor.left, cursor.since
    while step < len(steps):
        if begun[step] >= (_most(steps[step]) if step == asked else 1):
            step, seam = step + 1, True
            continue
        try:
            collects = isinstance(steps[step], Collect)
            if seam and not collects:
                yield from _series(cursor, 0, partial(_seam, cursor, step, safe))
                seam = False
            at_step(step)
            begun[step] += 1
            asked = -1
            yield from _series(cursor, 0, partial(_step, cursor, steps[step]))
            step, safe = step + 1, collects
        except LeaveLesson as jump:
            cursor.player, cursor.left, cursor.since = alone
            step = asked = jump.step
            seam, safe = True, False


def _most(step: Step) -> int:
    """How often a step may be begun, where a person asks for it."""
    return 1 + step.repeats if isinstance(step, Exercise) else 1


def _seam(cursor: Cursor, step: int, safe: bool) -> Actions:
    """Between steps that the plan does not have one after the other: the launcher is made safe and
    armed again (unless it has been just now), and what should have been shown by then is."""
    steps = cursor.plan.steps
    if not safe:
        yield from _collect(cursor, Collect(line=steps[step].line))
    for speed in _speeds(steps[:step]):
        if speed.feed not in cursor.shown:
            yield from _show_speed(cursor, speed)


def _speeds(steps: Sequence[Step]) -> Iterator[ShowSpeed]:
    """Every speed that is shown in these steps, in the order in which they are written."""
    for step in steps:
        if isinstance(step, ShowSpeed):
            yield step
        for body in bodies(step):
            yield from _speeds(body)


def _series(
    cursor: Cursor, line: int, body: Callable[[], Actions]
) -> Generator[Action, Reply, bool]:
    """Run a series until it ends or is left; whether it ran to its end."""
    outer, cursor.series = cursor.series, line or cursor.series
    try:
        while True:
            try:
                yield from body()
            except LeaveSeries as jump:
                if jump.again:
                    continue
                return False
            return True
    finally:
        cursor.series = outer


def _do(action: Action) -> Generator[Action, Reply, Reply]:
    """Yield one action; a jump out of the series is taken here, a skip is handed back."""
    reply = yield action
    if reply is Jump.NEXT or reply is Jump.AGAIN:
        raise LeaveSeries(again=reply is Jump.AGAIN)
    if isinstance(reply, ToStep):
        raise LeaveLesson(reply.step)
    return reply


def _each(cursor: Cursor, steps: tuple[Step, ...]) -> Actions:
    """Steps in a row, each a series for a person's jumps."""
    for step in steps:
        yield from _series(cursor, 0, partial(_step, cursor, step))


def _steps(cursor: Cursor, steps: tuple[Step, ...]) -> Actions:
    for step in steps:
        yield from _step(cursor, step)


def _step(cursor: Cursor, step: Step) -> Actions:
    return _HANDLERS[type(step)](cursor, step)


def _send(cursor: Cursor, step: Send, request: Request | None = None) -> Actions:
    on = 0 if step.progression is None else cursor.stands_on(step.progression, cursor.player)
    feeds = step.feeds_of(cursor.kind, left=cursor.left, rung=on)
    feed = _chosen(cursor, feeds)
    after_ms = _gap_ms(cursor, *step.after_s)
    launcher = cursor.plan.feeds[feed].launcher
    at_ms = cursor.now_ms + after_ms
    action = SendBall(
        at_s=at_ms / 1000.0,
        line=step.line,
        station=cursor.station,
        ball=cursor.sent.count(launcher),
        feed=feed,
        launcher=launcher,
        player=cursor.player,
        after_s=after_ms / 1000.0,
        series=cursor.series,
        request=request,
    )
    try:
        reply = yield from _do(action)
        if isinstance(reply, At) and request is not None:
            at_ms, reply = _as_asked(cursor, request, at_ms, reply)
    except (LeaveSeries, LeaveLesson):
        cursor.sent.uncount(launcher)
        raise
    if reply is Jump.SKIP:
        cursor.sent.uncount(launcher)
        return
    cursor.now_ms = at_ms
    cursor.down_ms = at_ms + milliseconds(cursor.plan.feeds[feed].flight_s)
    if reply is Jump.AGAIN_AFTER:
        raise LeaveSeries(again=True)


def _gap_ms(cursor: Cursor, least_s: float, most_s: float) -> int:
    least_ms = milliseconds(least_s)
    if least_s == most_s:
        return least_ms
    return cursor.chance.between(least_ms, milliseconds(most_s))


def _chosen(cursor: Cursor, feeds: tuple[int, ...]) -> int:
    """One of a varied feed's balls. Of a sweep's directions none is chosen: the first stands for
    them all."""
    launcher = cursor.plan.launchers[cursor.plan.feeds[feeds[0]].launcher]
    if len(feeds) == 1 or launcher.sweep_deg is not None:
        return feeds[0]
    return feeds[cursor.chance.below(len(feeds))]


def _as_asked(cursor: Cursor, request: Request, at_ms: int, reply: At) -> tuple[int, Jump | None]:
    """When a ball leaves that was asked for, within its time; or a person has had enough."""
    last_ms = at_ms if request.until_s is None else milliseconds(request.until_s)
    asked_ms = min(milliseconds(reply.at_s), last_ms)
    if reply.then is Jump.NEXT:
        cursor.now_ms = max(cursor.now_ms, asked_ms)
        raise LeaveSeries(again=False)
    return max(at_ms, asked_ms), reply.then


def _on_request(cursor: Cursor, step: OnRequest) -> Actions:
    """A series of its own: to leave it is to say that there were enough. Where they have a time, it
    ends them; begun again they have what is left of it."""
    ends_ms = None if step.lasts_s is None else cursor.now_ms + milliseconds(step.lasts_s)
    until_s = None if ends_ms is None else ends_ms / 1000.0

    def body() -> Actions:
        for number in range(1, step.at_most + 1):
            if ends_ms is not None and cursor.now_ms + step.gap_ms > ends_ms:
                return
            yield from _send(cursor, step.send, Request(number, step.at_most, until_s))

    yield from _series(cursor, step.line, body)


def _show_speed(cursor: Cursor, step: ShowSpeed) -> Actions:
    launcher = cursor.plan.feeds[step.feed].launcher
    ball = cursor.sent.count(launcher)
    action = WatchSpeed(cursor.now_s, step.line, cursor.station, ball, step.feed, launcher)
    try:
        reply = yield from _do(action)
    except (LeaveSeries, LeaveLesson):
        cursor.sent.uncount(launcher)
        raise
    if reply is Jump.SKIP:
        cursor.sent.uncount(launcher)
    else:
        cursor.shown.add(step.feed)
        cursor.down_ms = cursor.now_ms


def _rest(cursor: Cursor, step: Rest) -> Actions:
    until_ms = cursor.now_ms + milliseconds(step.seconds)
    reply = yield from _do(Pause(cursor.now_s, step.line, cursor.station, until_ms / 1000.0))
    if reply is not Jump.SKIP:
        cursor.now_ms = until_ms


def _say(cursor: Cursor, step: Say) -> Actions:
    yield from _do(Speak(cursor.now_s, step.line, cursor.station, step.text, step.players))


def _move(cursor: Cursor, step: Move) -> Actions:
    player = cursor.player if step.player is None else step.player
    before = cursor.stands_on(step.progression, player)
    last = len(cursor.plan.progressions[step.progression].rungs) - 1
    after = min(before + 1, last) if step.up else max(before - 1, 0)
    yield from _do(
        StepMove(cursor.now_s, step.line, cursor.station, step.progression, player, before, after)
    )
    cursor.steps_onto(step.progression, player, after)


def _collect(cursor: Cursor, step: Collect) -> Actions:
    action = PickUp(cursor.now_s, step.line, cursor.station, step.words, step.break_s)
    reply = yield from _do(action)
    if reply is not Jump.SKIP:
        cursor.now_ms += step.break_ms
    cursor.down_ms = cursor.now_ms


def _repeat(cursor: Cursor, step: Repeat) -> Actions:
    def body() -> Actions:
        for _ in range(step.times):
            yield from _steps(cursor, step.body)

    yield from _series(cursor, step.line, body)


def _exercise(cursor: Cursor, step: Exercise) -> Actions:
    """Each step of it is a series for a person's jumps, as those of the lesson are."""
    exercises = (one for one in cursor.plan.steps if isinstance(one, Exercise))
    number = next(number for number, one in enumerate(exercises, 1) if one is step)
    begin = BeginExercise(cursor.now_s, step.line, cursor.station, number, step.title)
    yield from _announce(begin)
    yield from _each(cursor, step.body)
    yield from _announce(EndExercise(cursor.now_s, step.line, cursor.station, number))


def _announce(action: Action) -> Actions:
    """Only a jump to another step leaves from here."""
    reply = yield action
    if isinstance(reply, ToStep):
        raise LeaveLesson(reply.step)


def _choose(cursor: Cursor, step: Choose) -> Actions:
    drawn = cursor.draws(step.seed).weighted([option.weight for option in step.options])
    yield from _steps(cursor, step.options[drawn].body)


def _shuffle(cursor: Cursor, step: Shuffle) -> Actions:
    for index in cursor.draws(step.seed).order(len(step.items)):
        yield from _steps(cursor, step.items[index])


def _until(cursor: Cursor, step: Until) -> Actions:
    need = 0 if step.condition.negated else step.condition.at_least

    def body() -> Actions:
        before = cursor.sent.of[cursor.launcher]
        for number in range(1, step.at_most + 1):
            yield from _steps(cursor, step.body)
            so_far = cursor.sent.of[cursor.launcher]
            if number == step.at_most or so_far - before < need:
                continue
            reply = yield from _do(_ask(cursor, step, before + 1, ever=True))
            if reply is True:
                return

    yield from _series(cursor, step.line, body)


def _when(cursor: Cursor, step: When) -> Actions:
    reply = yield from _do(_ask(cursor, step, cursor.since, ever=False))
    yield from _steps(cursor, step.then if reply is True else step.otherwise)


def _ask(cursor: Cursor, step: Until | When, first: int, *, ever: bool) -> Ask:
    return Ask(
        at_s=cursor.now_s,
        line=step.line,
        station=cursor.station,
        condition=step.condition,
        launcher=cursor.launcher,
        first_ball=first,
        last_ball=cursor.sent.of[cursor.launcher],
        ever=ever,
        down_s=cursor.down_ms / 1000.0,
        so_far=cursor.so_far() if step.condition.player is not None else (),
    )


def _turns(cursor: Cursor, step: Turns) -> Actions:
    """A turn that a person leaves early is over at once; at stations of players who are kept apart
    it lasts as long as ever, since turns there change together."""
    in_step = bool(cursor.station and cursor.plan.group.keep_apart)
    outer = cursor.player, cursor.left, cursor.kind, cursor.since
    for slot in range(step.slots):
        start_ms = cursor.now_ms
        ends_ms = None if step.every_s is None else start_ms + milliseconds(step.every_s)
        turn = partial(_turn, cursor, step, slot, ends_ms)
        whole = yield from _series(cursor, step.line, turn)
        if (whole or in_step) and ends_ms is not None:
            cursor.now_ms = max(cursor.now_ms, ends_ms)
    cursor.player, cursor.left, cursor.kind, cursor.since = outer


def _turn(cursor: Cursor, step: Turns, slot: int, ends_ms: int | None) -> Actions:
    players = cursor.players if step.players is None else step.players
    planned = players[slot % len(players)] if players else None
    until_s = None if ends_ms is None else ends_ms / 1000.0
    action = TakeTurn(
        at_s=cursor.now_s,
        line=step.line,
        station=cursor.station,
        slot=slot,
        slots=step.slots,
        player=planned,
        until_s=until_s,
        called_s=cursor.down_ms / 1000.0,
        players=step.players,
        named=step.named,
    )
    reply = yield from _do(action)
    if reply is Jump.SKIP:
        return
    if isinstance(reply, OnTurn):
        cursor.player, cursor.left = reply.player, reply.left_handed
    elif planned is not None:
        cursor.player, cursor.left = planned, cursor.plan.group.players[planned].left_handed
    group = cursor.plan.group.players
    if cursor.player is not None:  # whoever came late is as the group is
        cursor.kind = group[cursor.player].kind if cursor.player < len(group) else 0
    cursor.since = cursor.sent.of[cursor.launcher] + 1
    for _ in range(step.passes):
        yield from _steps(cursor, step.body)


def _together(cursor: Cursor, step: Together) -> Actions:
    ended: dict[str, Cursor] = {}
    before = dict(cursor.sent.of)
    runs = tuple(
        StationRun(
            station.name,
            station.launcher,
            _station(cursor, station, before, ended),
            station.players,
        )
        for station in step.stations
    )
    until_ms = cursor.now_ms + milliseconds(step.for_s)
    start = StartStations(cursor.now_s, step.line, cursor.station, runs, until_ms / 1000.0)
    try:
        reply = yield from _do(start)
    finally:  # whoever was moved there stays moved, also where a person goes elsewhere
        for its in map(ended.get, (station.name for station in step.stations)):
            cursor.stands |= {} if its is None else its.moved
    if reply is Jump.SKIP:
        return
    if len(ended) != len(runs):
        raise RuntimeError("every station is run to its end before going on")
    cursor.now_ms = until_ms
    cursor.down_ms = max((its.down_ms for its in ended.values()), default=cursor.down_ms)


def _station(
    cursor: Cursor, station: Station, before: dict[int, int], ended: dict[str, Cursor]
) -> Actions:
    """One station's own run; ``ended`` takes where it stands then.

    It knows of balls and of steps up and down ``before`` the stations and of its own, not of those
    at the others: so whichever of them is a moment ahead, each does the same.
    """
    its = cursor_at(
        cursor.plan,
        cursor.sent,
        cursor.source,
        cursor.first_stands,
        station=station.name,
        launcher=station.counted,
        players=station.players,
        now_ms=cursor.now_ms,
        down_ms=cursor.down_ms,
    )
    its.stands |= cursor.stands
    its.before = before
    with suppress(LeaveLesson):
        yield from _until_all_sent(its, _each(its, station.body))
    ended[station.name] = its


_HANDLERS: dict[type, Callable[[Cursor, Any], Actions]] = {
    Send: _send,
    OnRequest: _on_request,
    ShowSpeed: _show_speed,
    Rest: _rest,
    Say: _say,
    Collect: _collect,
    Repeat: _repeat,
    Choose: _choose,
    Shuffle: _shuffle,
    Until: _until,
    When: _when,
    Move: _move,
    Turns: _turns,
    Together: _together,
    Exercise: _exercise,
}
