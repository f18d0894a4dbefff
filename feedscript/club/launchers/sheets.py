"""What all courts' lessons say of the club's launchers. One is known by the serial number and name
of its profile."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from enum import StrEnum
from threading import Lock

import msgspec
import numpy as np

from feedscript.club.batch import Event, Header
from feedscript.club.launchers import chance
from feedscript.club.store import log
from feedscript.club.store.store import Store
from feedscript.launcher.port import Outcome
from feedscript.launcher.profile.model import Calibration, Profile, profile_hash
from feedscript.plan.model import Ellipse, Plan
from feedscript.session.state.events import (
    GREETING,
    BallSettled,
    FeedMarked,
    FeedRequested,
    LauncherReported,
)

WEEK_S = 7 * 86400.0
#: What is looked back over, and what counts as lately, weeks. Design values.
WEEKS, LATELY = 12, 2
#: Fewer landings say nothing of a launcher; after so many balls without any, some should be
#: measured. Design values.
FEWEST_LANDINGS = 8
UNMEASURED_BALLS = 2_000
#: The kinds of events that are read.
KINDS = ("feed", "outcome", "feed-landing", "event")


class Advice(StrEnum):
    """What to do next at a launcher."""

    TUNE = "tune"  # its landings have moved from where they were aimed
    LOOK_WORN = "look-worn"  # its landings scatter more widely than its profile says
    MEND = "mend"  # more faults, or balls that did not leave, than before
    ONE_PROFILE = "one-profile"  # courts run it with different profiles
    MEASURE = "measure"  # nobody has measured where its balls land for long


class Landing(msgspec.Struct, frozen=True):
    """One fed ball's bounce less its aim, in standard deviations of the planned scatter along the
    two axes of its ellipse, and in metres along x and y."""

    sigmas: tuple[float, float]
    off_m: tuple[float, float]


class Played(msgspec.Struct, frozen=True, kw_only=True):
    """What one lesson says of one of its launchers."""

    serial: str
    name: str
    court: str
    begun_utc_s: float
    profile_hash: str
    calibration: Calibration
    asked: int
    left: int
    unknown: int
    faults: dict[str, int]
    landings: tuple[Landing, ...]
    firmware: str = ""  # as it said at the greeting; "" where it did not

    @property
    def bad(self) -> int:
        """Faults, and balls of which nobody knows whether they left."""
        return self.unknown + sum(self.faults.values())


class Week(msgspec.Struct, frozen=True, kw_only=True):
    """A launcher's week. ``off_m`` is the median landing less the aim, and ``spread`` how widely
    they scatter (:func:`feedscript.club.launchers.chance.spread`), where enough were measured."""

    begins_utc_s: float
    balls: int
    bad: int
    landings: int
    off_m: tuple[float, float] | None
    spread: float | None = None


class Tuned(msgspec.Struct, frozen=True, kw_only=True):
    """A profile of the launcher, and from when to when it was run with it."""

    profile_hash: str
    calibration: Calibration
    first_utc_s: float
    last_utc_s: float


class Sheet(msgspec.Struct, frozen=True, kw_only=True):
    """One launcher of the club."""

    serial: str
    name: str
    court: str  # where it was run last
    last_utc_s: float
    lessons: int
    balls: int
    faults: dict[str, int]
    firmware: str
    tuned: tuple[Tuned, ...]
    weeks: tuple[Week, ...]
    advice: tuple[Advice, ...]


def played(court: str, header: Header, events: Sequence[Event]) -> tuple[Played, ...]:
    """What a lesson says of each of its launchers; nothing for a rehearsal. Raises
    msgspec.ValidationError for a lesson that is not written as one is."""
    if header.rehearsal:
        return ()
    plan = msgspec.json.decode(header.plan, type=Plan)
    profiles = msgspec.json.decode(header.profiles, type=list[Profile])
    read = _Read(plan, events)
    return tuple(
        Played(
            serial=profile.serial,
            name=profile.name,
            court=court,
            begun_utc_s=header.begun_utc_s,
            profile_hash=profile_hash(profile),
            calibration=profile.calibration,
            asked=sum(one.launcher == index for one in read.asked.values()),
            left=read.count(index, Outcome.LEFT),
            unknown=read.count(index, Outcome.UNKNOWN),
            faults=dict(read.faults(index)),
            landings=tuple(read.landings(index)),
            firmware=read.firmware(index),
        )
        for index, profile in enumerate(profiles)
    )


class _Read:
    """A lesson's events of balls, by their numbers; of a newer mark the older counts no more."""

    def __init__(self, plan: Plan, events: Sequence[Event]) -> None:
        self._plan = plan
        self.asked: dict[int, FeedRequested] = {}
        self._settled: dict[int, Outcome] = {}
        self._marked: dict[int, tuple[float, float] | None] = {}
        self._reported: list[LauncherReported] = []
        for event in events:
            self._take(event)

    def _take(self, event: Event) -> None:
        match event.kind:
            case "feed":
                ball = msgspec.json.decode(event.data, type=FeedRequested)
                self.asked[ball.feed_id] = ball
            case "outcome":
                end = msgspec.json.decode(event.data, type=BallSettled)
                self._settled[end.feed_id] = end.outcome
            case "feed-landing":
                mark = msgspec.json.decode(event.data, type=FeedMarked)
                self._marked[mark.feed_id] = mark.landing_m
            case "event":
                self._reported.append(msgspec.json.decode(event.data, type=LauncherReported))

    def count(self, launcher: int, outcome: Outcome) -> int:
        return sum(
            found is outcome and feed_id in self.asked and self._of(feed_id) == launcher
            for feed_id, found in self._settled.items()
        )

    def _of(self, feed_id: int) -> int:
        return self.asked[feed_id].launcher

    def faults(self, launcher: int) -> Counter[str]:
        return Counter(
            str(one.said.get("kind", "fault"))
            for one in self._reported
            if one.launcher == launcher and one.event == "fault"
        )

    def firmware(self, launcher: int) -> str:
        """As it was told last."""
        told = [
            str(one.said.get("firmware", ""))
            for one in self._reported
            if one.launcher == launcher and one.event == GREETING
        ]
        return told[-1][:40] if told else ""

    def landings(self, launcher: int) -> Iterator[Landing]:
        for feed_id, landing_m in self._marked.items():
            ball = self.asked.get(feed_id)
            if ball is None or ball.launcher != launcher or landing_m is None:
                continue
            if ball.feed_index < len(self._plan.feeds):
                feed = self._plan.feeds[ball.feed_index]
                yield _landing(landing_m, feed.landing_m, feed.scatter)


def _landing(
    landing_m: tuple[float, float], aim_m: tuple[float, float], scatter: Ellipse
) -> Landing:
    x_m, y_m = landing_m[0] - aim_m[0], landing_m[1] - aim_m[1]
    turn = math.radians(scatter.turn_deg)
    along = x_m * math.cos(turn) + y_m * math.sin(turn)
    across = y_m * math.cos(turn) - x_m * math.sin(turn)
    sigmas = (along / max(scatter.major_m, 0.01), across / max(scatter.minor_m, 0.01))
    return Landing(sigmas, (x_m, y_m))


def sheets(lessons: Iterable[Played], now_utc_s: float) -> tuple[Sheet, ...]:
    """Each launcher, by name and serial, from all lessons of the last :data:`WEEKS` weeks."""
    of: dict[tuple[str, str], list[Played]] = {}
    for one in sorted(lessons, key=lambda one: one.begun_utc_s):
        if now_utc_s - one.begun_utc_s <= WEEKS * WEEK_S:
            of.setdefault((one.name, one.serial), []).append(one)
    return tuple(_sheet(found, now_utc_s) for _, found in sorted(of.items()))


def _sheet(lessons: list[Played], now_utc_s: float) -> Sheet:
    last = lessons[-1]
    faults: Counter[str] = Counter()
    for one in lessons:
        faults.update(one.faults)
    return Sheet(
        serial=last.serial,
        name=last.name,
        court=last.court,
        last_utc_s=last.begun_utc_s,
        lessons=len(lessons),
        balls=sum(one.left for one in lessons),
        faults=dict(faults),
        firmware=next((one.firmware for one in reversed(lessons) if one.firmware), ""),
        tuned=_tuned(lessons),
        weeks=tuple(_weeks(lessons, now_utc_s)),
        advice=tuple(_advice(lessons, now_utc_s)),
    )


def _tuned(lessons: list[Played]) -> tuple[Tuned, ...]:
    found: dict[str, Tuned] = {}
    for one in lessons:
        known = found.get(one.profile_hash)
        found[one.profile_hash] = Tuned(
            profile_hash=one.profile_hash,
            calibration=one.calibration,
            first_utc_s=known.first_utc_s if known else one.begun_utc_s,
            last_utc_s=one.begun_utc_s,
        )
    return tuple(found.values())


def _weeks(lessons: list[Played], now_utc_s: float) -> Iterator[Week]:
    """The oldest first, those without a lesson too, from the first one with one."""
    ago = [int((now_utc_s - one.begun_utc_s) // WEEK_S) for one in lessons]
    for week in range(max(ago), -1, -1):
        its = [one for one, when in zip(lessons, ago, strict=True) if when == week]
        landings = [landing for one in its for landing in one.landings]
        off_m = np.array([landing.off_m for landing in landings])
        median = np.median(off_m, axis=0) if landings else None
        yield Week(
            begins_utc_s=now_utc_s - (week + 1) * WEEK_S,
            balls=sum(one.left for one in its),
            bad=sum(one.bad for one in its),
            landings=len(landings),
            off_m=None if median is None else (float(median[0]), float(median[1])),
            spread=chance.spread([landing.sigmas for landing in landings]),
        )


def _advice(lessons: list[Played], now_utc_s: float) -> Iterator[Advice]:
    lately = [one for one in lessons if now_utc_s - one.begun_utc_s <= LATELY * WEEK_S]
    before = [one for one in lessons if now_utc_s - one.begun_utc_s > LATELY * WEEK_S]
    of_now = [one for one in lessons if one.profile_hash == lessons[-1].profile_hash]
    landings = [landing.sigmas for one in of_now for landing in one.landings]
    if chance.worse(_balls(before), _bad(before), _balls(lately), _bad(lately)):
        yield Advice.MEND
    if len({one.profile_hash for one in _last_of_each_court(lately)}) > 1:
        yield Advice.ONE_PROFILE
    if len(landings) >= FEWEST_LANDINGS:
        if chance.moved(landings):
            yield Advice.TUNE
        if chance.wider(landings):
            yield Advice.LOOK_WORN
    elif _balls(of_now) >= UNMEASURED_BALLS:
        yield Advice.MEASURE


def _balls(lessons: list[Played]) -> int:
    return sum(one.asked for one in lessons)


def _bad(lessons: list[Played]) -> int:
    return sum(one.bad for one in lessons)


def _last_of_each_court(lessons: list[Played]) -> Iterable[Played]:
    return {one.court: one for one in lessons}.values()


class Launchers:
    """The sheets of a store's launchers; a lesson is read again only when more is held of it."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._lock = Lock()
        self._known: dict[tuple[str, str], tuple[int, tuple[Played, ...]]] = {}

    def sheets(self, now_utc_s: float) -> tuple[Sheet, ...]:
        """From any thread. Raises FeedscriptError as the store does."""
        with self._lock:
            return self._sheets(now_utc_s)

    def _sheets(self, now_utc_s: float) -> tuple[Sheet, ...]:
        known = {}
        for one in log.lessons_since(self._store, now_utc_s - WEEKS * WEEK_S):
            key = (one.host, one.lesson)
            before = self._known.get(key)
            known[key] = before if before and before[0] == one.held else (one.held, self._read(one))
        self._known = known
        return sheets((each for _, found in known.values() for each in found), now_utc_s)

    def _read(self, one: log.Lesson) -> tuple[Played, ...]:
        header = log.head_of(self._store, one.host, one.lesson)
        events = log.of_lesson(self._store, one.host, one.lesson, kinds=KINDS)
        try:
            return () if header is None else played(one.host_name, header, events)
        except msgspec.MsgspecError:
            return ()  # of a newer version than this server, or of none
