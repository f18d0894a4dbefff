"""``feedscript board-check``: a board that somebody ported the firmware to, tried step by step."""

from __future__ import annotations

from typing import Any

import click
import msgspec

from feedscript.cli.options import format_option, on_option
from feedscript.cli.output import Exit, leave, print_json, refuse, tell
from feedscript.formats import headed
from feedscript.launcher.port import LauncherError
from feedscript.launcher.tools import tool


class AtTheTerminal:
    """The person beside the board, asked on this terminal, one thing at a time."""

    async def do(self, what: str) -> None:
        """Press Enter when it is done."""
        await self._prompted(
            click.prompt, f"{what}, then press Enter", default="", show_default=False
        )

    async def sees(self, what: str) -> bool:
        """Answered with y or n."""
        return bool(await self._prompted(click.confirm, what))

    async def measures(self, question: str) -> bool:
        """Answered with y or n."""
        return await self.sees(question)

    async def _prompted(self, ask: Any, text: str, **options: Any) -> Any:
        """In a thread: heartbeats go on while somebody thinks."""
        from functools import partial

        from anyio import to_thread

        return await to_thread.run_sync(partial(ask, text, err=True, **options))


@click.command("board-check")
@on_option()
@format_option
def command(url: str, output_format: str) -> None:
    """Try a board of your own, step by step, with the power to its wheels off.

    The board is at its cable (serial:DEVICE) and set up; its motors' supply is unplugged, its
    hopper empty, a meter at hand. Each step says what to press and asks what you see; what is wrong
    is named with the function of the board to look at. Nothing is ever fed.
    """
    import anyio

    found: list[Any] = []

    async def check() -> None:
        async with tool("board-at")(url) as stream:
            async for each in tool("board-check")(stream, AtTheTerminal()):
                found.append(each)
                if output_format == "text":
                    _tell(each)

    try:
        anyio.run(check)
    except LauncherError as error:
        refuse(Exit.LAUNCHER, [error.diagnostic], output_format)
    wrong = [each for each in found if not each.fine]
    if output_format == "json":
        plain = {"ok": not wrong, "steps": msgspec.to_builtins(found)}
        print_json(headed("board-check", plain))
    else:
        tell(_report(len(found), len(wrong)))
    leave(Exit.LAUNCHER if wrong else Exit.FINE)


def _tell(each: Any) -> None:
    tell(f"{'fine' if each.fine else 'LOOK'}  {each.name}: {each.figure}")
    if not each.fine:
        tell(f"      {each.help}")


def _report(steps: int, wrong: int) -> str:
    if wrong:
        return f"{wrong} of {steps} steps went wrong. Do not give its wheels power."
    return f"All {steps} steps are fine. What a line and a meter cannot show is not proven by this."
