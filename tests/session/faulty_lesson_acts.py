"""Whole lessons over bad lines, drawn from a seed: at least 50 feeds and all that can happen."""

from __future__ import annotations

import random
from pathlib import Path

import anyio

from feedscript.session.operator.commands import SimpleCommand
from feedscript.session.operator.phases import Act, Phase
from tests.drivers.faults.faulty_session import draw_faults
from tests.drivers.faults.witness import Witness
from tests.session.faulty_lesson import LessonWorld, faster, lesson_world
from tests.session.lesson_invariants import violations
from tests.virtual_time import in_virtual_time

FEEDS = 50
_MOST_ACTS = 60
_SPOILT = 1.08

#: What the coach may say in the middle of a lesson.
SAID = {
    "hold": Act.HOLD,
    "stop": Act.STOP,
    "emergency-stop": Act.EMERGENCY_STOP,
    "next": Act.NEXT,
    "again": Act.AGAIN,
    "slower": Act.SLOWER,
    "faster": Act.FASTER,
    "quit": Act.QUIT,
}
#: What may happen between two stretches of a lesson.
ACTS = (
    *("hold", "stop", "stop", "emergency-stop", "again", "again", "slower", "faster", "quit"),
    "next",
    "emergency-by-hand",
    "switch-off",
    "power-cut",
    "killed",
    "killed",
    "killed-as-it-asks",
    "killed-as-it-asks",
    "killed-with-a-feed-held-up",
    "killed-with-a-feed-held-up",
    "deaf-out",
    "deaf-back",
    "cut",
    "journal-spoilt",
    "replay",
    "replay",
    "nothing",
)


async def act(w: LessonWorld, what: str) -> None:
    """One thing that happens. Whatever ended, the next host goes on."""
    if not w.alive:
        await w.begin_life()
    assert w.host is not None
    far = w.chance.choice(w.far)
    if what in SAID:
        if w.host.engine is not None:
            await w.host.engine.command(SimpleCommand(act=SAID[what]), by="coach")
        return
    match what:
        case "emergency-by-hand":
            far.press_emergency()
        case "switch-off":
            far.switch_off()
        case "power-cut":
            far.power_cut()
        case "killed":
            w.kill()
        case "killed-as-it-asks":
            await _asked(w, stalled=False)
            await w.pass_time(w.chance.choice((0.0, w.chance.uniform(0.0, 0.3))))
            if w.alive:
                w.kill()
        case "killed-with-a-feed-held-up":
            await _killed_with_a_feed_held_up(w)
        case "deaf-out" | "deaf-back" | "cut":
            _dies(w, far, what)
        case "journal-spoilt":
            await _journal_spoilt(w)
        case "replay":
            far.replay(3)
    if not w.alive:
        await anyio.sleep(w.chance.choice((0.0, w.chance.uniform(0.0, 3.0))))


def _dies(w: LessonWorld, far: Witness, how: str) -> None:
    """One launcher's line goes dead in one direction or both, and nobody is told."""
    assert w.host is not None
    number = w.far.index(far)
    if number < len(w.host.lines):
        far.line_dies()
        w.host.lines[number].cut_off(out=how != "deaf-back", back=how != "deaf-out")


async def _asked(w: LessonWorld, *, stalled: bool) -> list[tuple[Witness, list[bytes]]]:
    """Wait until the host asks for a ball, some time at most; the line may keep that to itself."""
    assert w.host is not None
    waits = [line.wait_for(b" FEED ", stalled=stalled) for line in w.host.lines]
    if waits:
        with anyio.move_on_after(8.0):
            async with anyio.create_task_group() as tasks:

                async def first(heard: anyio.Event) -> None:
                    await heard.wait()
                    tasks.cancel_scope.cancel()

                for heard in waits:
                    tasks.start_soon(first, heard)
    kept = []
    for far, line in zip(w.far, w.host.lines, strict=False):
        kept.append((far, line.kept or []))
        line.expect_nothing()
    return kept


async def _killed_with_a_feed_held_up(w: LessonWorld) -> None:
    """A feed stays on the line while its host dies; it arrives when the next one has asked."""
    kept = await _asked(w, stalled=True)
    if w.alive:
        w.kill()
    w.quick = True
    await w.begin_life()
    for far, pieces in kept:
        w.tasks.start_soon(_arrives_when_armed, w, far, pieces)


async def _arrives_when_armed(w: LessonWorld, far: Witness, pieces: list[bytes]) -> None:
    acts = len(far.person_acts)
    with anyio.move_on_after(20.0):
        while len(far.person_acts) == acts:
            await anyio.sleep(0.05)
        await anyio.sleep(w.chance.choice((0.0, w.chance.uniform(0.0, 1.0))))
        far.arrive(pieces)


async def _journal_spoilt(w: LessonWorld) -> None:
    """The plan in the journal is another one when the next host reads it; then it is fixed."""
    if w.session_id is None:
        return
    w.kill()
    if w.session_id is None:
        return
    w.write_plan(faster(w.plan, _SPOILT))
    await w.begin_life()
    await w.pass_time(25.0)
    if w.alive:
        w.kill()
    w.write_plan(w.plan)


async def finish(w: LessonWorld) -> None:
    """The last word: over good lines, with a coach who looks, everything open is settled."""
    if w.alive:
        w.kill()
    w.calm = True
    for far in w.far:
        far.fix_line()
    await anyio.sleep(6.0)
    for _ in range(4):
        await w.begin_life()
        host = w.host
        assert host is not None
        with anyio.move_on_after(60.0):
            while not host.gone.is_set() and not _settled(w):
                await anyio.sleep(0.5)
        settled = _settled(w)
        if host.engine is not None and w.alive:
            await host.engine.command(SimpleCommand(act=Act.QUIT), by="coach")
        await w.pass_time(10.0)
        if settled:
            return
    raise AssertionError(f"nothing could be settled over good lines: {w.host.failed}")


def _settled(w: LessonWorld) -> bool:
    """Set up and with nothing in question: every launcher was asked and has answered."""
    assert w.host is not None
    phases = [phase for _, phase in w.host.phases]
    return Phase.ARMING in phases


async def _session(folder: Path, seed: int) -> tuple[LessonWorld, list[str]]:
    chance = random.Random(f"lesson session {seed}")
    jams = frozenset(chance.sample(range(2, 60), 2)) if chance.random() < 0.3 else frozenset()
    async with lesson_world(
        "two.feed" if chance.random() < 0.3 else "one.feed",
        folder,
        seed,
        draw_faults(chance),
        keyed=chance.random() < 0.4,
        jams_at=jams,
        clock_ppm=chance.choice((0.0, 40.0, -80.0)),
    ) as w:
        for _ in range(_MOST_ACTS):
            if w.balls() >= FEEDS:
                break
            if not w.alive:
                await w.begin_life()
            await w.pass_time(w.chance.uniform(0.0, 16.0))
            await act(w, w.chance.choice(ACTS))
        await finish(w)
        return w, violations(w)


def run_session(folder: Path, seed: int) -> tuple[LessonWorld, list[str]]:
    """One session on the virtual clock, and how it broke the invariants."""
    return in_virtual_time(_session, folder, seed)
