"""What runs of tests.watch.fit.table came to: python -m tests.watch.fit.told --write

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
from numpy.typing import NDArray

from tests.watch.fit.filmed import WITHIN_95
from tests.watch.fit.table import KEPT, Ball, Filmed, read

Floats = NDArray[np.float64]
TABLE = Path(__file__).with_name("accuracy.csv")
CHAPTER = Path("feedscript/watch/README.md")
BEGIN, END = "<!-- accuracy -->", "<!-- end of accuracy -->"
#: A landing that is off by more, and lies so far outside its region, was another thing's.
FALSE_M, FALSE_SQUARE = 0.5, 25.0


def square(ball: Ball) -> float:
    """The Mahalanobis distance of what a landing is off, squared."""
    xx, xy, yy = ball.covariance_m2
    off = np.array(ball.off_m)
    return float(off @ np.linalg.solve([[xx, xy], [xy, yy]], off))


def is_false(ball: Ball) -> bool:
    if ball.why:
        return False
    return not ball.fed or (np.hypot(*ball.off_m) > FALSE_M and square(ball) > FALSE_SQUARE)


def within(share_of: int, count: int) -> tuple[float, float]:
    """Between which the share lies in 95 of 100 cases: E. B. Wilson, J. Am. Stat. Assoc. 22 (1927)
    209, the score interval."""
    if not count:
        return 0.0, 1.0
    share, z2 = share_of / count, 1.96**2
    middle = (share + z2 / (2 * count)) / (1 + z2 / count)
    half = np.sqrt(z2 * (share * (1 - share) / count + z2 / (4 * count**2))) / (1 + z2 / count)
    return float(middle - half), float(middle + half)


def percent(share_of: int, count: int) -> str:
    """A share with its interval."""
    low, high = within(share_of, count)
    return f"{100 * share_of / count:.0f} ({100 * low:.0f} to {100 * high:.0f})"


COLUMNS = (
    *(
        "film",
        "code",
        "feeds",
        "measured %",
        "median cm",
        "90 % cm",
        "worst cm",
        "in 95 % region %",
    ),
    *("speed sd m/s", "top spin sd rpm", "top spin in its 95 % %", "bounce 90 % ms"),
    *("never fed", "false", "goals", "not measured"),
)
#: What is meant to be reached at 1080p60 from behind the receiver.
MEDIAN_CM, NINETY_CM, MEASURED = 5.0, 12.0, 0.95


def goals(measured: float, off_cm: Floats, false: int) -> str:
    """Met, or which are not."""
    missed = {
        "seen": measured < MEASURED,
        "median": np.median(off_cm) > MEDIAN_CM,
        "90 %": np.quantile(off_cm, 0.9) > NINETY_CM,
        "false": false > 0,
    }
    names = ", ".join(name for name, one in missed.items() if one)
    return f"missed: {names}" if names else "met"


def row(name: str, code: str, balls: Sequence[Ball]) -> list[str]:
    fed = [ball for ball in balls if ball.fed]
    found = [ball for ball in fed if not ball.why]
    false = sum(map(is_false, balls))
    why = Counter(ball.why for ball in fed if ball.why)
    told = ", ".join(f"{count} {each.lower().replace('_', ' ')}" for each, count in why.items())
    head = [name, code, str(len(fed)), percent(len(found), len(fed))]
    tail = [str(len(balls) - len(fed)), str(false)]
    if not found:
        return [*head, *["-"] * 8, *tail, "missed: seen", told]
    off = 100 * np.array([np.hypot(*ball.off_m) for ball in found])
    inside = sum(square(ball) <= WITHIN_95 for ball in found)
    speed, top, bounce = (
        np.array([getattr(ball, each) for ball in found]) for each in ("speed", "top", "bounce")
    )
    sure = int((np.abs(top[:, 0]) < 1.96 * top[:, 1]).sum())
    return [
        *head,
        f"{np.median(off):.1f}",
        f"{np.quantile(off, 0.9):.1f}",
        f"{off.max():.1f}",
        percent(inside, len(found)),
        f"{speed[:, 0].std():.2f}",
        f"{top[:, 0].std():.0f}",
        percent(sure, len(found)),
        f"{np.quantile(np.abs(bounce[:, 0]), 0.9):.1f}",
        *tail,
        goals(len(found) / len(fed), off, false),
        told,
    ]


def rows(films: Sequence[Filmed]) -> list[list[str]]:
    kinds, codes = ({getattr(film, each): None for film in films} for each in ("kind", "code"))
    table = []
    for kind in (*kinds, "all"):
        for code in codes:
            these = [film for film in films if film.code == code and kind in (film.kind, "all")]
            if these:
                table.append(row(kind, code, [ball for film in these for ball in film.balls]))
    return table


def as_csv(films: Sequence[Filmed], day: str) -> str:
    """The table as a file, with what was run."""
    seeds = [film.seed for film in films]
    balls = [ball for film in films for ball in film.balls]
    fed = sum(ball.fed for ball in balls)
    out = io.StringIO()
    out.write(f"# {day}, code {', '.join(sorted({film.code for film in films}))}\n")
    out.write(
        "# python -m tests.watch.fit.table --seed N; python -m tests.watch.fit.told --write\n"
    )
    out.write(f"# seeds {min(seeds)} to {max(seeds)}, {len(films)} films\n")
    out.write(f"# {fed} feeds, and {len(balls) - fed} looked for that nobody fed\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerows([COLUMNS, *rows(films)])
    return out.getvalue()


def as_section(table: str) -> str:
    """The chapter's own part, made from that file; of one that says what was run, with that."""
    lines = table.splitlines()
    said = [line[2:] for line in lines if line.startswith("#")]
    head, *body = csv.reader(line for line in lines if not line.startswith("#"))
    rule = ["---", *["---:"] * (len(head) - 2), "---"]
    told = ["| " + " | ".join(row) + " |" for row in (head, rule, *body)]
    if said:
        told += ["", f"By `{said[1]}` ({said[0]}; {said[2]}; {said[3]})."]
    return "\n".join(told)


def in_chapter(chapter: str, table: str, marks: tuple[str, str] = (BEGIN, END)) -> str:
    begin, end = marks
    before, rest = chapter.split(begin)
    _, after = rest.split(end)
    return f"{before}{begin}\n{as_section(table)}\n{end}{after}"


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("paths", type=Path, nargs="*", default=[KEPT])
    asked.add_argument("--write", action="store_true", help="into the table's file and the chapter")
    told = asked.parse_args()
    films = [film for path in told.paths for film in read(path)]
    for line in (COLUMNS, *rows(films)):
        print("| " + " | ".join(line) + " |")
    found = [ball for film in films for ball in film.balls if ball.fed and not ball.why]
    print("mean square", np.mean([square(ball) for ball in found]), "(2 is meant)")
    for each in ("speed", "top", "side", "bounce"):
        values = np.array([getattr(ball, each) for ball in found])
        print(
            each, "off / sd: sd", (values[:, 0] / values[:, 1]).std(), "mean", values[:, 0].mean()
        )
    print("cpu a ball", np.mean([film.cpu_s for film in films if film.cpu_s]), "where it is known")
    if told.write:
        table = as_csv(films, datetime.now(UTC).date().isoformat())
        TABLE.write_text(table)
        CHAPTER.write_text(in_chapter(CHAPTER.read_text(), table))


if __name__ == "__main__":
    main()
