"""All courts as they are now, kept from the server's news; from its event loop alone."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

import anyio
import anyio.to_thread
import msgspec

from feedscript.club.messages import Court, Happened, News, StopState, StopTold
from feedscript.club.overview.card import CourtCard, card_of, not_confirmed
from feedscript.club.overview.followed import Followed, begin, follow
from feedscript.club.server.club import Club
from feedscript.club.store.lessons import read_lesson
from feedscript.club.store.store import Store
from feedscript.diagnostics import FeedscriptError
from feedscript.tongues.text import _

#: A STOP stands on its court's card for so long after its last word, s; longer where nobody
#: confirmed it. Design values.
SHOWN_S, LOST_SHOWN_S = 20.0, 300.0
#: How often it is looked whether one has stood long enough, s.
LOOK_S = 1.0
#: A store that cannot be read is asked again after so long, s.
AGAIN_S = 1.0

_UNREAD = _("This lesson is of another version of feedscript: it cannot be shown here.")


class _Stop(msgspec.Struct):
    """The last STOP of a court, when it came to be known here, and when it was last heard of."""

    told: StopTold
    asked_s: float
    at_s: float

    def over(self, now_s: float) -> bool:
        if self.told.state in (StopState.ASKED, StopState.HEARD):
            return False
        lost = self.told.state is StopState.LOST or not_confirmed(self.told)
        return now_s - self.at_s > (LOST_SHOWN_S if lost else SHOWN_S)


class _Kept(msgspec.Struct):
    """One court."""

    court: Court
    lesson: Followed | None = None
    unread: bool = False
    stop: _Stop | None = None
    revision: int = 0


class Board:
    """Follows one server process's news. ``utc_s`` is the time of day."""

    def __init__(self, club: Club, utc_s: Callable[[], float] = time.time) -> None:
        self._club = club
        self._utc_s = utc_s
        self._courts: dict[str, _Kept] = {}
        self._revision = 0
        self._changed = anyio.Event()

    # -- for pages ------------------------------------------------------------------------

    @property
    def changed(self) -> anyio.Event:
        """Set at the next change."""
        return self._changed

    @property
    def hosts(self) -> list[str]:
        """Every court, by its name: each keeps its place."""
        courts = (kept.court for kept in self._courts.values())
        return [one.host for one in sorted(courts, key=lambda one: (_natural(one.name), one.host))]

    def newer(self, seen: dict[str, int]) -> Iterator[tuple[int, CourtCard]]:
        """The courts that have changed since these revisions, in their places."""
        for host in self.hosts:
            kept = self._courts[host]
            if kept.revision != seen.get(host):
                yield kept.revision, self._card(kept)

    def _card(self, kept: _Kept) -> CourtCard:
        now_s = self._utc_s()
        stop = None if kept.stop is None else kept.stop.told
        unread = _UNREAD if kept.unread else ""
        claims = stop is not None and stop.state is StopState.STOPPED and not not_confirmed(stop)
        if stop is not None and claims and not _is_seen(kept):
            stop = msgspec.structs.replace(stop, state=StopState.HEARD)
        return card_of(kept.court, kept.lesson, stop, now_s, unread)

    # -- following ------------------------------------------------------------------------

    async def run(self) -> None:
        """For ever; whenever the news were too many, everything is looked at anew."""
        async with anyio.create_task_group() as group:
            group.start_soon(self._look_at_stops)
            while True:
                with self._club.hub.news() as news:
                    known: list[News] = [*self._club.presence.courts()]
                    for told in [*known, *self._club.stopping.told()]:
                        await self._take(told)
                    async for told in news:
                        await self._take(told)

    async def _take(self, told: News) -> None:
        match told:
            case Court():
                await self._court(told)
            case StopTold():
                self._stop(told)
            case Happened():
                await self._happened(told)

    async def _court(self, court: Court) -> None:
        kept = self._courts.setdefault(court.host, _Kept(court))
        another = kept.court.lesson != court.lesson or (kept.lesson is None and not kept.unread)
        kept.court = court
        if another:
            await self._load(kept)
        self._touch(kept)

    def _stop(self, told: StopTold) -> None:
        kept = self._courts.get(told.host)
        if kept is not None:
            now_s = self._utc_s()
            same = kept.stop is not None and kept.stop.told.order == told.order
            asked_s = kept.stop.asked_s if same and kept.stop is not None else now_s
            kept.stop = _Stop(told, asked_s, now_s)
            self._touch(kept)

    async def _happened(self, told: Happened) -> None:
        kept = self._courts.get(told.host)
        if kept is None or kept.court.lesson != told.lesson or kept.unread:
            return
        if kept.lesson is not None:
            kept.lesson = follow(kept.lesson, told.events, self._utc_s())
        if kept.lesson is None:
            await self._load(kept)
        self._touch(kept)

    async def _load(self, kept: _Kept) -> None:
        """Its lesson from the beginning, as the log has it."""
        kept.lesson, kept.unread = None, False
        if kept.court.lesson is None:
            return
        where = (self._club.store, kept.court.host, kept.court.lesson)
        while True:
            try:
                kept.lesson, kept.unread = await anyio.to_thread.run_sync(_whole, *where)
                return
            except FeedscriptError:
                await anyio.sleep(AGAIN_S)

    async def _look_at_stops(self) -> None:
        while True:
            await anyio.sleep(LOOK_S)
            for kept in self._courts.values():
                if kept.stop is not None and kept.stop.over(self._utc_s()):
                    kept.stop = None
                    self._touch(kept)

    def _touch(self, kept: _Kept) -> None:
        self._revision += 1
        kept.revision = self._revision
        changed, self._changed = self._changed, anyio.Event()
        changed.set()


def _is_seen(kept: _Kept) -> bool:
    """Whether the launchers' own events say it too: until they have come, nothing is claimed."""
    if kept.lesson is None or kept.stop is None:
        return True
    return kept.lesson.stop_received_s >= kept.stop.asked_s and not kept.lesson.stopping


def _whole(store: Store, host: str, lesson: str) -> tuple[Followed | None, bool]:
    """The lesson, and whether it is there and cannot be read."""
    found = read_lesson(store, host, lesson)
    if found is None:
        return None, False
    begun = begin(found.header)
    whole = None if begun is None else follow(begun, found.events, found.received_utc_s)
    return whole, whole is None


def _natural(name: str) -> tuple[tuple[int, int | str], ...]:
    """Court 2 comes before court 10."""
    parts: list[str] = []
    for letter in name.casefold():
        if parts and parts[-1][-1].isdecimal() == letter.isdecimal():
            parts[-1] += letter
        else:
            parts.append(letter)
    return tuple((0, int(part)) if part.isdecimal() else (1, part) for part in parts)
