"""One lesson as each of those has it that know something of it: plan, rehearsal, journal, capture,
measured landings."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from feedscript.bench.record import Ball, Record
from feedscript.diagnostics import Diagnostic, FeedscriptError, Page
from feedscript.journal.films import landings_seen
from feedscript.journal.queries import balls_of, session_of
from feedscript.journal.store import Journal, open_journal
from feedscript.journal.stored import BallRow
from feedscript.launcher.port import LauncherError, Outcome
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.setting import Setting
from feedscript.launcher.tools import tool
from feedscript.launcher.tuning.shots import Shots
from feedscript.plan.interpreter.actions import Action, Ask, PickUp, Reply, SendBall, WatchSpeed
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import AimedFeed, Plan
from feedscript.session.rehearsal.rehearse import rehearse
from feedscript.session.rehearsal.said import said_in

NOT_WRITTEN = Page(
    slug="course-not-written",
    title="The program alone does not say which balls leave",
    why=(
        "What comes next hangs in this program on what people do: how shots ended, when somebody "
        "asks for a ball, on which rung a player stands. A comparison ball by ball needs a course "
        "that is known beforehand, or two records of it: the simulated one (`--against "
        "rehearsal`) has invented people, and lessons of the journal real ones."
    ),
)
NO_SUCH_RECORD = Page(
    slug="nothing-to-compare",
    title="There is no such record of the lesson",
    why="A comparison reads what was kept: a lesson by its number, a capture, measured landings.",
)


def planned(plan: Plan, source: str) -> Record:
    """The lesson as it is written. Raises FeedscriptError (``course-not-written``)."""
    if plan.progressions:
        why = "on which rung of a progression each player stands is not in it"
        raise FeedscriptError(_not_written(why, source))
    balls: list[Ball] = []
    before_s: dict[tuple[int, str], float] = {}
    for action in run_through(plan, lambda one: _reply(one, source)):
        if isinstance(action, PickUp):
            before_s.clear()
        if isinstance(action, SendBall | WatchSpeed):
            launcher, player = action.launcher, getattr(action, "player", None)
            at = (launcher, action.station)
            gap_s = action.at_s - before_s[at] if at in before_s else None
            name = None if player is None else plan.group.players[player].name
            balls.append(_asked(plan, plan.feeds[action.feed], name, gap_s))
            before_s[at] = action.at_s
        if isinstance(action, WatchSpeed):
            before_s.clear()  # somebody looks, for as long as it takes
    return Record(what=f"the plan of {source}", balls=tuple(balls))


def _asked(plan: Plan, feed: AimedFeed, player: str | None, gap_s: float | None) -> Ball:
    return Ball(
        launcher=feed.launcher,
        feed=feed.name,
        player=player,
        setting=feed.setting,
        gap_s=gap_s,
        # Over a sweep no ball has a place of its own.
        landing_m=feed.landing_m if plan.launchers[feed.launcher].sweep_deg is None else None,
        meant=True,
        scatter=feed.scatter,
        speed_mps=feed.speed_mps,
        flight_s=feed.flight_s,
    )


def _reply(action: Action, source: str) -> Reply:
    if isinstance(action, Ask):
        why = f"what comes at line {action.line} hangs on how players' shots ended"
        raise FeedscriptError(_not_written(why, source))
    if isinstance(action, SendBall) and action.request is not None:
        why = f"the ball at line {action.line} leaves when somebody asks for it"
        raise FeedscriptError(_not_written(why, source))
    return None


def _not_written(why: str, source: str) -> Diagnostic:
    return NOT_WRITTEN.report(
        why, device=source, help="compare records with each other: add --against rehearsal"
    )


def rehearsed(
    plan: Plan,
    profiles: Sequence[Profile],
    source: str,
    *,
    seed: int,
    faults: tuple[str, ...] = (),
    results: bool = False,
) -> Record:
    """The lesson as the simulated launcher plays it. Raises LauncherError (a fault by no known
    name) and FeedscriptError."""
    book = open_journal(None)
    try:
        done = rehearse(
            plan, profiles, source, seed=seed, faults=faults, results=results, journal=book
        )
        fell = {
            ball.feed_id: {"landing_m": ball.landing_m, "speed_mps": ball.speed_mps,
                           "flight_s": ball.flight_s}
            for ball in done.balls
        }  # fmt: skip
        return _journalled(book, 1, plan, f"the rehearsal of {source}, seed {seed}", fell)
    finally:
        book.close()


def journalled(journal: Journal, number: int) -> Record:
    """A lesson of the journal, with where films saw its balls land.

    Raises FeedscriptError (``nothing-to-compare``, and what the journal says).
    """
    head = session_of(journal, number)
    if head is None:
        raise FeedscriptError(
            NO_SUCH_RECORD.report(
                f"there is no lesson {number} in {journal.path}",
                help="`feedscript journal list` has their numbers",
            )
        )
    try:
        plan = msgspec.json.decode(head.plan, type=Plan)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as trouble:
        raise FeedscriptError(
            NO_SUCH_RECORD.report(
                f"the plan of lesson {number} cannot be read: {trouble}",
                device=journal.path,
                help="another version of feedscript wrote it: compare it with that one",
            )
        ) from trouble
    seen = {
        feed: {
            "landing_m": one.landing_m,
            "speed_mps": one.speed_mps,
            "flight_s": one.flight_s,
        }
        for feed, one in landings_seen(journal, number).items()
        if one.landing_m is not None and not one.refused
    }
    return _journalled(journal, number, plan, f"lesson {number} of {journal.path}", seen)


def _journalled(
    journal: Journal,
    number: int,
    plan: Plan,
    what: str,
    fell: Mapping[int, dict[str, Any]],
) -> Record:
    head = session_of(journal, number)
    rows = balls_of(journal, number)
    rows.sort(key=lambda row: row.left_utc_s or row.intent_utc_s)
    before: dict[int, BallRow] = {}
    balls = []
    feeds = dict(enumerate(plan.feeds))
    for row in rows:
        last, feed = before.get(row.launcher), feeds.get(row.feed_index)
        balls.append(_written(row, last, feed, fell.get(row.feed_id, {})))
        before[row.launcher] = row
    said = tuple(one.text for one in said_in(journal, number) if not one.phase)
    ending = None if head is None else head.ending
    return Record(what=what, balls=tuple(balls), said=said, ending=ending)


def _written(
    row: BallRow, last: BallRow | None, feed: AimedFeed | None, fell: dict[str, Any]
) -> Ball:
    gap_s = None
    if last is not None and last.left_utc_s is not None and row.left_utc_s is not None:
        gap_s = row.left_utc_s - last.left_utc_s
    return Ball(
        launcher=row.launcher,
        feed=row.feed if feed is None else feed.name,
        left=row.outcome is Outcome.LEFT,
        why=row.reason,
        player=row.player,
        setting=None if feed is None else feed.setting,
        gap_s=gap_s,
        scatter=None if feed is None else feed.scatter,
        **fell,
    )


#: What a driver tells of a capture: for each ball that was asked for in order its setting, and
#: when it left by the launcher's clock (None where it did not).
Captured = Sequence[tuple[Setting, float | None]]


def captured(paths: Sequence[Path], plan: Plan) -> Record:
    """What crossed the links, one capture a launcher. Raises LauncherError."""
    balls: list[Ball] = []
    for launcher, path in enumerate(paths):
        crossed: Captured = tool("captured")(path)
        before_s: float | None = None
        for setting, left_s in crossed:
            gap_s = left_s - before_s if left_s is not None and before_s is not None else None
            balls.append(
                Ball(
                    launcher=launcher,
                    feed=_named(plan, launcher, setting),
                    left=left_s is not None,
                    setting=setting,
                    gap_s=gap_s,
                )
            )
            before_s = left_s
    return Record(what=f"the capture {', '.join(map(str, paths))}", balls=tuple(balls))


#: As near as a setting on the wire is to one of the plan: drives by whole numbers, angles by
#: hundredths of a degree.
_DRIVE, _ANGLE_DEG = 0.51, 0.0051


def _named(plan: Plan, launcher: int, setting: Setting) -> str:
    """The plan's feed that is set so; "" where none is."""
    for feed in plan.feeds:
        if feed.launcher == launcher and _alike(feed.setting, setting):
            return feed.name
    return ""


def _alike(one: Setting, two: Setting) -> bool:
    pairs = zip(one.drives, two.drives, strict=False)
    angles = ("pan_deg", "tilt_deg", "roll_deg")
    return all(abs(a - b) <= _DRIVE for a, b in pairs) and all(
        abs(getattr(one, each) - getattr(two, each)) <= _ANGLE_DEG for each in angles
    )


def measured(shots: Shots, plan: Plan, source: str) -> Record:
    """Balls whose landings were measured, by tape or film: not every one of them perhaps.

    Raises LauncherError (``nothing-to-compare``) where the plan has several launchers.
    """
    if len(plan.launchers) != 1:
        raise LauncherError(
            NO_SUCH_RECORD.report(
                f"{source} does not say which of {len(plan.launchers)} launchers its balls are of",
                help="write them into the journal (`feedscript watch --into-journal`) and compare "
                "that lesson",
            )
        )
    balls = []
    for setting, (along, right, speed, flight) in zip(shots.settings, shots.seen, strict=True):
        name = _nearest(plan, setting)
        feed = next((one for one in plan.feeds if one.name == name), None)
        balls.append(
            Ball(
                launcher=0,
                feed=name,
                setting=setting,
                landing_m=_on_court(plan, along, right),
                scatter=None if feed is None else feed.scatter,
                speed_mps=None if np.isnan(speed) else float(speed),
                flight_s=None if np.isnan(flight) else float(flight),
            )
        )
    return Record(what=f"the landings of {source}", balls=tuple(balls), whole=False)


def _nearest(plan: Plan, setting: Setting) -> str:
    """Settings in such files are rounded by whoever wrote them: the nearest feed within a turn of
    the wheels and a tenth of a degree."""
    found = [one for one in plan.feeds if _off(one.setting, setting) <= 1.0]
    return min(found, key=lambda one: _off(one.setting, setting)).name if found else ""


def _off(one: Setting, two: Setting) -> float:
    angles = ("pan_deg", "tilt_deg", "roll_deg")
    off = [abs(a - b) for a, b in zip(one.drives, two.drives, strict=False)]
    off += [10.0 * abs(getattr(one, each) - getattr(two, each)) for each in angles]
    return float(max(off))


def _on_court(plan: Plan, along_m: float, right_m: float) -> tuple[float, float] | None:
    if math.isnan(along_m) or math.isnan(right_m):
        return None
    placed = plan.launchers[0]
    turn = math.radians(placed.heading_deg)
    x = placed.mouth_m[0] + along_m * math.sin(turn) + right_m * math.cos(turn)
    y = placed.mouth_m[1] + along_m * math.cos(turn) - right_m * math.sin(turn)
    return x, y
