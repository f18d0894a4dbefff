"""What runs of tests.watch.shots.table came to: python -m tests.watch.shots.told shots.jsonl"""

from __future__ import annotations

import argparse
import csv
import io
from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from tests.watch.fit.filmed import WITHIN_95
from tests.watch.fit.told import CHAPTER, in_chapter
from tests.watch.shots.table import Told, read

TABLE = Path(__file__).with_name("shots.csv")
MARKS = ("<!-- shots -->", "<!-- end of shots -->")

COLUMNS = (
    *("film", "hit", "seen", "suggested", "wrong", "sure %", "right %", "let go", "told as hit"),
    *("median cm", "90 % cm", "worst cm", "in 95 % region", "not seen"),
)


def square(one: Told) -> float:
    """The Mahalanobis distance of what a landing is off, squared."""
    assert one.off_m is not None
    assert one.covariance_m2 is not None
    xx, xy, yy = one.covariance_m2
    off = np.array(one.off_m)
    return float(off @ np.linalg.solve([[xx, xy], [xy, yy]], off))


def row(name: str, told: Sequence[Told]) -> list[str]:
    """Counts, but for per cent and centimetres. ``sure``: how likely suggestions said that they
    are, on average; ``right``: how many of them were."""
    hit = [one for one in told if one.true != "none"]
    let_go = [one for one in told if one.true == "none"]
    seen = [one for one in hit if not one.why]
    suggested = [one for one in seen if one.suggested]
    wrong = [one for one in suggested if one.suggested != one.true]
    landed = [one for one in seen if one.off_m is not None]
    why = Counter(one.why for one in hit if one.why)
    shares = ["-", "-"]
    if suggested:
        sure = float(np.mean([one.sure for one in suggested]))
        shares = [f"{100 * sure:.0f}", f"{100 - 100 * len(wrong) / len(suggested):.0f}"]
    return [
        name,
        *(str(len(each)) for each in (hit, seen, suggested, wrong)),
        *shares,
        str(len(let_go)),
        str(sum(not one.why for one in let_go)),
        *_landings(landed),
        ", ".join(f"{count} {each.lower().replace('_', ' ')}" for each, count in why.items()),
    ]


def _landings(landed: Sequence[Told]) -> list[str]:
    if not landed:
        return ["-"] * 4
    off = 100 * np.array([np.hypot(*one.off_m) for one in landed if one.off_m is not None])
    inside = sum(square(one) <= WITHIN_95 for one in landed)
    figures = (np.median(off), np.quantile(off, 0.9), off.max())
    return [*(f"{one:.0f}" for one in figures), f"{inside} of {len(landed)}"]


def rows(told: Sequence[Told]) -> list[list[str]]:
    places = dict.fromkeys(one.place for one in told)
    table = [row(place, [one for one in told if one.place == place]) for place in places]
    return [*table, row("all", told)]


def as_csv(told: Sequence[Told], day: str) -> str:
    """The table as a file, with what was run."""
    seeds = {one.seed for one in told}
    films = len({(one.place, one.seed) for one in told})
    hit = sum(one.true != "none" for one in told)
    out = io.StringIO()
    out.write(f"# {day}, code {', '.join(sorted({one.code for one in told}))}\n")
    out.write(
        "# python -m tests.watch.shots.table shots.jsonl --seed N; "
        "python -m tests.watch.shots.told shots.jsonl --write\n"
    )
    out.write(f"# seeds {min(seeds)} to {max(seeds)}, {films} films of 1280 x 720 at 60 a second\n")
    out.write(f"# {hit} shots, and {len(told) - hit} balls that were let go\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerows([COLUMNS, *rows(told)])
    return out.getvalue()


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("paths", type=Path, nargs="+")
    asked.add_argument("--write", action="store_true", help="into the table's file and the chapter")
    options = asked.parse_args()
    told = [one for path in options.paths for one in read(path)]
    for line in (COLUMNS, *rows(told)):
        print("| " + " | ".join(line) + " |")
    for one in told:
        if one.suggested not in ("", one.true):
            print("wrong:", one)
    landed = [one for one in told if one.off_m is not None]
    print("mean square", np.mean([square(one) for one in landed]), "(2 is meant)")
    if options.write:
        table = as_csv(told, datetime.now(UTC).date().isoformat())
        TABLE.write_text(table)
        CHAPTER.write_text(in_chapter(CHAPTER.read_text(), table, MARKS))


if __name__ == "__main__":
    main()
