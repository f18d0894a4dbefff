"""What films told of a lesson: added, never replaced; gone with the player whom it shows."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from feedscript.diagnostics import FeedscriptError
from feedscript.journal.clips import ClipKept, clips_folder, clips_of, keep_clip
from feedscript.journal.films import (
    Film,
    LandingSeen,
    ShotSeen,
    films_of,
    keep_film,
    landings_seen,
    shots_seen,
)
from feedscript.journal.retention import back_up, delete_lessons, forget_everyone, forget_player
from feedscript.journal.store import Journal, SessionStart, open_journal
from feedscript.plan.model import Result
from tests.journal.test_keeping import NAME, write_everywhere
from tests.review.calendar import write_ball


def film(letter: str, utc_s: float = 5.0) -> Film:
    return Film(utc_s=utc_s, made_by="feedscript watch 0.1.0", sha256=letter * 64)


def landing(feed_id: int, y_m: float) -> LandingSeen:
    return LandingSeen(
        feed_id=feed_id,
        x_m=0.5,
        y_m=y_m,
        xx_m2=4e-4,
        xy_m2=1e-5,
        yy_m2=9e-4,
        camera_xx_m2=1e-4,
        camera_xy_m2=0.0,
        camera_yy_m2=4e-4,
        speed_mps=22.0,
        speed_sd_mps=0.2,
        flight_s=1.1,
        flight_sd_s=0.004,
    )


def shot(feed_id: int, result: Result = Result.LONG) -> ShotSeen:
    return ShotSeen(
        feed_id=feed_id,
        result=result,
        sure=0.99,
        x_m=1.0,
        y_m=-12.5,
        xx_m2=0.01,
        xy_m2=0.0,
        yy_m2=0.04,
    )


@pytest.fixture
def journal(tmp_path: Path) -> Journal:
    """A lesson of balls 1 (Zoë), 2 (Birch) and 3 (Zoë); one of nobody's."""
    journal = open_journal(tmp_path / "journal.sqlite")
    write_everywhere(journal)
    return journal


def test_measured_again_replaces_nothing_and_the_newest_counts(journal: Journal) -> None:
    keep_film(journal, 1, film("a"), [landing(1, 9.0), landing(2, 9.5)], [shot(1)])
    keep_film(journal, 1, film("b", 6.0), [landing(1, 9.1)], [shot(1, Result.IN)])
    assert [one.sha256[0] for one in films_of(journal, 1)] == ["a", "b"]
    assert {n: one.y_m for n, one in landings_seen(journal, 1).items()} == {1: 9.1, 2: 9.5}
    assert shots_seen(journal, 1)[1].result is Result.IN
    assert journal.rows("SELECT COUNT(*) FROM landing")[0][0] == 3


def test_a_film_that_does_not_show_a_ball_says_nothing_of_it(journal: Journal) -> None:
    """As where the phone filmed the lesson in two parts."""
    keep_film(journal, 1, film("a"), [landing(1, 9.0)])
    unseen = [LandingSeen(feed_id=n, why="no-pictures") for n in (1, 2)]
    keep_film(journal, 1, film("b"), unseen)
    seen = landings_seen(journal, 1)
    assert seen[1].y_m == 9.0
    assert seen[2].why == "no-pictures"
    keep_film(journal, 1, film("c"), [LandingSeen(feed_id=1, why="two-ways")])
    assert landings_seen(journal, 1)[1].landing_m is None


def test_a_film_is_written_whole_or_not_at_all(journal: Journal) -> None:
    with pytest.raises(FeedscriptError):
        keep_film(journal, 1, film("a"), [landing(1, 9.0), landing(1, 9.0)])
    assert films_of(journal, 1) == []
    assert landings_seen(journal, 1) == {}


def test_a_place_off_every_court_is_not_believed(journal: Journal) -> None:
    keep_film(journal, 1, film("a"), [landing(1, 400.0)])
    with pytest.raises(FeedscriptError) as refused:
        landings_seen(journal, 1)
    assert "cannot be believed" in refused.value.diagnostic.message


def with_clips(journal: Journal, number: int) -> Path:
    folder = clips_folder(Path(journal.path), number)
    folder.mkdir(parents=True)
    for feed_id in (1, 2):
        name = f"{feed_id}.jpg"
        (folder / name).write_bytes(b"picture")
        keep_clip(journal, number, ClipKept(feed_id=feed_id, file=name, utc_s=7.0))
        keep_clip(journal, number, ClipKept(feed_id=feed_id, file=name, utc_s=8.0))
    (folder / "stray.tmp").write_bytes(b"left by a run that was broken off")
    return folder


def test_who_is_forgotten_is_in_no_suggestion_and_no_clip(journal: Journal) -> None:
    keep_film(
        journal, 1, film("a"), [landing(n, 9.0) for n in (1, 2, 3)], [shot(n) for n in (1, 2, 3)]
    )
    other = journal.begin_session(_of("Birch"))
    shown, not_shown = with_clips(journal, 1), with_clips(journal, other)
    assert len(clips_of(journal, 1)) == 2
    told = forget_player(Path(journal.path), NAME.upper())
    assert (told.shots, told.clips) == (2, 3)
    assert not shown.exists()
    assert clips_of(journal, 1) == []
    assert list(shots_seen(journal, 1)) == [2]
    assert list(landings_seen(journal, 1)) == [1, 2, 3]  # of the launcher, of nobody
    assert len(list(not_shown.iterdir())) == 3
    assert len(clips_of(journal, other)) == 2


def _of(player: str) -> SessionStart:
    return SessionStart(
        token=2,
        begun_utc_s=1.0,
        title="Another (invented)",
        source="x.feed",
        rehearsal=False,
        plan=b"{}",
        group_json=msgspec.json.encode({"players": [{"name": player}]}).decode(),
    )


def test_clips_that_stay_leave_the_name_so_that_it_can_be_tried_again(
    journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_clips(journal, 1)

    def refuses(folder: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("feedscript.journal.clips.shutil.rmtree", refuses)
    with pytest.raises(FeedscriptError) as refused:
        forget_player(Path(journal.path), NAME)
    assert refused.value.diagnostic.slug == "clips-stay"
    monkeypatch.undo()
    assert forget_player(Path(journal.path), NAME).clips == 3


def test_a_deleted_lesson_takes_what_films_told_of_it_along(journal: Journal) -> None:
    keep_film(journal, 1, film("a"), [landing(1, 9.0)], [shot(1)])
    folder = with_clips(journal, 1)
    assert delete_lessons(Path(journal.path), [1]) == 4
    assert not folder.exists()
    for table in ("film", "landing", "shot", "clip"):
        assert journal.rows(f"SELECT COUNT(*) FROM {table}")[0][0] == 0


def test_a_bundle_holds_no_suggestion_and_no_clip_of_anybody(
    journal: Journal, tmp_path: Path
) -> None:
    keep_film(journal, 1, film("a"), [landing(1, 9.0)], [shot(1)])
    folder = with_clips(journal, 1)
    back_up(Path(journal.path), tmp_path / "copy.sqlite")
    forget_everyone(tmp_path / "copy.sqlite")
    copy = open_journal(tmp_path / "copy.sqlite")
    assert shots_seen(copy, 1) == {}
    assert clips_of(copy, 1) == []
    assert landings_seen(copy, 1)[1].landing_m == (0.5, 9.0)
    copy.close()
    assert folder.exists()


def test_a_name_that_is_also_a_word_of_a_films_leaves_the_word(journal: Journal) -> None:
    write_ball(journal, 1, 20, 9.0, "Long", "deep", "net")
    keep_film(journal, 1, film("a"), [LandingSeen(feed_id=2, why="two-ways")], [shot(2)])
    forget_player(Path(journal.path), "Long")
    assert shots_seen(journal, 1)[2].result is Result.LONG
