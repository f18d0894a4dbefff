"""What a coach reads of a lesson's films, and who does not."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pytest

from feedscript.court.lines import COURTS
from feedscript.journal.clips import ClipKept, clips_folder, keep_clip
from feedscript.journal.store import SessionStart, open_journal, read_journal
from feedscript.review.drawing.svg import write
from feedscript.review.report.film.landed import landed_of
from feedscript.review.report.film.picture import landed_picture
from feedscript.review.report.film.section import REASONS, film_section
from feedscript.review.report.lesson import Lesson, read_lesson
from feedscript.tongues.tongue import Tongues
from feedscript.watch.fit.measured import Why
from feedscript.watch.shots.seen import WhyNot
from tests.review.commands import keep, run
from tests.review.report.film.filmed import BALLS, write_filmed


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("filmed") / "journal.sqlite"
    write_filmed(path)
    return path


@pytest.fixture(scope="module")
def lesson(path: Path) -> Lesson:
    journal = read_journal(path)
    try:
        return read_lesson(journal)
    finally:
        journal.close()


@pytest.fixture(scope="module")
def page(path: Path) -> str:
    out = path.with_name("report.html")
    run("--journal", path, "-o", out)
    return out.read_text("utf-8")


def cells(page: str, head: str) -> list[list[str]]:
    """The rows of the first table after a heading."""
    body = page[page.index(f">{head}<") :]
    body = body[body.index("<tbody") : body.index("</tbody>")]
    rows = re.findall(r"<tr[^>]*>(.*?)</tr>", body)
    return [re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row) for row in rows]


def test_the_page_shows_where_feeds_landed_bias_apart_from_scatter(page: str) -> None:
    ((feed, launcher, fed, seen, bias, scatter),) = cells(page, "Where feeds landed, by film")
    assert (feed, launcher, fed, seen) == ("deep", "1", str(BALLS), str(BALLS - 2))
    assert re.fullmatch(r"0\.[345]\d m long, 0\.[01]\d m left, clear", bias)
    assert re.fullmatch(r"0\.[01]\d by 0\.[1-3]\d m", scatter)
    assert "Not seen: 1 (two ways fit what was seen) and 1 (outside the picture)." in page


def test_a_film_suggests_beside_the_taps_and_changes_none(page: str, path: Path) -> None:
    assert cells(page, "Shots, by film") == [
        [name, "6", "2", "1", "1", "1", "1"] for name in ("Ash", "Birch")
    ]
    assert cells(page, "Shots that differ") == [
        ["2", "Ash", "long", "in", "97&nbsp;%"],
        ["8", "Birch", "long", "in", "97&nbsp;%"],
    ]
    told = json.loads(run("--journal", path, "--format", "json"))
    assert [(one["in"], one["long"], one["recorded"]) for one in told["players"]] == [
        (2, 1, 5),
        (2, 1, 5),
    ]
    assert [one["tapped"] for one in told["shots_that_differ"]] == ["long", "long"]
    assert told["feeds_by_film"][0]["bias"]["clear"]


def test_the_terminal_says_it_too(path: Path) -> None:
    said = run("--journal", path)
    assert f"deep by film: {BALLS - 2} of {BALLS} seen, off on average 0." in said
    assert "Birch's shots by film: 2 as tapped, 1 differ, 1 not tapped" in said
    assert "film" not in run("--journal", path, "--player", "Ash")


def test_a_sheet_to_hand_out_has_nothing_of_films(path: Path, tmp_path: Path) -> None:
    out = tmp_path / "ash.html"
    run("--journal", path, "--player", "Ash", "-o", out)
    assert "by film" not in out.read_text("utf-8").lower()


def test_whoever_asks_gets_what_films_told_of_one_player(path: Path, tmp_path: Path) -> None:
    for ending in ("json", "csv"):
        keep("export", "-o", tmp_path / f"ash.{ending}", "--player", "ash", "--journal", path)
    (lesson,) = json.loads((tmp_path / "ash.json").read_text("utf-8"))["lessons"]
    shots = [ball["by_film"]["shot"] for ball in lesson["every_ball"]]
    assert [shot["result"] for shot in shots] == ["in", "in", "net", "left", None, "in"]
    assert shots[0]["x_m"] == 1.25
    rows = list(csv.DictReader(io.StringIO((tmp_path / "ash.csv").read_text("utf-8"))))
    assert [row["shot_by_film"] for row in rows] == ["in", "in", "net", "", "", "in"]
    assert rows[0]["shot_y_m"] == "-9.5"
    assert float(rows[0]["feed_y_m"]) == pytest.approx(10.4, abs=0.8)
    assert rows[3]["feed_y_m"] == ""
    assert "Birch" not in (tmp_path / "ash.json").read_text("utf-8")


def test_a_forgotten_players_shots_are_in_no_report(path: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy.sqlite"
    keep("back-up", "-o", copy, "--journal", path)
    said = keep("forget", "Ash", "--journal", copy)
    assert "deleted with it: 6 shots" in said
    told = json.loads(run("--journal", copy, "--format", "json"))
    assert [one["player"] for one in told["shots_by_film"]] == ["Birch"]
    assert told["feeds_by_film"][0]["fed"] == BALLS


def test_every_reason_has_words() -> None:
    slugs = {one.name.lower().replace("_", "-") for one in (*Why, *WhyNot)}
    assert slugs <= set(REASONS)


def test_it_is_told_in_other_languages(lesson: Lesson) -> None:
    for language, words in (("de", "gelandet"), ("fr", "atterri"), ("es", "cayeron")):
        tongue = Tongues().named(language)
        assert tongue is not None
        told = film_section(lesson, tongue)
        assert words in told
        assert "Not seen" not in told
        assert "crosses asked" not in told


def test_each_ball_is_drawn_where_it_landed_beside_where_it_was_asked_to(lesson: Lesson) -> None:
    (landed,) = landed_of(lesson.balls)
    drawn = write(landed_picture(landed, COURTS["singles"]))
    found = re.findall(r'<circle cx="([-\d.]+)" cy="([-\d.]+)"', drawn)
    discs = [(float(x), float(y)) for x, y in found]
    assert len(discs) == len(landed.places)
    # Two balls give the scale, and every other must agree with it.
    (one, other), (a, b) = landed.places[:2], discs[:2]
    scale = (b[0] - a[0]) / (other.landing_m[0] - one.landing_m[0])
    assert scale > 0  # to the right is right
    for place, disc in zip(landed.places, discs, strict=True):
        x = a[0] + scale * (place.landing_m[0] - one.landing_m[0])
        y = a[1] - scale * (place.landing_m[1] - one.landing_m[1])
        assert disc == pytest.approx((x, y), abs=0.6)


def test_whoever_asks_is_told_which_clips_there_are(tmp_path: Path) -> None:
    """Of every lesson that the player was in, since a clip shows whoever stood about: not only of
    the player's own balls; none whose file has gone, and none of other lessons."""
    path, out = tmp_path / "journal.sqlite", tmp_path / "ash.json"
    write_filmed(path)
    journal = open_journal(path)
    journal.begin_session(
        SessionStart(
            token=3,
            begun_utc_s=2e9,
            title="Without Ash (invented)",
            source="x.feed",
            rehearsal=False,
            plan=b"{}",
            group_json='{"players":[{"name":"Birch"}]}',
        )
    )
    for number, ball in ((1, 2), (1, 8), (1, 9), (2, 1)):
        file = clips_folder(path, number) / f"ball-{ball}.jpg"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(b"picture")
        keep_clip(journal, number, ClipKept(feed_id=ball, file=file.name, utc_s=2e9))
    journal.close()
    (clips_folder(path, 1) / "ball-9.jpg").unlink()
    words = ("export", "-o", out, "--player", "ash", "--journal", path)
    said = keep(*words)
    assert f"{clips_folder(path, 1)}, balls 2, 8\n" in said
    assert "lesson 2" not in said
    told = json.loads(keep(*words, "--format", "json"))
    files = [str(clips_folder(path, 1) / f"ball-{ball}.jpg") for ball in (2, 8)]
    assert told["clips"] == [{"lesson": 1, "files": files}]
    (lesson,) = json.loads(out.read_text("utf-8"))["lessons"]
    assert [(one["ball"], one["file"]) for one in lesson["clips"]] == [
        (2, "ball-2.jpg"),
        (8, "ball-8.jpg"),
    ]
