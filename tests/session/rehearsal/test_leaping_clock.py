"""The clock of a rehearsal: it leaps to what is due, and only when nobody has anything to do."""

from __future__ import annotations

import random
import threading
from collections.abc import Awaitable, Callable

import trio
import trio.abc
import trio.testing

from feedscript.session.rehearsal.leaping_clock import LeapingClock

HOUR_S = 3600.0


def run(function: Callable[[], Awaitable[None]]) -> None:
    trio.run(function, clock=LeapingClock())


def test_who_waits_is_woken_at_the_very_moment() -> None:
    seen: list[float] = []

    async def wait() -> None:
        for moment_s in (0.1, 0.3, HOUR_S):
            await trio.sleep_until(moment_s)
            seen.append(trio.current_time())

    run(wait)
    assert seen == [0.1, 0.3, HOUR_S]


def test_it_stands_still_while_anybody_has_something_to_do() -> None:
    seen: list[float] = []

    async def work() -> None:
        for _ in range(100):
            await trio.lowlevel.checkpoint()
        seen.append(trio.current_time())

    async def both() -> None:
        async with trio.open_nursery() as nursery:
            nursery.start_soon(trio.sleep, HOUR_S)
            nursery.start_soon(work)

    run(both)
    assert seen == [0.0]


def test_what_is_overdue_does_not_turn_it_back() -> None:
    seen: list[float] = []

    async def late() -> None:
        await trio.sleep_until(5.0)
        with trio.move_on_at(9.0) as scope:
            scope.deadline = 2.0
            await trio.sleep_forever()
        seen.append(trio.current_time())

    run(late)
    assert seen == [5.0]


def test_somebody_outside_wakes_who_waits_without_a_deadline() -> None:
    async def ask() -> None:
        told, token = trio.Event(), trio.lowlevel.current_trio_token()
        outside = threading.Thread(target=token.run_sync_soon, args=(told.set,))
        outside.start()
        await told.wait()
        outside.join()

    run(ask)


def test_everybody_is_woken_as_by_the_clock_of_trio_itself() -> None:
    def woken(clock: trio.abc.Clock) -> list[tuple[float, int]]:
        seen: list[tuple[float, int]] = []

        async def sleeper(number: int) -> None:
            dice = random.Random(number)
            for _ in range(20):
                await trio.sleep(dice.randrange(1, 64) / 8)
                seen.append((trio.current_time(), number))

        async def everybody() -> None:
            async with trio.open_nursery() as nursery:
                for number in range(10):
                    nursery.start_soon(sleeper, number)

        trio.run(everybody, clock=clock)
        return sorted(seen)

    theirs = woken(trio.testing.MockClock(autojump_threshold=0))
    assert woken(LeapingClock()) == theirs
    assert len(theirs) == 200
