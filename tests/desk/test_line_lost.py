"""The page's line to the desk is lost and had again: a new line begins with a greeting, as the
Language Server Protocol asks (3.17, Initialize Request), and the words go on being checked."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from playwright.async_api import WebSocketRoute, expect

from tests.desk.test_page import Paired, anyio_backend, folder, paired, program, write

__all__ = ["anyio_backend", "folder", "paired", "program"]

pytestmark = pytest.mark.anyio


async def test_a_new_line_begins_anew_and_goes_on_with_the_words(
    paired: Paired, program: Path
) -> None:
    page = await paired.context.new_page()
    lines: list[tuple[WebSocketRoute, list[str]]] = []

    def overheard(line: WebSocketRoute) -> None:
        server, said = line.connect_to_server(), list[str]()
        lines.append((line, said))

        def up(message: str | bytes) -> None:
            said.append(json.loads(message).get("method", ""))
            server.send(message)

        line.on_message(up)

    await page.route_web_socket("**/words/**", overheard)
    await page.goto(f"{paired.address}#{program.stem}")
    await expect(page.locator("#feeds button").first).to_contain_text("80 km/h")
    await write(page, "80", "81")
    await expect(page.locator("#feeds button").first).to_contain_text("81 km/h")
    await lines[0][0].close()
    await expect(page.locator("#verdict")).to_contain_text("the desk is not heard")
    await expect(page.locator("#verdict")).to_contain_text("it passes")
    await write(page, "81", "82")
    await expect(page.locator("#feeds button").first).to_contain_text("82 km/h")
    (_, first), (_, second) = lines
    assert first[0] == second[0] == "initialize"
    assert "textDocument/didClose" not in second, "of a line before it"
    for said in (first, second):
        assert "textDocument/didChange" in said
    await page.close()
