"""The chapter's table of accuracy is what the last run came to, and counts what it should."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence
from fnmatch import fnmatch
from pathlib import Path

import msgspec
import pytest

from tests.watch.fit.filmed import PHANTOM
from tests.watch.fit.table import CODE, KEPT, KINDS, Ball, Filmed, add, read, why_not
from tests.watch.fit.told import CHAPTER, TABLE, as_csv, in_chapter, is_false, row, rows
from tests.watch.shots.table import CODE as CODE_OF_SHOTS

GOOD = Ball(
    0,
    off_m=(0.03, 0.04),
    covariance_m2=(1e-3, 0.0, 1e-3),
    speed=(0.1, 0.1),
    top=(30.0, 40.0),
)


def test_the_chapter_shows_the_last_run() -> None:
    chapter = CHAPTER.read_text()
    assert chapter == in_chapter(chapter, TABLE.read_text())


def test_the_table_is_what_the_kept_balls_come_to() -> None:
    """Whoever adds films tells them too."""
    told = TABLE.read_text()
    assert told == as_csv(read(KEPT), day=told[2:12])


def test_every_film_is_kept_once_and_of_a_kind_that_can_be_made_again() -> None:
    films = read(KEPT)
    assert len({film.seed for film in films}) == len(films)
    assert {film.kind for film in films} <= {kind.name for kind in KINDS}


def test_films_are_read_as_they_were_kept(tmp_path: Path) -> None:
    balls = (GOOD, msgspec.structs.replace(GOOD, why="TOO_FEW"), Ball(PHANTOM, "NO_BALL"))
    films = [Filmed(kind="noon", seed=seed, code="x", balls=balls) for seed in (1, 2)]
    for film in films:
        add(tmp_path / "balls.jsonl", film)
    again = read(tmp_path / "balls.jsonl")
    assert [film.seed for film in again] == [1, 2]
    assert again[0].balls[0] == GOOD
    assert again[0].balls[1:] == (Ball(0, "TOO_FEW"), Ball(PHANTOM, "NO_BALL"))


@pytest.mark.parametrize(
    ("table", "code"), [("fit", CODE), ("shots", CODE_OF_SHOTS)], ids=["feeds", "shots"]
)
def test_all_code_of_flights_and_films_that_a_film_hangs_on_is_named(
    table: str, code: Sequence[str]
) -> None:
    """A row tells its code by the last commit to change these."""
    asked = f"import sys, tests.watch.{table}.table; print(*sys.modules)"
    told = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    parts = ("feedscript.flight.", "feedscript.watch.", "tests.watch.scene.")
    used = {each.replace(".", "/") for each in told.stdout.split() if each.startswith(parts)}
    files = {f"{each}.py" for each in used if Path(f"{each}.py").exists()}
    files -= {f"feedscript/watch/frames/{only_told}.py" for only_told in ("pages", "sound")}
    assert len(files) > 30
    assert {one for one in files if not any(fnmatch(one, each) for each in code)} == set()


def test_a_film_that_cannot_be_made_is_told_from_one_that_can() -> None:
    """One of its feeds would have to land where no ball of that speed comes down."""
    (kind,) = (kind for kind in KINDS if kind.rate_hz == 30)
    assert "nothing reaches" in why_not(kind, 620014)
    assert not why_not(kind, 620015, balls=1)


def test_what_another_code_made_is_told_apart() -> None:
    films = [
        Filmed(kind=kind, seed=seed, code=code, balls=(GOOD,))
        for seed, (kind, code) in enumerate([("noon", "x"), ("noon", "y"), ("clay", "y")])
    ]
    named = [line[:3] for line in rows(films)]
    assert named == [
        ["noon", "x", "1"],
        ["noon", "y", "1"],
        ["clay", "y", "1"],
        ["all", "x", "1"],
        ["all", "y", "2"],
    ]


def test_what_is_far_off_and_sure_of_itself_is_false_and_so_is_what_nobody_fed() -> None:
    far = msgspec.structs.replace(GOOD, off_m=(0.0, 0.8))
    unsure = msgspec.structs.replace(far, covariance_m2=(0.1, 0.0, 0.1))
    phantom = Ball(PHANTOM)
    unseen = msgspec.structs.replace(phantom, why="TOO_FEW")
    assert [is_false(one) for one in (GOOD, far, unsure, phantom, unseen)] == [
        False,
        True,
        False,
        True,
        False,
    ]


def test_a_row_counts_feeds_and_regions() -> None:
    outside = msgspec.structs.replace(GOOD, off_m=(0.3, 0.4))
    missed = msgspec.structs.replace(GOOD, why="NOT_LIKELY")
    told = row("noon", "x", [GOOD, GOOD, GOOD, outside, missed])
    shares = ["80 (38 to 96)", "75 (30 to 95)"]  # Wilson's intervals, reckoned by hand
    assert told[:8] == ["noon", "x", "5", shares[0], "5.0", "36.5", "50.0", shares[1]]
    assert told[10] == "100 (51 to 100)"
    assert told[-4:] == ["0", "0", "missed: seen, 90 %", "1 not likely"]


def test_goals_that_are_met_are_said_to_be() -> None:
    never = Ball(PHANTOM)
    missed = msgspec.structs.replace(never, why="TOO_FEW")
    assert row("noon", "x", [GOOD, missed])[-2] == "met"
    assert row("noon", "x", [GOOD, never])[-2] == "missed: false"
