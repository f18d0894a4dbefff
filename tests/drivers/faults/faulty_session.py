"""Whole sessions over a faulty line, drawn from a seed: 50 feeds and everything that can happen."""

from __future__ import annotations

import random

import anyio
from feedscript_simulator.faults import LineFaults

from feedscript.launcher.port import StopCategory
from tests.drivers.faults.faulty_world import World, violations, world
from tests.virtual_time import in_virtual_time

FEEDS = 50
_MOST_ACTS = 60

#: What may happen between two series of feeds. A careful host recovers after each.
ACTS = (
    "hold",
    "stop",
    "stop",
    "disarm",
    "emergency-by-wire",
    "emergency-by-hand",
    "switch-off",
    "power-cut",
    "killed",
    "killed-with-feeds-queued",
    "killed-with-a-feed-held-up",
    "killed-with-a-feed-held-up",
    "deaf-out",
    "deaf-back",
    "new-session",
    "replay",
    "replay",
    "nothing",
)


def draw_faults(chance: random.Random) -> LineFaults:
    """From a good line to a wretched one."""
    level = chance.choice((0.0, 0.005, 0.01, 0.02, 0.03))
    late_by_s = chance.choice((0.05, 0.3, 3.0))
    return LineFaults(
        lost=level * chance.random(),
        doubled=level * chance.random(),
        corrupted=level * chance.random(),
        late=level * chance.random() * (0.05 if late_by_s > 1 else 1.0),
        reordered=level * chance.random(),
        split=4 * level * chance.random(),
        merged=level * chance.random(),
        least_delay_s=chance.choice((0.0, 0.002, 0.03)),
        late_by_s=late_by_s,
    )


async def act(w: World, what: str) -> None:
    """One thing that happens, and what the host then does."""
    if w.launcher is None and not await w.recover():
        return
    match what:
        case "hold":
            await w.hold()
        case "stop":
            await w.stop()
        case "disarm":
            await w.disarm()
        case "emergency-by-wire":
            await w.stop(StopCategory.POWER_OFF)
            w.far.reset_emergency()
        case "emergency-by-hand":
            await w.feed_and(6, w.far.press_emergency)
            w.far.reset_emergency()
        case "switch-off":
            await w.feed_and(6, w.far.switch_off)
        case "power-cut":
            await w.feed_and(6, w.far.power_cut)
            await anyio.sleep(w.chance.uniform(0.0, 2.0))
            await w.recover()
        case "killed":
            await w.die()
            await w.recover()
        case "killed-with-feeds-queued":
            await w.feed_and(6, lambda: None)
            await w.die()
            await w.recover()
        case "killed-with-a-feed-held-up":
            await w.die_with_a_feed_held_up()
        case "deaf-out" | "deaf-back":
            await w.feed_and(6, lambda: None)
            await w.die(out=what == "deaf-out", back=what == "deaf-back")
            await w.recover()
        case "new-session":
            await w.recover()
            await w.finish_session()
        case "replay":
            w.far.replay(3)


async def finish(w: World) -> None:
    """The last word: everything that is open is asked about, over a line that works."""
    await w.leave()
    w.far.fix_line()
    await anyio.sleep(4.0)
    assert await w.recover(), w.last_error
    await anyio.sleep(0.5)
    await w.leave()


async def _session(seed: int) -> World:
    chance = random.Random(f"session {seed}")
    keyed = chance.random() < 0.4
    async with world(
        seed,
        draw_faults(chance),
        keyed=keyed,
        replays=keyed,
        clock_ppm=chance.choice((0.0, 40.0, -80.0)),
    ) as w:
        await w.recover()
        for _ in range(_MOST_ACTS):
            if len(w.far.truth) >= FEEDS:
                break
            if w.launcher is None and not await w.recover():
                continue
            await w.feed(chance.randrange(1, 14), ahead=chance.choice((1, 2, 3)))
            await act(w, chance.choice(ACTS))
        await finish(w)
    return w


def run_session(seed: int) -> tuple[World, list[str]]:
    """One session on the virtual clock, and how it broke the invariants."""
    w = in_virtual_time(_session, seed)
    return w, violations(w)
