"""How reading a program grows with its length, and how far it is from CPython's own parser.

Run by hand: ``python tests/benchmarks/language.py``. CPU seconds of this process, best of three;
the growth is that of the whole reading, names and values included.
"""

from __future__ import annotations

import ast
import gc
import subprocess
import sys
import time
from collections.abc import Callable

from feedscript.language import read
from feedscript.language.parse.source import Source
from feedscript.language.syntax import parse
from feedscript.language.tools.formatter import format_text

HEAD = """\
feedscript 1
court { surface hard  altitude 0 m  air 20 C }
balls { type 2  load 60 }
launcher { stands 1 m behind centre mark }
let gap = 5 s
feed deep { land 3 m inside baseline, on centre line  speed 80 km/h  spin top 300 rpm }
"""


def program(lines: int) -> str:
    """A program of so many lines: a tenth of them feeds of five lines, the rest steps."""
    feeds = max(1, lines // 50)
    out = [HEAD]
    for n in range(feeds):
        out.append(
            f"feed f{n} {{\n    land {2 + n % 3} m inside baseline, {1 + n % 2}.5 m inside ad "
            f"sideline\n    speed {70 + n % 20} km/h\n    spin top {300 + n} rpm\n}}\n"
        )
    out.append("lesson {\n    show speed of deep\n")
    steps = lines - 6 - 5 * feeds - 3
    for n in range(steps):
        out.append(
            f"    send f{n % feeds} after gap + {n % 7} s / 2\n"
            if n % 4
            else f"    repeat {2 + n % 5} {{ send deep after gap }}\n"
        )
    return "".join(out) + "}\n"


def python(lines: int) -> str:
    """As many lines of Python that say about as much each."""
    return "\n".join(
        f"send(f{n % 50}, after=gap + {n % 7} / 2)" if n % 4 else f"repeat({n % 5}, deep, gap)"
        for n in range(lines)
    )


def best(act: Callable[[], object]) -> float:
    times = []
    for _ in range(3):
        gc.collect()
        began = time.process_time()
        act()
        times.append(time.process_time() - began)
    return min(times)


def growth() -> None:
    print(
        f"{'lines':>8} {'parse':>9} {'read':>9} {'us a line':>10} {'format':>9} {'ast.parse':>10}"
    )
    per_line, ratio = [], 0.0
    for lines in (1_000, 10_000, 100_000):
        text, other = program(lines), python(lines)
        made, diagnostics = read(text, "long.feed")
        assert made is not None, diagnostics[:3]
        parsed = best(lambda text=text: parse(Source("long.feed", text)))
        whole = best(lambda text=text: read(text, "long.feed"))
        formatted = best(lambda text=text: format_text(text, "long.feed"))
        theirs = best(lambda other=other: ast.parse(other))
        per_line.append(whole / lines)
        print(
            f"{lines:>8} {parsed:>8.3f}s {whole:>8.3f}s {whole / lines * 1e6:>10.1f} "
            f"{formatted:>8.3f}s {theirs:>9.3f}s"
        )
        if lines == 10_000:
            ratio = whole / theirs, parsed / theirs
    print(
        f"time a line, most over least: {max(per_line) / min(per_line):.2f} (wanted: at most 1.5)"
    )
    print(
        f"10,000 lines over ast.parse: read {ratio[0]:.1f}, parse alone {ratio[1]:.1f} (wanted: 5)"
    )


def start() -> None:
    """A whole process that reads a small program, against importing numpy and lark."""
    code = "from feedscript.language import read; read('feedscript 1\\nlesson { collect }', 'x')"

    def run(text: str) -> float:
        times = []
        for _ in range(5):
            began = time.perf_counter()
            subprocess.run([sys.executable, "-c", text], check=True)
            times.append(time.perf_counter() - began)
        return min(times)

    empty, ours, theirs = run("pass"), run(code), run("import numpy, lark")
    print(f"process: empty {empty:.3f} s, read {ours:.3f} s, import numpy and lark {theirs:.3f} s")


if __name__ == "__main__":
    growth()
    start()
