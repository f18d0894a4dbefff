"""Whole lessons on the six foreign devices, over lines that lose, double, delay, spoil and end.

The coach of these lessons tells the truth: of a ball of which nobody knows he says what the device
knows. So every ball that left must be written down as left, at the setting that it was meant for.
"""

from __future__ import annotations

import contextlib
import random
from collections import deque
from collections.abc import Awaitable, Callable, Mapping, Sequence
from pathlib import Path

import anyio
from anyio.abc import ByteStream
from feedscript_simulator.mapped_devices import Gone
from msgspec import Struct

from feedscript.launcher.profile.model import Profile
from feedscript.launcher.setting import Setting
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.auto_operator import says
from feedscript.session.operator.commands import SimpleCommand
from feedscript.session.operator.controls import control_of_key
from feedscript.session.operator.phases import ENDED, Act, Phase
from tests.drivers.mapped.devices import FOREIGN, FarEnd
from tests.drivers.mapped.mapped_sessions import Session, as_meant, conduct, plan_of
from tests.drivers.mapped.mappings import FILES
from tests.session.coach import say, see_balls
from tests.virtual_time import in_virtual_time

#: A ball that was asked for late may still be on its way when the coach is asked.
LOOKS_FOR_S = 8.0
MOST_FIXES = 60


class Faults(Struct, frozen=True):
    """Shares of the pieces, in each direction. A piece is what is said at once."""

    lost: float = 0.0
    doubled: float = 0.0
    spoilt: float = 0.0  # one bit of it turned over
    late: float = 0.0
    late_by_s: float = 0.3
    split: float = 0.0
    cut_after: int | None = None  # so many balls the line is dead, and nobody is told


class ForeignStream(ByteStream):
    """The host's end of a faulty line to a device; order is kept."""

    def __init__(self, device: FarEnd, faults: Faults, seed: int, *, packets: bool) -> None:
        self.device = device
        self.faults = faults
        self.packets = packets
        self.dead = False
        self.chance = random.Random(f"foreign line {seed}")
        self.out: deque[tuple[float, bytes]] = deque()
        self.back: deque[tuple[float, bytes]] = deque()
        self.come, self.coming = anyio.create_memory_object_stream[bytes](1000)

    def mangled(self, piece: bytes) -> list[bytes]:
        """In what shape it arrives."""
        chance, faults = self.chance, self.faults
        if self.dead or chance.random() < faults.lost:
            return []
        if chance.random() < faults.spoilt:
            spoilt = bytearray(piece)
            spoilt[chance.randrange(len(piece))] ^= 1 << chance.randrange(8)
            piece = bytes(spoilt)
        copies = 2 if chance.random() < faults.doubled else 1
        if not self.packets and chance.random() < faults.split:
            at = chance.randrange(len(piece) + 1)
            return [part for part in (piece[:at], piece[at:]) if part] * copies
        return [piece] * copies

    def post(self, way: deque[tuple[float, bytes]], piece: bytes) -> None:
        late = self.chance.random() < self.faults.late
        due_s = anyio.current_time() + (self.chance.random() * self.faults.late_by_s if late else 0)
        due_s = max(due_s, way[-1][0] if way else 0.0)
        way.extend((due_s, part) for part in self.mangled(piece))

    async def send(self, item: bytes) -> None:
        await anyio.lowlevel.checkpoint_if_cancelled()
        self.post(self.out, item)

    async def receive(self, max_bytes: int = 65536) -> bytes:
        del max_bytes
        return await self.coming.receive()

    async def send_eof(self) -> None:
        pass

    async def aclose(self) -> None:
        self.come.close()

    async def keep_time(self) -> None:
        while True:
            now_s, said = anyio.current_time(), []
            while self.out and self.out[0][0] <= now_s:
                said += self.device.hear(self.out.popleft()[1], now_s)
            said += self.device.tick(now_s)
            for piece in said:
                self.post(self.back, piece)
            while self.back and self.back[0][0] <= now_s:
                piece = self.back.popleft()[1]
                if not self.dead:
                    self.hand_over(piece)
            await anyio.sleep(0.01)

    def hand_over(self, piece: bytes) -> None:
        try:
            self.come.send_nowait(piece)
        except (anyio.ClosedResourceError, anyio.BrokenResourceError):
            return


class TruthfulCoach(Struct):
    """Says yes to what is asked, sets up again after trouble, and looks where a ball lies."""

    engine: Engine
    device: FarEnd
    fixes: int = MOST_FIXES

    async def conduct(self) -> None:
        async for view in self.engine.views():
            if view.phase in ENDED:
                return
            if view.phase is Phase.ASKING:
                await self.answer()
            elif view.phase in (Phase.HELD, Phase.STOPPED):
                await self.mend()
            elif (command := says(view)) is not None:
                await self.engine.command(command)

    async def mend(self) -> None:
        self.fixes -= 1
        if self.fixes < 0:
            await self.engine.command(SimpleCommand(act=Act.QUIT))
            return
        await self.press("Enter")

    async def answer(self) -> None:
        """What the device has thrown beyond what is written down as left was the ball in
        question."""
        await anyio.sleep(LOOKS_FOR_S)
        rows = self.engine.lesson.journal.rows("SELECT outcome FROM ball")
        known = sum(row["outcome"] == "left" for row in rows)
        await self.press("y" if len(self.device.hardware.left) > known else "n")

    async def press(self, key: str) -> None:
        control = control_of_key(self.engine.view.controls, key)
        if control is not None and control.shown and control.can_be_done:
            assert control.command is not None
            await self.engine.command(control.command)


async def _session(
    name: str,
    settings: list[Setting],
    order: list[int],
    gap_s: float,
    faults: Faults,
    seed: int,
    script: Callable[[Engine, ForeignStream], Awaitable[None]] | None,
    file: Path | None = None,
    profile: Profile | None = None,
) -> tuple[Session, ForeignStream]:
    radio = name == "by-radio"
    stream = ForeignStream(FOREIGN[name](), faults, seed, packets=radio)
    address = f"mapped:{file or FILES[name]}@{'ble' if radio else 'serial'}:bench"

    async def people(engine: Engine) -> None:
        await TruthfulCoach(engine, stream.device).conduct()

    async def beside(engine: Engine, _stream: ForeignStream) -> None:
        with contextlib.suppress(AssertionError):  # the lesson may end before it comes to that
            if faults.cut_after is not None:
                await see_balls(engine, faults.cut_after)
                stream.dead = True
            elif script is not None:
                await script(engine, stream)

    plan = plan_of(settings, order, gap_s)
    return await conduct(plan, address, stream, beside, people, profile), stream


def foreign_lesson(
    name: str,
    settings: list[Setting],
    order: list[int],
    faults: Faults = Faults(),  # noqa: B008 - frozen
    seed: int = 0,
    gap_s: float = 2.5,
    script: Callable[[Engine, ForeignStream], Awaitable[None]] | None = None,
    file: Path | None = None,
    profile: Profile | None = None,
) -> tuple[Session, ForeignStream]:
    """A lesson on one of the devices, on the virtual clock; with another mapping or profile where
    they are given."""
    return in_virtual_time(
        _session, name, settings, order, gap_s, faults, seed, script, file, profile
    )


def wrongs(session: Session) -> list[str]:
    """What a lesson did that it must never do, by what the device knows."""
    settings = [feed.setting for feed in session.engine.lesson.plan.feeds]
    return as_written(session.balls, settings, session.device.hardware.left)


def as_written(
    balls: Sequence[Mapping[str, object]],
    settings: Sequence[Setting],
    left: Sequence[Gone],
    is_meant: Callable[[Gone, Setting], bool] = as_meant,
) -> list[str]:
    """Where the journal is not what the device knows: a ball that left at another setting than that
    of the ball it stands for, one that is not written down, one that is said to have left and did
    not, or to have stayed in and left."""
    gone = list(left)
    found = []
    for row in balls:
        meant = settings[int(str(row["feed_index"]))]
        here = bool(gone) and is_meant(gone[0], meant)
        if row["outcome"] == "left" and not here:
            found.append(f"ball {row['feed_id']} is written down as left: {gone[:1]}, {meant}")
        if row["outcome"] == "left" or (row["outcome"] == "unknown" and here):
            gone = gone[1:]
    return found + [f"nobody wrote down {one}" for one in gone]


def setting_of(chance: random.Random) -> Setting:
    """A setting that every one of the devices has numbers for."""
    middle, apart = 200.0 * chance.randrange(7, 15), 100.0 * chance.randrange(-2, 3)
    return Setting(
        drives=(middle + apart, middle - apart),
        pan_deg=float(chance.randrange(-15, 16)),
        tilt_deg=float(chance.randrange(0, 31)),
    )


def drawn_faults(chance: random.Random, *, radio: bool) -> Faults:
    """From a good line to a wretched one, or one that ends. A radio's own check lets nothing
    through that was spoilt."""
    level = chance.choice((0.0, 0.01, 0.03))
    if chance.random() < 0.15:
        return Faults(late=0.2, cut_after=chance.randrange(1, 4))
    return Faults(
        lost=level * chance.random(),
        doubled=level * chance.random(),
        spoilt=0.0 if radio else level * chance.random(),
        late=chance.random() * 0.3,
        late_by_s=chance.choice((0.05, 0.2)),
        split=chance.random() * 0.3,
    )


def drawn_session(name: str, seed: int) -> tuple[Session, ForeignStream, int]:
    """A lesson drawn from a seed, often stopped or held, and how many balls it has."""
    chance = random.Random(f"foreign {name} {seed}")
    settings = [setting_of(chance) for _ in range(chance.randrange(2, 4))]
    order = [chance.randrange(len(settings)) for _ in range(chance.randrange(3, 7))]
    act = chance.choice((None, None, Act.HOLD, Act.STOP))
    after, wait_s = chance.randrange(1, 3), chance.uniform(0.0, 4.0)

    async def coach(engine: Engine, _stream: ForeignStream) -> None:
        await see_balls(engine, after)
        await anyio.sleep(wait_s)
        if act is not None and engine.lesson.phase is Phase.RUNNING:
            await say(engine, act)

    faults = drawn_faults(chance, radio=name == "by-radio")
    session, stream = foreign_lesson(
        name, settings, order, faults, seed, chance.uniform(2.0, 4.0), coach
    )
    return session, stream, len(order) + 1
