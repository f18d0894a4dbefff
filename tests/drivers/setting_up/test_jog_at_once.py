"""A stop, a hold or the end of manual control waits for no line that was typed before it."""

from __future__ import annotations

import json
import queue

import anyio
import pytest
from click.testing import CliRunner

from feedscript.cli import verbs
from feedscript.cli.setting_up.jog import _obey_lines, _Told
from feedscript.launcher.port import StopCategory
from feedscript.launcher.setting import Setting
from tests.launcher.tuning.synthetic import profile_named

GARAGE = profile_named("garage")


def jog(*lines: str) -> list[dict[str, object]]:
    typed = "".join(f"{line}\n" for line in lines)
    done = CliRunner().invoke(verbs, ["jog", "--on", "sim:", "--format", "json"], input=typed)
    assert done.exit_code == 0, done.output
    return [json.loads(line) for line in done.stdout.splitlines()]


def test_what_moves_nothing_is_answered_still() -> None:
    told = jog("status", "move", "stop", "status", "quit")
    assert len([one for one in told if "drives" in one]) == 2


class Stubborn:
    """A launcher that never acknowledges a change of its setting."""

    def __init__(self) -> None:
        self.told: list[object] = []
        self.moves = anyio.Event()

    async def prepare(self, setting: Setting) -> None:
        self.told.append("prepare")
        self.moves.set()
        await anyio.sleep_forever()

    async def stop(self, category: StopCategory) -> None:
        self.told.append(category)

    async def hold(self) -> None:
        self.told.append("hold")


@pytest.mark.parametrize(
    ("line", "first"),
    [
        ("stop\n", StopCategory.RUN_DOWN),
        ("emergency\n", StopCategory.POWER_OFF),
        ("hold\n", "hold"),
        ("quit\n", StopCategory.RUN_DOWN),
        ("", StopCategory.RUN_DOWN),
    ],
    ids=["stop", "emergency", "hold", "quit", "end of input"],
)
def test_it_comes_to_a_launcher_that_does_not_answer(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], line: str, first: object
) -> None:
    typed: queue.Queue[str] = queue.Queue()
    monkeypatch.setattr("sys.stdin.readline", lambda: typed.get(timeout=20), raising=False)
    launcher = Stubborn()

    async def main() -> None:
        with anyio.fail_after(15):
            async with anyio.create_task_group() as tasks:
                told = _Told(as_json=True)
                tasks.start_soon(_obey_lines, launcher, GARAGE, told)
                typed.put("move\n")
                await launcher.moves.wait()
                for waits in ("arm\n", "move\n", "go on\n", "feed\n"):
                    typed.put(waits)
                typed.put(line)
                typed.put("quit\n")

    anyio.run(main)
    assert launcher.told[:2] == ["prepare", first]
    assert "prepare" not in launcher.told[2:]
    assert capsys.readouterr().out.count("was not done") == 4
