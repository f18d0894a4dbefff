"""Acts that take their time, beside the page's own thread; whoever ends the page waits for none."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from contextlib import suppress
from typing import TypeVar

T = TypeVar("T")


async def apart(act: Callable[[], T]) -> T:
    """What the act gives or raises. It goes on by itself where nobody waits for it any more, and
    does not hold up the program's end."""
    loop = asyncio.get_running_loop()
    given: asyncio.Future[T] = loop.create_future()

    def give(value: T | None, trouble: BaseException | None) -> None:
        if given.done():
            return  # nobody waits
        if trouble is None:
            given.set_result(value)  # type: ignore[arg-type]
        else:
            given.set_exception(trouble)

    def run() -> None:
        value, trouble = None, None
        try:
            value = act()
        except BaseException as raised:  # noqa: BLE001 (it goes to whoever waits)
            trouble = raised
        with suppress(RuntimeError):  # the page has ended
            loop.call_soon_threadsafe(give, value, trouble)

    threading.Thread(target=run, daemon=True).start()
    return await given
