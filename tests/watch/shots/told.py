"""What runs of tests.watch.shots.table came to: python -m tests.watch.shots.told --write

Films that another code made or judged are told apart, line by line.
"""

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
from tests.watch.shots.table import ENDS, KEPT, Told, read

TABLE = Path(__file__).with_name("shots.csv")
MARKS = ("<!-- shots -->", "<!-- end of shots -->")
CONFUSED = Path(__file__).with_name("confused.csv")
CONFUSED_MARKS = ("<!-- confused -->", "<!-- end of confused -->")

COLUMNS = (
    *(
        "film",
        "code",
        "hit",
        "seen",
        "suggested",
        "wrong",
        "sure %",
        "right %",
        "let go",
        "told as hit",
    ),
    *("median cm", "90 % cm", "worst cm", "in 95 % region", "not seen"),
)


def square(one: Told) -> float:
    """The Mahalanobis distance of what a landing is off, squared."""
    assert one.off_m is not None
    assert one.covariance_m2 is not None
    xx, xy, yy = one.covariance_m2
    off = np.array(one.off_m)
    return float(off @ np.linalg.solve([[xx, xy], [xy, yy]], off))


def row(name: str, code: str, told: Sequence[Told]) -> list[str]:
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
        code,
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
    places, codes = (
        dict.fromkeys(getattr(one, each) for one in told) for each in ("place", "code")
    )
    table = []
    for place in (*places, "all"):
        for code in codes:
            these = [one for one in told if one.code == code and place in (one.place, "all")]
            if these:
                table.append(row(place, code, these))
    return table


def confused(told: Sequence[Told]) -> list[list[str]]:
    """How many shots that ended so were told to have ended how; one that was let go is ``none``,
    and what is told of it is told falsely."""
    columns = (*(end for end in ENDS if end != "none"), "too close", "not seen")
    counts = Counter((one.true, _told_as(one)) for one in told)
    lines = [[end, *(str(counts[end, each]) for each in columns)] for end in ENDS]
    return [["ended", *columns], *lines]


def _told_as(one: Told) -> str:
    return "not seen" if one.why else one.suggested or "too close"


def as_csv(told: Sequence[Told], day: str) -> str:
    """The table as a file, with what was run."""
    seeds = {one.seed for one in told}
    films = len({(one.place, one.seed) for one in told})
    hit = sum(one.true != "none" for one in told)
    out = io.StringIO()
    out.write(f"# {day}, code {', '.join(sorted({one.code for one in told}))}\n")
    out.write(
        "# python -m tests.watch.shots.table --seed N; python -m tests.watch.shots.told --write\n"
    )
    out.write(f"# seeds {min(seeds)} to {max(seeds)}, {films} films of 1280 x 720 at 60 a second\n")
    out.write(f"# {hit} shots, and {len(told) - hit} balls that were let go\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerows([COLUMNS, *rows(told)])
    return out.getvalue()


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("paths", type=Path, nargs="*", default=[KEPT])
    asked.add_argument("--write", action="store_true", help="into the table's file and the chapter")
    options = asked.parse_args()
    told = [one for path in options.paths for one in read(path)]
    for line in (COLUMNS, *rows(told), *confused(told)):
        print("| " + " | ".join(line) + " |")
    for one in told:
        if one.suggested not in ("", one.true):
            print("wrong:", one)
    landed = [one for one in told if one.off_m is not None]
    print("mean square", np.mean([square(one) for one in landed]), "(2 is meant)")
    if options.write:
        table = as_csv(told, datetime.now(UTC).date().isoformat())
        TABLE.write_text(table)
        CONFUSED.write_text("".join(",".join(line) + "\n" for line in confused(told)))
        chapter = in_chapter(CHAPTER.read_text(), table, MARKS)
        CHAPTER.write_text(in_chapter(chapter, CONFUSED.read_text(), CONFUSED_MARKS))


if __name__ == "__main__":
    main()
