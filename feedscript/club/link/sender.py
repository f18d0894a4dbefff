"""Sending what waits, in order, until the club has it, whatever is lost or late on the way."""

from __future__ import annotations

from collections.abc import Callable

from feedscript.club.batch import Batch
from feedscript.club.link.door import Door, NotHeardError, NotTakenError
from feedscript.club.link.outbox import Outbox
from feedscript.tongues.text import _

#: What the club says of things that one of several lessons in a batch may be to blame for.
_OF_A_LESSON = (409, 413, 422)


class Sender:
    """Brings an outbox to the door. ``keep`` is told what the club has, whenever that grows."""

    def __init__(self, door: Door, outbox: Outbox, keep: Callable[[dict[str, int]], None]) -> None:
        self._door = door
        self._outbox = outbox
        self._keep = keep
        self._asked = False
        self._one_by_one = False

    async def send_what_waits(self) -> None:
        """All of it. Raises NotHeardError (try again later) and NotTakenError (for good)."""
        try:
            if not self._asked:  # its answer to what was sent last may have been lost
                await self.ask()
            while self._outbox.look():
                batch = self._outbox.next_batch(1 if self._one_by_one else 100)
                if batch is None:
                    break
                await self._send(batch)
            self._one_by_one = False
        except NotHeardError:
            self._asked = False
            raise

    async def ask(self) -> None:
        """What the club holds; before anything is sent."""
        self._outbox.know(await self._door.held())
        self._asked = True
        self._keep(dict(self._outbox.held))

    async def _send(self, batch: Batch) -> None:
        try:
            held = await self._door.send(batch)
        except NotTakenError as refused:
            if refused.status not in _OF_A_LESSON:
                raise
            await self._look_again(batch, refused)
            return
        for part in batch.parts:
            if held.get(part.lesson, 0) < part.events[-1].number:
                raise NotHeardError(_("what answers there is no club's server"))
        self._outbox.acknowledge(held)
        self._keep(dict(self._outbox.held))

    async def _look_again(self, batch: Batch, refused: NotTakenError) -> None:
        """It may have more, or less, than was thought; else it is the fault of one lesson."""
        before = dict(self._outbox.held)
        await self.ask()
        names = [part.lesson for part in batch.parts]
        if any(before.get(name) != self._outbox.held.get(name) for name in names):
            return
        if len(names) == 1:
            self._outbox.set_aside(names[0], refused.diagnostic)
        self._one_by_one = True
