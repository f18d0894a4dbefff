"""Which courts are heard, here or at another server process, and which are not any more."""

from __future__ import annotations

import time
from collections.abc import Callable

import anyio
import anyio.to_thread
import msgspec

from feedscript.club.messages import UNHEARD_S, Alive, Court
from feedscript.club.server.hub import Hub
from feedscript.club.store import presence
from feedscript.club.store.presence import Seen
from feedscript.club.store.store import Store
from feedscript.diagnostics import FeedscriptError

#: How often it is looked for courts that fell silent, and how often processes tell each other, s.
LOOK_S = 0.25
SHARE_S = 0.5
#: The same where there is one process alone: only so that a new start knows when each was heard.
KEEP_S = 10.0


class _Heard(msgspec.Struct):
    """One court as it is known here."""

    name: str
    at_s: float | None  # by this process's clock
    utc_s: float
    said: Alive
    told: Court | None = None


class Presence:
    """From the event loop alone. ``now_s`` gives rising seconds, ``utc_s`` the time of day."""

    def __init__(
        self,
        store: Store,
        hub: Hub,
        now_s: Callable[[], float] = time.monotonic,
        utc_s: Callable[[], float] = time.time,
    ) -> None:
        self._store = store
        self._hub = hub
        self._now_s = now_s
        self._utc_s = utc_s
        self._courts: dict[str, _Heard] = {}
        self._to_share: dict[str, tuple[float, Alive]] = {}

    def courts(self) -> list[Court]:
        """Every court as it is now, by name."""
        return [one.told for one in self._courts.values() if one.told is not None]

    def heard(self, host: str, said: Alive) -> None:
        """A court gave a sign of life here."""
        self._to_share[host] = (self._now_s(), said)
        one = self._courts.get(host)
        if one is not None:  # else it has just joined: the next look into the store names it
            one.at_s, one.utc_s, one.said = self._now_s(), self._utc_s(), said
            self._tell(host, one)

    async def run(self) -> None:
        """Go on looking, and telling the other processes."""
        async with anyio.create_task_group() as group:
            group.start_soon(self._look_again)
            group.start_soon(self._share_again)

    async def _look_again(self) -> None:
        while True:
            self.look()
            await anyio.sleep(LOOK_S)

    async def _share_again(self) -> None:
        kept_s = self._now_s()
        while True:
            try:
                if self._store.of_several or self._now_s() - kept_s >= KEEP_S:
                    kept_s = self._now_s()
                    await anyio.to_thread.run_sync(presence.write, self._store, self._shared())
                self.learn(await anyio.to_thread.run_sync(presence.read, self._store))
            except FeedscriptError:
                pass  # what is heard here is known without the store
            await anyio.sleep(SHARE_S)

    def _shared(self) -> dict[str, tuple[float, Alive]]:
        now, shared = self._now_s(), self._to_share
        self._to_share = {}
        return {host: (now - at_s, said) for host, (at_s, said) in shared.items()}

    def learn(self, seen: list[Seen]) -> None:
        """What all processes together know; the later word holds."""
        self._courts = {one.host: self._with(one) for one in seen}
        self.look()

    def _with(self, seen: Seen) -> _Heard:
        at_s = None if seen.age_s is None else self._now_s() - seen.age_s
        known = self._courts.get(seen.host)
        if known is None:
            return _Heard(seen.name, at_s, seen.heard_utc_s, seen.said)
        if at_s is not None and at_s > (known.at_s or float("-inf")) + SHARE_S:
            known.at_s, known.utc_s, known.said = at_s, seen.heard_utc_s, seen.said
        return known

    def look(self) -> None:
        """Tell of every court whose state is another than was told."""
        for host, one in self._courts.items():
            self._tell(host, one)

    def _tell(self, host: str, one: _Heard) -> None:
        heard = one.at_s is not None and self._now_s() - one.at_s <= UNHEARD_S
        court = Court(
            host=host,
            name=one.name,
            heard=heard,
            since_utc_s=one.utc_s,
            lesson=one.said.lesson,
            waiting=one.said.waiting,
        )
        if one.told is None or _differs(court, one.told):
            self._hub.tell(court)
            one.told = court


def _differs(one: Court, other: Court) -> bool:
    """Otherwise than by the time alone, which goes on by itself while a court is heard."""
    since = other.since_utc_s if one.heard and other.heard else one.since_utc_s
    return msgspec.structs.replace(one, since_utc_s=since) != other
