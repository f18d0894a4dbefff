"""Chapters for films, read back by libav (the library under ffmpeg and many players)."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import av
import msgspec
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from feedscript.journal.store import read_journal
from feedscript.review.report.lesson import read_lesson
from feedscript.review.video.chapters import Chapter, as_ffmetadata, as_matroska, chapters_of
from feedscript.review.video.cues import Cue, Track, cues_of
from tests.review.commands import run
from tests.review.grey_film import write_film


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A minute of grey and silence."""
    path = tmp_path_factory.mktemp("film") / "lesson.mp4"
    write_film(path, 60)
    return path


def read_back(path: Path, kind: str | None = None) -> list[Chapter]:
    """The chapters as libav has them."""
    with av.open(str(path), format=kind) as container:
        return [
            Chapter(
                round(one["start"] * one["time_base"] * 1000),
                round(one["end"] * one["time_base"] * 1000),
                one["metadata"].get("title", ""),
            )
            for one in container.chapters()
        ]


def wanted(calendar: Path, track: Track = Track.TURNS) -> list[Chapter]:
    """Those of the last lesson, the first ball 12.5 s into the film."""
    journal = read_journal(calendar)
    lesson = read_lesson(journal)
    journal.close()
    return list(chapters_of(cues_of(lesson, lesson.balls[0].left_utc_s - 12.5, track)))


@pytest.mark.parametrize("track", [Track.TURNS, Track.BALLS])
def test_ffmpeg_s_metadata_says_the_same_to_libav(
    track: Track, calendar: Path, tmp_path: Path
) -> None:
    out = tmp_path / "marks.ffmetadata"
    run("--journal", calendar, "-o", out, "--offset", "12.5 s", "--cues", track.value)
    found = read_back(out, "ffmetadata")
    assert found == wanted(calendar, track)
    assert found[0].start_ms == 11_500  # a second before the ball leaves
    assert all(one.end_ms <= other.start_ms for one, other in pairwise(found))


@pytest.mark.parametrize("ending", ["mkv", "mp4", "mov"])
def test_a_copy_of_the_film_has_the_chapters_and_all_of_the_film(
    ending: str, film: Path, calendar: Path, tmp_path: Path
) -> None:
    out = tmp_path / f"lesson.{ending}"
    run("--journal", calendar, "-o", out, "--offset", "12.5 s", "--film", film)
    here = [one for one in wanted(calendar) if one.start_ms < 60_000]
    before, *found = read_back(out)
    assert (before.start_ms, before.end_ms) == (0, 11_500)
    assert 1 < len(found) < len(wanted(calendar))
    assert [one.title for one in found] == [one.title for one in here]
    for one, other in zip(found, here, strict=True):
        assert one.start_ms == pytest.approx(other.start_ms, abs=2)
    with av.open(str(film)) as before, av.open(str(out)) as after:
        for kind in ("video", "audio"):
            was, now = (
                [bytes(one) for one in container.demux(**{kind: 0}) if one.size]
                for container in (before, after)
            )
            assert now == was
            before.seek(0)
            after.seek(0)


def test_matroska_s_elements_have_the_same_times(calendar: Path, tmp_path: Path) -> None:
    out = tmp_path / "marks.xml"
    run("--journal", calendar, "-o", out, "--offset", "12.5 s", "--language", "de")
    atoms = ElementTree.parse(out).findall("EditionEntry/ChapterAtom")
    told = []
    for atom in atoms:
        stamps = [atom.findtext(f"ChapterTime{which}", "").split(":") for which in ("Start", "End")]
        seconds = [float(s) + 60 * int(m) + 3600 * int(h) for h, m, s in stamps]
        told.append(tuple(round(one * 1000) for one in seconds))
    assert told == [(one.start_ms, one.end_ms) for one in wanted(calendar)]
    assert {atom.findtext("ChapterDisplay/ChapLanguageIETF") for atom in atoms} == {"de"}
    assert len({atom.findtext("ChapterUID") for atom in atoms}) == len(atoms)


TEXTS = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=30)
CUES = st.lists(
    st.tuples(st.floats(0, 5000), st.floats(0.001, 100), TEXTS).map(
        lambda one: Cue("turn", one[0], one[0] + one[1], one[2])
    ),
    max_size=8,
)


def without_backslash_at_the_end(one: Chapter) -> Chapter:
    """libav reads no line that ends so; a blank stands behind it."""
    blank = " " if one.title.endswith("\\") else ""
    return msgspec.structs.replace(one, title=one.title + blank)


@given(CUES, TEXTS)
@example([Cue("turn", 0.0, 1.0, "\\"), Cue("turn", 2.0, 3.0, "\\ and on")], "\\")
def test_any_words_and_times_come_back_as_they_went(
    tmp_path_factory: pytest.TempPathFactory, cues: list[Cue], title: str
) -> None:
    chapters = chapters_of(cues)
    assert len(chapters) == len(cues)
    assert all(one.start_ms < one.end_ms for one in chapters)
    assert all(one.end_ms <= after.start_ms for one, after in pairwise(chapters))
    path = tmp_path_factory.getbasetemp() / "any.ffmetadata"
    path.write_text(as_ffmetadata(title, chapters), encoding="utf-8")
    assert read_back(path, "ffmetadata") == [*map(without_backslash_at_the_end, chapters)]
    atoms = ElementTree.fromstring(as_matroska(chapters).encode()).iter("ChapterString")
    assert [atom.text or "" for atom in atoms] == [one.title for one in chapters]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--film", "{film}"), "end the file's name (-o) with one of: .mkv"),
        (("--film", "{film}", "-o", "x.vtt"), "end the file's name (-o) with one of: .mkv"),
        (("-o", "x.mkv"), "end the file's name (-o) with one of: .html"),
        (("--film", "{film}", "-o", "{film}"), "is the video itself"),
        (("--cues", "metadata", "-o", "x.xml"), "--cues metadata is for .vtt"),
        (("--cues", "metadata", "--film", "{film}", "-o", "x.mkv"), "--cues metadata is for .vtt"),
    ],
)
def test_what_cannot_be_marked_says_why(
    words: tuple[str, ...], told: str, film: Path, calendar: Path
) -> None:
    before = film.read_bytes()
    given_words = [word.format(film=film) for word in words]
    assert told in run("--journal", calendar, *given_words, code=2)
    assert film.read_bytes() == before


def test_what_is_no_film_is_not_copied(calendar: Path, tmp_path: Path) -> None:
    film = tmp_path / "film.mp4"
    film.write_bytes(b"no film")
    said = run("--journal", calendar, "--film", film, "-o", tmp_path / "x.mkv", code=1)
    assert "video-unusable" in said
