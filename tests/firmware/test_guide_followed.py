"""The guide to the first ball, followed word for word: its commands, typed lines and acts, in their
order, on a compiled image whose settings are erased, through the command line and no other way.

Each command runs in one virtual time with the image. The cable is the image's own serial line; the
bridge passes it on in small pieces, each a little later.
"""

from __future__ import annotations

import queue
import re
import shlex
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import anyio
import click
import msgspec
import outcome
import pytest
import trio
import trio.testing
from anyio.abc import TaskGroup
from click.testing import CliRunner
from feedscript_drivers.transports import serial_port, tcp

from feedscript.cli import verbs
from tests.conftest import ROOT
from tests.firmware.far_end import CHIPS, FarEnd
from tests.firmware.virtual_link import WAITS_FOR_ARMING, SteppedStream

PAGE = ROOT / "drivers" / "building" / "first-ball.md"
NETWORK = "tcp:192.0.2.7:7878"
#: What the bridge of the page takes at once, and how late it passes a piece on.
CHUNK_BYTES, BRIDGE_S = 16, 0.003


class Block(msgspec.Struct, frozen=True):
    """A command with what is typed into it and done beside it, and what must come of it."""

    commands: tuple[str, ...]
    lines: tuple[str, ...]
    must_say: tuple[str, ...]


def blocks(text: str) -> list[Block]:
    """Every block of commands of the page, with the lines and the words that follow it."""
    found = []
    for commands, after in re.findall(r"^```sh\n(.*?)^```$(.*?)(?=^```sh|\Z)", text, re.M | re.S):
        typed = re.match(r"\s*```text\n(.*?)^```$", after, re.M | re.S)
        told = re.search(r"^Must say: (.*?)\. ?", after, re.M)
        found.append(
            Block(
                tuple(re.sub(r"\s+# .*", "", line) for line in commands.splitlines()),
                tuple(typed[1].splitlines()) if typed else (),
                tuple(re.findall(r"`([^`]+)`", told[1])) if told else (),
            )
        )
    return found


def write_files(text: str, folder: Path) -> None:
    """What the page says to copy, to change and to save."""
    for source, *copies in re.findall(r"^Copy `([^`]+)` to `([^`]+)` and to `([^`]+)`", text, re.M):
        for copy in copies:
            shutil.copy(ROOT / source, folder / copy)
    said = r"^(In|At the end of|Save this as) `([^`]+)`[^\n]*:\n\n```\w+\n(.*?)^```$"
    for how, name, lines in re.findall(said, text, re.M | re.S):
        file = folder / name
        if how == "In":
            file.write_text(replaced(file.read_text("utf-8"), lines), "utf-8")
        else:
            before = file.read_text("utf-8") if how == "At the end of" else ""
            file.write_text(before + lines, "utf-8")


def replaced(text: str, lines: str) -> str:
    """Each line in the place of the one that gives the same key; there must be one."""
    for line in lines.splitlines():
        key = line.partition(" =")[0]
        text, count = re.subn(rf"^{key} = .*$", line, text, flags=re.M)
        assert count == 1, line
    return text


class Hands:
    """Whoever stands at the launcher, and does what the page's lines in brackets say."""

    def __init__(self, far: FarEnd) -> None:
        self.far = far
        self.when_it_waits: list[str] = []
        self.cut_at = b""  # the word of the launcher's after which the bridge passes nothing on
        self.cut = False
        self.tasks: TaskGroup
        self.typist = Typist((), self)

    async def do(self, act: str) -> None:
        for name, value, then_s in self.moves(act):
            if name:
                self.far.set(name, value)
            await anyio.sleep(then_s)

    def moves(self, act: str) -> list[tuple[str, int, float]]:
        if wait := re.fullmatch(r"wait (\d+) s", act):
            return [("", 0, float(wait[1]))]
        return {
            "turn the arming switch off, then on": [("arm_switch", 0, 0.5), ("arm_switch", 1, 1.0)],
            "turn the arming switch off": [("arm_switch", 0, 0.5)],
            "press the emergency stop": [("loop_open", 1, 1.0)],
            "release the emergency stop": [("loop_open", 0, 1.0)],
            "put one ball into the hopper": [("hopper", 1, 0.5)],
        }[act]

    async def watch(self, data: bytes, tasks: TaskGroup) -> None:
        """As the page says: what is done when the launcher waits."""
        if self.cut_at and self.cut_at in data:
            self.cut = True
        if WAITS_FOR_ARMING.search(data) and self.when_it_waits:
            tasks.start_soon(self.do, self.when_it_waits.pop(0))


class Line(SteppedStream):
    """The launcher's serial line, driven for as long as it is open."""

    def __init__(self, far: FarEnd, hands: Hands, *, bridged: bool = False) -> None:
        super().__init__(far)
        self.person = hands  # type: ignore[assignment]
        self.bridged = bridged
        self.hands = hands
        self.typist = hands.typist
        hands.tasks.start_soon(self.serve)

    async def serve(self) -> None:
        try:
            async with anyio.create_task_group() as tasks:
                tasks.start_soon(self.typist.type)
                await self.drive()
                tasks.cancel_scope.cancel()
        finally:
            self.typist.leave()
            self.let_go()

    async def send(self, item: bytes) -> None:
        if self.bridged:
            assert len(item) <= CHUNK_BYTES, "more than the bridge takes at once"
            await anyio.sleep(BRIDGE_S)
            if self.hands.cut:
                return
        await super().send(item)

    async def receive(self, max_bytes: int = 65536) -> bytes:
        if not self.bridged:
            return await super().receive(max_bytes)
        data = await super().receive(CHUNK_BYTES)
        while self.hands.cut:
            data = await super().receive(max_bytes)
        await anyio.sleep(BRIDGE_S)
        return data


class Typist:
    """Types a line, waits until it was read and had its time, does what is to be done between."""

    def __init__(self, lines: tuple[str, ...], hands: Hands) -> None:
        self.lines = list(lines)
        self.hands = hands
        self.typed: queue.Queue[str] = queue.Queue()

    async def type(self) -> None:
        while self.lines:
            line = self.lines.pop(0)
            if line.startswith("("):
                await self.hands.do(line.strip("()"))
                continue
            self.typed.put(line + "\n")
            while not self.typed.empty():
                await anyio.sleep(0.01)
            await anyio.sleep(1.0)

    def readline(self) -> str:
        """In a thread of the command's."""
        return self.typed.get(timeout=60)

    def leave(self) -> None:
        """Whoever still waits for a line gets the end of them."""
        self.typed.put("")


@pytest.fixture
def reader(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the reader stands, with the files that the page tells to write."""
    folder = tmp_path / "reader"
    folder.mkdir()
    monkeypatch.chdir(folder)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    write_files(PAGE.read_text("utf-8"), folder)
    return folder


@pytest.fixture(params=CHIPS)
def blank(request: pytest.FixtureRequest, images: str) -> Iterator[FarEnd]:
    """A chip as the programmer leaves it: the program, and no settings."""
    with FarEnd(request.param) as far:
        far.run(100)
        yield far


@pytest.fixture
def hands(blank: FarEnd, monkeypatch: pytest.MonkeyPatch) -> Hands:
    return standing_at(blank, monkeypatch)


def standing_at(far: FarEnd, monkeypatch: pytest.MonkeyPatch) -> Hands:
    """Somebody at the launcher, whose lines lead to its image; commands run their loops on trio's
    jumping clock, and the image beside them."""
    person = Hands(far)

    def run(program: Callable[..., Any], *arguments: object) -> Any:
        async def beside() -> Any:
            became: outcome.Outcome[Any]
            async with anyio.create_task_group() as person.tasks:
                became = await outcome.acapture(program, *arguments)
                person.tasks.cancel_scope.cancel()
            return became.unwrap()  # an error of the command's own, as it is without us

        return trio.run(beside, clock=trio.testing.MockClock(autojump_threshold=0))

    async def by_bridge(_address: str, **_options: object) -> Line:
        return Line(far, person, bridged=True)

    monkeypatch.setattr(anyio, "run", run)
    monkeypatch.setattr("trio._core._thread_cache.IDLE_TIMEOUT", 0.2)
    monkeypatch.setattr(serial_port, "open_port", lambda *_args, **_options: None)
    monkeypatch.setattr(serial_port, "SerialStream", lambda _port: Line(far, person))
    monkeypatch.setattr(tcp, "open_stream", by_bridge)
    return person


def obeyed(
    command: str, block: Block, hands: Hands, monkeypatch: pytest.MonkeyPatch, *, ends: int = 0
) -> str:
    """What one command says; its typed lines typed, its acts done."""
    words = shlex.split(command.replace("serial:DEVICE", "serial:/dev/cable"))
    words = [word.replace("ADDRESS", NETWORK) for word in words]
    if words[1] == "run":
        words.append("--yes-i-am-behind-the-launcher")  # the test confirms the list
        waits = "when it waits for you, "
        acts = [line.strip("()") for line in block.lines]
        hands.when_it_waits = [act.removeprefix(waits) for act in acts if act.startswith(waits)]
        for act in acts:
            for name, value, _ in [] if act.startswith(waits) else hands.moves(act):
                hands.far.set(name, value)
    runner = CliRunner()
    hands.typist = Typist(block.lines if words[1] == "jog" else (), hands)
    known: click.Command = verbs
    with runner.isolation() as (_, __, out):
        monkeypatch.setattr("sys.stdin.readline", hands.typist.readline, raising=False)
        code = 0
        try:
            known.main(args=words[1:], prog_name="feedscript", standalone_mode=False)
        except SystemExit as end:
            code = int(end.code or 0)
        said = (out or _).getvalue().decode()
    assert code == ends, f"{command}\n{said}"
    assert not hands.typist.lines, "all was typed"
    return said


def after(said: str, words: str) -> str | None:
    """What was said behind these words, or None; ``490 to 510`` is any number between."""
    between = re.fullmatch(r"(.*?)(\d+) to (\d+)", words)
    if between is None:
        return said.partition(words)[2] if words in said else None
    for found in re.finditer(re.escape(between[1]) + r"(\d+)", said):
        if int(between[2]) <= int(found[1]) <= int(between[3]):
            return said[found.end() :]
    return None


def follow(page: str, hands: Hands, monkeypatch: pytest.MonkeyPatch) -> int:
    """Every block of the page, each saying what it must; how many commands there were."""
    done = 0
    hands.far.set("hopper", 0)
    hands.far.set("arm_switch", 0)
    for block in blocks(page):
        said = ""
        for command in block.commands:
            if command.startswith("make "):
                continue  # the images that are followed were built so
            said += obeyed(command, block, hands, monkeypatch)
            done += 1
        for words in block.must_say:
            rest = after(said, words)
            assert rest is not None, f"{block.commands}: {words!r} is not in\n{said}"
            said = rest
        assert block.must_say or block.commands[0].startswith("make "), block.commands
    return done


@pytest.mark.long
@pytest.mark.timeout(1800)  # the emulated chip needs minutes on a busy machine
def test_the_guide_leads_to_the_first_ball(
    blank: FarEnd, reader: Path, hands: Hands, monkeypatch: pytest.MonkeyPatch
) -> None:
    del reader
    assert follow(PAGE.read_text("utf-8"), hands, monkeypatch) >= 10
    assert len(blank.leaves()) == 1, "one ball, and no other in all the steps"
    assert not blank.run(1000)["power"]


@pytest.mark.long
@pytest.mark.parametrize(
    "step",
    [
        "feedscript set-up --on serial:DEVICE --launcher bench.toml --board board.toml\n",
        "(turn the arming switch off, then on)\n",
        "(press the emergency stop)\n",
        "feedscript pair --on serial:DEVICE\n",
        "feedscript set-up --on serial:DEVICE --launcher garage.toml --board radio.toml\n",
        "(put one ball into the hopper)\n",
        "(when it waits for you, turn the arming switch off, then on)\n",
    ],
)
def test_a_guide_that_leaves_a_step_out_leads_nowhere(
    step: str, images: str, reader: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each of these is needed: without it a command refuses, or does not say what it must."""
    del reader
    page = PAGE.read_text("utf-8")
    assert step in page
    with FarEnd("avr") as far:
        far.run(100)
        hands = standing_at(far, monkeypatch)
        with pytest.raises(AssertionError):
            follow(page.replace(step, "", 1), hands, monkeypatch)


@pytest.mark.long
@pytest.mark.timeout(1800)
def test_at_the_edge_of_range_it_stops_by_itself_and_the_lesson_goes_on(
    blank: FarEnd, reader: Path, hands: Hands, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As the radio's page says: the bridge passes nothing on any more after the second ball."""
    page = PAGE.read_text("utf-8")
    follow(page[: page.index("## 10.")], hands, monkeypatch)
    one = reader / "first-ball.feed"
    three = "lesson { show speed of soft  repeat 3 { send soft after 4 s } }"
    text = re.sub(r"^lesson .*$", three, one.read_text("utf-8"), flags=re.M)
    one.write_text(text.replace("load 1 }", "load 10 }"), "utf-8")
    blank.set("hopper", 10)
    arms = Block((), ("(when it waits for you, turn the arming switch off, then on)",), ())
    run = "feedscript run {} --on ADDRESS@bridge.toml"
    hands.cut_at = b" LEFT 2"
    said = obeyed(run.format("first-ball.feed"), arms, hands, monkeypatch, ends=3)
    assert "link" in said
    pins = blank.run(1000)
    assert not pins["power"]
    off_us = max(pins[part] for part in ("wheels_off_us", "gate_shut_us", "power_off_us"))
    assert 0 < off_us - pins["last_byte_us"] <= 1_000_000, "silent for a second at most"
    assert pins["balls"] == 2
    hands.cut_at, hands.cut = b"", False
    said = obeyed(run.format("--resume"), arms, hands, monkeypatch)
    assert "0 unknown" in said, said
    assert blank.get()["balls"] == 4, "each once: one that is watched, and three"
