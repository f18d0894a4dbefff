"""From a key or a drag to the new verdict and picture at the desk, and the flight under the hand.

Run by hand: `python tests/benchmarks/desk.py [--times N]`. Real Chromium on a real desk, a process
of its own, with an invented program of 40 feeds and one of an hour with three stations and twelve
players (those of `check.py`). Times are the page's own clock: from the browser's time stamp of the
key or of letting go, to the picture of the new words in the page's document (and, beside it, to
the next frame painted after that). For a landing under way: from the pointer's event to its flight
in the document, and to the frame. Every edit is new: none is read from what was checked before.

The way of a key is told in parts too: until its words are sent, until the desk's answer has come,
until that is drawn.

Beside them stands processor time, which depends less on who else uses the machine: of the same
edits in this process, checked afresh and with what earlier checks have worked out; and of the whole
desk for each key and drag, up to the picture and with all that the page asks for after it.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import random
import re
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import psutil
from playwright.async_api import Page, async_playwright, expect

sys.path.insert(0, str(Path(__file__).parents[2]))

from feedscript.desk.seen import seen
from feedscript.desk.serve import answer_promptly
from feedscript.editor.document import open_document
from feedscript.memo import Memo
from tests.benchmarks.check import forty, hour
from tests.console.browser import CHROMIUM, QUIET
from tests.desk.desk_process import desk_on

PLAYERS = 12
#: With its windows, as a coach has it; Debian's package `chromium`.
WHOLE_BROWSER = "/usr/bin/chromium"


def browser_here() -> str:
    """The whole browser, or the same engine without windows where that is not installed."""
    return WHOLE_BROWSER if Path(WHOLE_BROWSER).exists() else CHROMIUM


#: The page's socket, with the moments when words left and a picture came.
SOCKET = """() => {
  const send = WebSocket.prototype.send;
  WebSocket.prototype.send = function (message) {
    if (message.includes("textDocument/didChange")) window.sent = performance.now();
    send.call(this, message);
  };
  const listen = WebSocket.prototype.addEventListener;
  WebSocket.prototype.addEventListener = function (kind, heard) {
    if (kind !== "message") return listen.call(this, kind, heard);
    return listen.call(this, kind, (event) => {
      if (event.data.includes('"feedscript/seen"')) window.came = performance.now();
      heard(event);
    });
  };
}"""
WATCH = """() => {
  window.began = null; window.took = [];
  // What was noted; where nothing was yet, what comes next. It waits for one answer only: what
  // is noted later stays for who asks then.
  window.measured = () => new Promise((done) => {
    const tell = () => { window.tell = null; done(window.took.splice(0)); };
    window.tell = tell;
    if (window.took.length) tell();
    setTimeout(() => { if (window.tell === tell) tell(); }, 20000);
  });
  const note = (list) => (event) => { window.began = { list, at: event.timeStamp }; };
  addEventListener("keydown", note("words"), true);
  addEventListener("pointerup", note("words"), true);
  addEventListener("pointermove", (event) => {
    if (event.buttons) window.began = { list: "flight", at: event.timeStamp };
  }, true);
  const took = (list) => () => {
    const begun = window.began;
    if (begun?.list !== list) return;
    if (list === "flight" && !document.querySelector("#above .ghost polyline")) return;
    if (list === "words" && document.querySelector("#court").classList.contains("stale")) return;
    window.began = null;
    const now = performance.now(), drawn = now - begun.at;
    const { sent, came } = window;
    const parts = list === "words" ? [sent - begun.at, came - sent, now - came] : [];
    const frame = new MessageChannel();
    frame.port1.onmessage = () => {
      window.took.push([list, drawn, performance.now() - begun.at, ...parts]);
      window.tell?.();
    };
    requestAnimationFrame(() => frame.port2.postMessage(null));
  };
  new MutationObserver((changes) => {
    const added = changes.flatMap((one) => [...one.addedNodes]);
    took(added.some((node) => node.classList?.contains("ghost")) ? "flight" : "words")();
  }).observe(document.querySelector("#above"), { childList: true });
}"""


def told(name: str, values: Sequence[float]) -> str:
    """Median, 95th percentile and greatest."""
    ranked = sorted(values)
    if not ranked:
        return f"    {name:58} nothing was measured"
    at = [ranked[min(len(ranked) - 1, int(share * len(ranked)))] for share in (0.5, 0.95)]
    return f"    {name:58} p50 {at[0]:6.1f}  p95 {at[1]:6.1f}  most {ranked[-1]:6.1f} ms"


def edits(text: str, times: int) -> list[str]:
    """The text with the speed of one feed another, each time."""
    chance, made = random.Random(1), []
    for _ in range(times):
        spot = chance.choice(list(re.finditer(r"speed (\d+) km/h", text)))
        made.append(f"{text[: spot.start(1)]}{chance.uniform(80, 94):.3f}{text[spot.end(1) :]}")
    return made


def in_process(text: str, times: int) -> None:
    path = Path("desk.feed")
    memo, fresh, quick = Memo(), [], []
    seen(open_document(path, text, memo=memo))
    for edited in edits(text, times):
        for kept, took in ((Memo(), fresh), (memo, quick)):
            began = time.process_time()
            seen(open_document(path, edited, memo=kept))
            took.append((time.process_time() - began) * 1000)
    print(told("processor, checked afresh", fresh))
    print(told("processor, with what was worked out before", quick))


class Row(NamedTuple):
    """One key, drag or step of a drag, in milliseconds: to the document, to the frame after it, its
    parts; and the desk's processor until then."""

    about: str
    drawn: float
    framed: float
    parts: tuple[float, ...]
    busy: float = 0.0


async def measured(page: Page, began: float = 0.0) -> list[Row]:
    """What was noted since, once it has come; the page is not disturbed by asking again."""
    found = await page.evaluate("() => window.measured()")
    busy = 1000 * (busy_s() - began)
    return [Row(*one[:3], tuple(one[3:]), busy) for one in found]


#: The cursor behind the speed of one of the lines in sight, and its words; "" where there is none.
AT_A_SPEED = """(share) => {
  const lines = [...document.querySelectorAll("#words .cm-line")].filter((line) => {
    const { top, bottom } = line.getBoundingClientRect();
    const { top: from, bottom: to } = line.closest(".cm-scroller").getBoundingClientRect();
    return /speed \\d/.test(line.textContent) && top >= from && bottom <= to;
  });
  if (!lines.length) return "";
  const line = lines[Math.floor(share * lines.length)];
  const found = line.textContent.match(/speed \\d+(\\.\\d+)?/);
  const text = document.createTreeWalker(line, NodeFilter.SHOW_TEXT);
  let node, end = found.index + found[0].length;
  while ((node = text.nextNode()) && end > node.length) end -= node.length;
  document.querySelector("#words .cm-content").focus();
  getSelection().collapse(node, end);
  return found[0];
}"""


async def keys(page: Page, times: int) -> list[Row]:
    """A digit more in the speed of a feed, and the next one of another feed."""
    chance, found = random.Random(2), []
    for _ in range(times):
        written = ""
        while not written:
            await page.locator("#words .cm-scroller").evaluate(
                "(words, share) => { words.scrollTop = share * words.scrollHeight; }",
                chance.random(),
            )
            await asyncio.sleep(0.1)
            written = await page.evaluate(AT_A_SPEED, chance.random())
        if "." not in written:
            await page.keyboard.insert_text(".5")
            await asyncio.sleep(1.0)
        await page.evaluate("() => { window.began = null; window.took = []; }")
        began = busy_s()
        await page.keyboard.press(str(chance.randint(1, 9)))
        found += await measured(page, began)
        await asyncio.sleep(0.35)
    return found


async def drags(page: Page, times: int) -> list[Row]:
    """A landing somewhere else: while it is under way, and when it is let go."""
    chance, found = random.Random(3), []
    feeds = page.locator("#above [data-index]")
    for _ in range(times):
        feed = feeds.nth(chance.randrange(await feeds.count()))
        box = await feed.locator("circle").last.bounding_box()
        assert box is not None
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        await page.mouse.move(x, y)
        await asyncio.sleep(0.3)
        await page.mouse.down()
        for step in range(1, 16):
            await page.mouse.move(
                x + step * chance.uniform(-2, 1), y + step * chance.uniform(-2, 2)
            )
            await asyncio.sleep(0.03)
        found += [one for one in await measured(page) if one.about == "flight"]
        began = busy_s()
        await page.mouse.up()
        found += [one for one in await measured(page, began) if one.about == "words"]
        await asyncio.sleep(0.35)
    return found


def busy_s() -> float:
    """Processor time of the desk that was started: Linux counts it to the nanosecond in
    ``schedstat`` of every thread (its Documentation/scheduler/sched-stats)."""
    desks = [one.pid for one in psutil.Process().children() if "desk" in one.cmdline()]
    threads = [one for pid in desks for one in Path(f"/proc/{pid}/task").glob("*/schedstat")]
    return sum(int(one.read_text("ascii").split()[0]) for one in threads) / 1e9


async def in_browser(link: str, name: str, times: int) -> None:
    expect.set_options(timeout=60_000)  # a machine with much to do starts slowly
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=browser_here(), args=QUIET)
        page = await browser.new_page(viewport={"width": 1280, "height": 800})
        await page.add_init_script(f"({SOCKET})()")
        await page.goto(link)
        await expect(page.locator("#verdict")).to_contain_text("it passes")
        await page.evaluate("(name) => { location.hash = name; }", name)
        await page.reload()
        await expect(page.locator("#above [data-index]")).not_to_have_count(0)
        await page.evaluate(WATCH)
        began = busy_s()
        by_keys = await keys(page, times)
        key_ms, began = 1000 * (busy_s() - began) / times, busy_s()
        by_hand = await drags(page, times)
        drag_ms = 1000 * (busy_s() - began) / times
        await browser.close()
    for about, rows, whole in (("key", by_keys, key_ms), ("landing let go", by_hand, drag_ms)):
        here = [one for one in rows if one.about == "words"]
        print(told(f"{about} to verdict and picture in the page", [one.drawn for one in here]))
        for number, part in enumerate(("words sent", "the desk's answer", "that drawn")):
            print(told(f"  until {part}", [one.parts[number] for one in here]))
        print(told(f"{about} to the frame after it", [one.framed for one in here]))
        print(told("  processor of the desk until then", [one.busy for one in here]))
        print(f"      processor of the desk with all that follows: {whole:.0f} ms each")
    under_way = [one for one in by_hand if one.about == "flight"]
    print(told("pointer to the flight under way in the page", [one.drawn for one in under_way]))
    print(told("pointer to the frame after it", [one.framed for one in under_way]))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=40)
    times = parser.parse_args().times
    programs = {
        "forty": forty(40),
        "hour": hour(40).replace("group { 12 players", f"group {{ {PLAYERS} players"),
    }
    answer_promptly()
    print(f"browser: {browser_here()}")
    print(f"load of this machine: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    for name, text in programs.items():
        print(f"{name}:")
        in_process(text, times)
        # A folder each: what was dragged about in the one before may not pass any more.
        with tempfile.TemporaryDirectory() as folder:
            Path(folder, f"{name}.feed").write_text(text, "utf-8")
            with desk_on(Path(folder)) as link:
                asyncio.run(in_browser(link, name, times))


if __name__ == "__main__":
    main()
