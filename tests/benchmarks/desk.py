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
#: Keys that are typed on: so many in a row, and the times between them, in seconds.
IN_A_ROW = 5
APART_S = (0.15, 0.3)
#: With its windows, as a coach has it; Debian's package `chromium`.
WHOLE_BROWSER = "/usr/bin/chromium"


def browser_here() -> str:
    """The whole browser, or the same engine without windows where that is not installed."""
    return WHOLE_BROWSER if Path(WHOLE_BROWSER).exists() else CHROMIUM


#: The page's socket, with the moments when words of each version left, and when a picture came.
SOCKET = """() => {
  window.sent = new Map(); window.came = null;
  const version = (message) => Number(message.match(/"version":(\\d+)/)?.[1]);
  const send = WebSocket.prototype.send;
  WebSocket.prototype.send = function (message) {
    const changes = message.includes("textDocument/didChange");
    if (changes) window.sent.set(version(message), performance.now());
    send.call(this, message);
  };
  const listen = WebSocket.prototype.addEventListener;
  WebSocket.prototype.addEventListener = function (kind, heard) {
    if (kind !== "message") return listen.call(this, kind, heard);
    return listen.call(this, kind, (event) => {
      if (event.data.includes('"feedscript/seen"')) {
        window.came = { at: performance.now(), version: version(event.data) };
      }
      heard(event);
    });
  };
}"""
#: What is under way ends with the first picture of words that were sent after it began.
WATCH = """() => {
  window.began = []; window.took = [];
  // What was noted; where nothing was yet, what comes next. It waits for one answer only: what
  // is noted later stays for who asks then.
  window.measured = () => new Promise((done) => {
    const tell = () => { window.tell = null; done(window.took.splice(0)); };
    window.tell = tell;
    if (window.took.length) tell();
    setTimeout(() => { if (window.tell === tell) tell(); }, 20000);
  });
  const note = (list) => ({ timeStamp: at }) => {
    window.began.push({ list, at, heard: performance.now() });
  };
  addEventListener("keydown", note("words"), true);
  addEventListener("pointerup", note("words"), true);
  addEventListener("pointermove", (event) => {
    // The flight of one before, if that was not drawn, will never be.
    window.began = window.began.filter(({ list }) => list !== "flight");
    if (event.buttons) note("flight")(event);
  }, true);
  function shown(list, parts, ended) {
    const now = performance.now();
    const done = window.began.filter((one) => one.list === list && ended(one));
    window.began = window.began.filter((one) => !done.includes(one));
    const frame = new MessageChannel();
    frame.port1.onmessage = ({ data: begun }) => {
      const painted = performance.now();
      for (const one of done) {
        window.took.push([list, now - one.at, painted - one.at, ...parts(one, now, begun)]);
      }
      window.tell?.();
    };
    if (done.length) requestAnimationFrame((begun) => frame.port2.postMessage(begun));
  }
  // Until the browser hands the move over; from there; and whether that frame had begun by then.
  const flight = ({ at, heard }, now, begun) => [heard - at, now - heard, Number(begun <= heard)];
  new MutationObserver((changes) => {
    const added = changes.flatMap((one) => [...one.addedNodes]);
    if (added.some((node) => node.classList?.contains("ghost"))) {
      if (document.querySelector("#above .ghost polyline")) shown("flight", flight, () => true);
      return;
    }
    if (!window.came || document.querySelector("#court").classList.contains("stale")) return;
    const { at: came, version } = window.came, sent = window.sent.get(version);
    shown("words", ({ at }, now) => [sent - at, came - sent, now - came], ({ at }) => at < sent);
  }).observe(document.querySelector("#above"), { childList: true });
}"""


NOTHING_YET = "() => { window.began = []; window.took = []; }"


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
    parts as ``WATCH`` tells them; and the desk's processor until then."""

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


async def at_a_speed(page: Page, chance: random.Random) -> None:
    """The cursor behind some feed's speed, where another digit makes it another one."""
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
    await page.evaluate(NOTHING_YET)


async def keys(page: Page, times: int) -> list[Row]:
    """A digit more in the speed of a feed, and the next one of another feed."""
    chance, found = random.Random(2), []
    for _ in range(times):
        await at_a_speed(page, chance)
        began = busy_s()
        await page.keyboard.press(str(chance.randint(1, 9)))
        found += await measured(page, began)
        await asyncio.sleep(0.35)
    return found


async def typed_on(page: Page, times: int, apart_s: float) -> list[Row]:
    """Digits one after another, and then some of another feed: what follows upon one key may
    meet the next."""
    chance, found = random.Random(4), []
    for series in range(0, times, IN_A_ROW):
        await at_a_speed(page, chance)
        for _ in range(min(IN_A_ROW, times - series)):
            await page.keyboard.press(str(chance.randint(1, 9)))
            await asyncio.sleep(apart_s)
        await asyncio.sleep(1.0)
        found += await measured(page)
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
        await page.evaluate(NOTHING_YET)
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
        key_ms = 1000 * (busy_s() - began) / times
        in_rows = [(apart_s, await typed_on(page, times, apart_s)) for apart_s in APART_S]
        began = busy_s()
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
    for apart_s, rows in in_rows:
        drawn = [one.drawn for one in rows if one.about == "words"]
        print(told(f"keys {apart_s:.2f} s apart to picture, {len(drawn)} of {times}", drawn))
    under_way = [one for one in by_hand if one.about == "flight"]
    print(told("pointer to the flight under way in the page", [one.drawn for one in under_way]))
    print(told("  until the browser hands it over", [one.parts[0] for one in under_way]))
    print(told("  until its flight is in the page", [one.parts[1] for one in under_way]))
    same = sum(one.parts[2] for one in under_way)
    print(f"      in the very frame in which it was handed over: {same:.0f} of {len(under_way)}")
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
