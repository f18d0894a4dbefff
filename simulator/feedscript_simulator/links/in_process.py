"""``sim:``, the stand-in in the same process: same driver, same codec, no operating system.

It runs by anyio's clock, so on trio's jumping test clock an hour's lesson takes seconds.
"""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator, Callable

import anyio
from anyio.abc import ByteStream
from feedscript_drivers.transports.inbox import InboxStream
from feedscript_drivers.transports.tap import transport_tap
from feedscript_drivers.wire.one_error import one_error
from feedscript_drivers.wire.trust import Trust
from feedscript_drivers.wire.wire_launcher import WireLauncher, open_launcher

from feedscript.launcher.port import ConnectOptions, LauncherPort, MouthThrow
from feedscript.launcher.trials.far_end import Seen
from feedscript.override import override
from feedscript_simulator.balls import Balls
from feedscript_simulator.faults import Faults, LineFaults, read_faults
from feedscript_simulator.links.driven import Driven
from feedscript_simulator.links.faulty_line import faulty_line, line_to_cut
from feedscript_simulator.stand_in import StandIn, build


class DirectStream(InboxStream):
    """The host's end of a wire of no length to a stand-in; what it says comes to the newest."""

    def __init__(self, driven: Driven) -> None:
        super().__init__()
        self._driven = driven
        self._ended = anyio.Event()
        driven.on_output = self.come

    async def tell(self, hear: Callable[[bytes], None]) -> None:
        """Have ``hear`` called with each piece while it is said, until the stream is closed."""
        while self._coming:
            hear(await self.receive())
        self._driven.on_output = hear
        await self._ended.wait()

    @override
    async def aclose(self) -> None:
        await super().aclose()
        self._driven.on_output = self.come
        self._ended.set()

    @override
    async def send(self, item: bytes) -> None:
        await anyio.lowlevel.checkpoint_if_cancelled()
        if self._closed:
            raise anyio.ClosedResourceError
        self._driven.receive(item)


@contextlib.asynccontextmanager
async def attach(stand_in: StandIn, faults: Faults) -> AsyncIterator[ByteStream]:
    """A byte stream to a stand-in in this process, over a line with these faults."""
    driven = Driven(stand_in, lambda _bytes: None)
    direct = DirectStream(driven)
    with one_error():
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(driven.keep_time)
            if faults.cut_at is None:
                line = faulty_line(direct, faults.line, stand_in.seed)
            else:
                line = _cut_line(driven, direct, faults.line, faults.cut_at)
            async with line as stream:
                yield stream
            tasks.cancel_scope.cancel()


@contextlib.asynccontextmanager
async def _cut_line(
    driven: Driven, direct: DirectStream, faults: LineFaults, cut_at: int
) -> AsyncIterator[ByteStream]:
    """A line that goes dead both ways the moment this ball leaves: its host hears of no more."""
    async with line_to_cut(direct, faults, driven.stand_in.seed) as stream:

        def come(data: bytes) -> None:
            if len(driven.stand_in.departures) >= cut_at:
                stream.cut_off()
            direct.come(data)

        driven.on_output = come
        yield stream


class SimLauncher(WireLauncher):
    """The driver's launcher, that also tells the truth about its balls."""

    stand_in: StandIn
    balls_of: ConnectOptions

    def throws(self) -> tuple[MouthThrow, ...]:
        balls = Balls(self.balls_of.profile, self.balls_of.seed)
        return balls.throws(self.stand_in.departures)

    def seen(self) -> tuple[Seen, ...]:
        return self.stand_in.seen()


@contextlib.asynccontextmanager
async def connect(_address: str, options: ConnectOptions) -> AsyncIterator[LauncherPort]:
    """A stand-in made from the profile, armed by a simulated person. ``sim:`` has no address."""
    faults = read_faults(options.faults)
    stand_in = build(
        options.profile,
        seed=options.seed,
        faults=faults,
        trials=options.trials,
        powered_s=anyio.current_time(),
    )
    async with (
        attach(stand_in, faults) as wire,
        transport_tap(wire, options.capture) as stream,
        # A launcher made a moment ago was paired with nobody, whatever keys this user holds.
        open_launcher(stream, options, "sim:", kind=SimLauncher, trust=Trust.PLAIN) as launcher,
    ):
        assert isinstance(launcher, SimLauncher)
        launcher.stand_in, launcher.balls_of = stand_in, options
        yield launcher
