"""One page's socket: the lesson flows down, commands come up, and silence is noticed."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from contextlib import suppress

import anyio
import msgspec
from anyio.abc import TaskGroup
from starlette.websockets import WebSocket, WebSocketDisconnect

from feedscript.console.access import NOT_IN_CONTROL, Access, Device, Role
from feedscript.console.broadcast import Broadcast
from feedscript.console.messages import FromPage, encode, read_message
from feedscript.diagnostics import Diagnostic, Page, as_json
from feedscript.session.operator.commands import (
    Command,
    EnterCode,
    SimpleCommand,
    ToExercise,
)
from feedscript.session.operator.controller import Controller
from feedscript.session.operator.phases import Act
from feedscript.tongues.text import _
from feedscript.tongues.tongue import Tongue, Tongues

#: Something is sent at least this often, so that a page knows within a second that it is alone.
HEARTBEAT_S = 0.3
#: A page that keeps sending what cannot be read is let go.
MOST_MALFORMED = 5
#: Messages a page may send in a second, stops not counted.
MOST_PER_SECOND = 30

STOPS = (Act.STOP, Act.EMERGENCY_STOP)
POLICY_VIOLATION = 1008  # RFC 6455, 7.4.1


NOT_FROM_A_PAGE = Page(
    slug="not-from-a-page",
    title="Arming is a person's act at the launcher",
    why=(
        "A launcher is armed by somebody who stands beside it and sees that nobody is in front. A "
        "page may be held by anyone anywhere, so it cannot arm."
    ),
)


class Console(msgspec.Struct, frozen=True):
    """What every request needs."""

    lesson: Controller
    access: Access
    broadcast: Broadcast
    #: Of the lesson, as HTML in a language; None where nothing is kept.
    review: Callable[[Tongue], str] | None = None
    tongues: Tongues = Tongues()


def may_send(console: Console, device: Device, command: Command) -> Diagnostic | None:
    """Whether this device may give this command: whoever holds control; a stop, anyone paired."""
    if isinstance(command, SimpleCommand) and command.act in STOPS:
        return None
    if isinstance(command, EnterCode):
        return NOT_FROM_A_PAGE.report(
            _("a page cannot arm a launcher"),
            help=_("type the number at the laptop beside the launcher, or turn its arming switch"),
        )
    if console.access.holds_control(device):
        return None
    holder = console.access.holder_name()
    return NOT_IN_CONTROL.report(
        _("{name} holds control", name=holder) if holder else _("no device holds control"),
        help=_("take control first")
        if device.role is Role.COACH
        else _("this device may only stop"),
    )


def _waits_for_none(command: Command | None) -> bool:
    return isinstance(command, SimpleCommand) and command.act in (*STOPS, Act.HOLD)


def _moves(command: Command | None) -> bool:
    """Whether it would move the lesson; others tell of balls that have gone, or of the group."""
    return isinstance(command, SimpleCommand | ToExercise)


async def serve_socket(socket: WebSocket, console: Console, device: Device, tongue: Tongue) -> None:
    """Run one accepted socket, in the language of its page, until either side ends it."""
    line = _PageSocket(socket, console, device, tongue, secrets.token_urlsafe(12))
    async with anyio.create_task_group() as group:
        group.start_soon(line.send_down)
        group.start_soon(line.answer_others)
        try:
            with suppress(WebSocketDisconnect):
                await line.take_up(group)
            await line.answer_waiting()  # what came before it went
        finally:
            group.cancel_scope.cancel()


class _PageSocket:
    """The two directions of one socket."""

    def __init__(
        self, socket: WebSocket, console: Console, device: Device, tongue: Tongue, word: str
    ) -> None:
        self._socket = socket
        self._console = console
        self._device = device
        self._tongue = tongue
        self._word = word
        self._last_count = 0
        self._malformed = 0
        self._second: tuple[int, int] = (0, 0)
        self._waiting: list[FromPage] = []
        self._come = anyio.Event()
        self._one_at_a_time = anyio.Lock()

    async def send_down(self) -> None:
        """The lesson as it changes, and a sign of life when it does not."""
        private = self._device.role is Role.COACH
        try:
            await self._socket.send_text(
                encode({"socket": self._word, "role": self._device.role, "name": self._device.name})
            )
            number = -1
            while True:
                fresh = await self._console.broadcast.newer_than(number, HEARTBEAT_S)
                await self._socket.send_text(self._control_line())
                if fresh:
                    number = self._console.broadcast.number
                    latest = self._console.broadcast.latest(self._tongue, private=private)
                    await self._socket.send_text(latest)
        except (WebSocketDisconnect, RuntimeError, OSError):
            # starlette raises RuntimeError for a send after the close; the page is gone either way
            return

    def _control_line(self) -> str:
        access = self._console.access
        return encode(
            {"alive": True, "control": access.holds_control(self._device),
             "holder": access.holder_name()}
        )  # fmt: skip

    async def take_up(self, group: TaskGroup) -> None:
        """Commands, until the page goes or breaks the rules too often.

        A stop or a hold waits for none before it, and takes back what would move the lesson and
        still waits: what is being proven for one of them, or a launcher that does not answer, may
        take its time.
        """
        while True:
            received = await self._socket.receive()
            if received["type"] != "websocket.receive":
                return
            message = read_message(received.get("text") or received.get("bytes") or b"")
            if message is None or not self._is_fresh(message):
                self._malformed += 1
                if self._malformed >= MOST_MALFORMED:
                    await self._socket.close(POLICY_VIOLATION)
                    return
                continue
            self._console.access.keep_alive(self._device)
            if _waits_for_none(message.command):
                self._waiting = [one for one in self._waiting if not _moves(one.command)]
                group.start_soon(self._answer, message)
            elif len(self._waiting) < MOST_PER_SECOND:
                self._waiting.append(message)
                self._come.set()

    async def answer_others(self) -> None:
        """As they come, one after another."""
        while True:
            self._come = anyio.Event()
            await self.answer_waiting()
            await self._come.wait()

    async def answer_waiting(self) -> None:
        """Those that have come."""
        async with self._one_at_a_time:
            while self._waiting:
                await self._answer(self._waiting.pop(0))

    def _is_fresh(self, message: FromPage) -> bool:
        """Meant for this socket, and later than every message before."""
        if message.socket != self._word or message.count <= self._last_count:
            return False
        self._last_count = message.count
        return True

    async def _answer(self, message: FromPage) -> None:
        refusal: Diagnostic | None = None
        if message.control is True:
            refusal = self._console.access.take_control(self._device)
        elif message.control is False:
            self._console.access.hand_over(self._device)
        if message.command is not None:
            refusal = may_send(self._console, self._device, message.command)
            if refusal is None and not self._too_fast(message.command):
                refusal = await self._console.lesson.command(message.command, by=self._device.name)
        if refusal is not None:
            # As in `send_down`: the page may be gone, and what came before is carried out still.
            with suppress(WebSocketDisconnect, RuntimeError, OSError):
                await self._socket.send_text(
                    encode({"count": message.count, "refused": as_json(refusal)}, self._tongue)
                )

    def _too_fast(self, command: Command) -> bool:
        """Whether the page floods; a stop always gets through."""
        if isinstance(command, SimpleCommand) and command.act in STOPS:
            return False
        second = int(anyio.current_time())
        count = self._second[1] + 1 if self._second[0] == second else 1
        self._second = (second, count)
        return count > MOST_PER_SECOND
