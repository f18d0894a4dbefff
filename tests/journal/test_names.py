"""One rule says what is a name, in journals, sheets and bundles."""

from __future__ import annotations

import re
import sqlite3
import unicodedata
from contextlib import closing
from pathlib import Path

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from feedscript.journal.redaction import name_key, without_names
from feedscript.journal.retention import forget_player, names_in
from feedscript.journal.store import SessionStart, open_journal
from tests.review.calendar import write_ball

WORDS = ["Ann", "Lee", "Ash", "Zoë", "José", "Weiß", "Clay", "Net", "Ngoc", "O'Hara", "Mary-Jo"]
names = st.lists(st.sampled_from(WORDS), min_size=1, max_size=3).map(" ".join)


def written(name: str) -> list[str]:
    """The ways in which a coach's program, a phone and a file's name write a name."""
    snake = re.sub(r"[\s'-]+", "_", name).lower()
    return [
        name,
        name.upper(),
        unicodedata.normalize("NFD", name),
        f"deep_{snake}",
        f"{name} is on",
        f"Then {name}, at the net",
        f"/home/coach/{snake}-thursday.feed",
    ]


def plain(text: str) -> str:
    """By another way than the rule: letters without their marks, everything else a space."""
    letters = unicodedata.normalize("NFKD", text.casefold())
    bare = "".join(c for c in letters if not unicodedata.combining(c))
    return f" {re.sub(r'[^a-z0-9]+', ' ', bare).strip()} "


def keep_a_lesson(path: Path, players: list[str]) -> None:
    journal = open_journal(path)
    texts = [text for player in players for text in written(player)]
    number = journal.begin_session(
        SessionStart(
            token=1,
            begun_utc_s=0.0,
            title=" and ".join(players),
            source=written(players[0])[-1],
            rehearsal=False,
            plan=msgspec.json.encode(
                {"court": {"surface": "clay"}, "say": [{"text": t} for t in texts]}
            ),
            group_json=msgspec.json.encode({"players": [{"name": p} for p in players]}).decode(),
        )
    )
    for feed_id, text in enumerate(texts, start=1):
        write_ball(
            journal, number, feed_id, 4.0 * feed_id, players[feed_id % len(players)], text, "net"
        )
        journal.note(number, 0.0, "call", {"text": text})
    journal.close()


def all_words(path: Path) -> str:
    """Everything that a coach wrote, without the columns of the program's own words."""
    queries = (
        "SELECT title || ' qq ' || source || ' qq ' || group_json || ' qq ' || plan FROM session",
        "SELECT player || ' qq ' || feed FROM ball",
        "SELECT data FROM entry",
    )
    with closing(sqlite3.connect(path)) as journal:
        rows = [row[0] for query in queries for row in journal.execute(query)]
    texts = [row.decode() if isinstance(row, bytes) else str(row) for row in rows]
    return plain(" qq ".join(texts).replace('"surface":"clay"', "").replace('"', " qq "))


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(names, names)
def test_of_two_players_the_one_is_gone_and_the_other_stays(
    tmp_path_factory: pytest.TempPathFactory, gone: str, stays: str
) -> None:
    if name_key(gone) == name_key(stays) or plain(gone) in plain(f"{stays} {stays}"):
        return  # "Ann" beside "Ann Lee" has a test of its own
    path = tmp_path_factory.mktemp("names") / "journal.sqlite"
    keep_a_lesson(path, [gone, stays])
    before = all_words(path).count(plain(stays)[:-1])
    forget_player(path, gone)
    after = all_words(path)
    assert names_in(path) == {stays}
    if plain(stays) not in plain(gone):
        assert after.count(plain(stays)[:-1]) == before
    assert plain(gone)[:-1] + " " not in after


def test_forgetting_ann_leaves_ann_lee_as_she_is(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite"
    keep_a_lesson(path, ["Ann", "Ann Lee"])
    forget_player(path, "ann")
    assert names_in(path) == {"Ann Lee"}
    words = all_words(path)
    assert words.count(" ann ") == words.count(" ann lee") > 5


def test_forgetting_ann_lee_leaves_ann_as_she_is(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite"
    keep_a_lesson(path, ["Ann", "Ann Lee"])
    forget_player(path, "ANN  LEE")
    assert names_in(path) == {"Ann"}
    assert " lee " not in all_words(path)


@pytest.mark.parametrize("feed", ["ash", "Ash", "ash_2", "deep_ash"])
def test_a_feed_called_like_a_forgotten_player_is_not_called_so_any_more(
    feed: str, tmp_path: Path
) -> None:
    path = tmp_path / "journal.sqlite"
    keep_a_lesson(path, ["Ash", "Birch"])
    journal = open_journal(path)
    write_ball(journal, 1, 99, 400.0, "Birch", feed, "net")
    journal.close()
    forget_player(path, "Ash")
    assert " ash" not in all_words(path)


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("Ann Lee and Ann", "Ann Lee and someone"),
        ("Annabel", "Annabel"),
        ("ann_lee_forehand", "ann_lee_forehand"),
        ("ann_forehand", "someone_forehand"),
        ("Ann. Lee serves", "Ann. Lee serves"),
        ("Ann, Lee", "someone, Lee"),
        ("Ann's turn", "someone's turn"),
    ],
)
def test_the_longest_name_that_begins_at_a_word_is_meant(text: str, left: str) -> None:
    assert without_names(["Ann"], "someone", known=["Ann", "Ann Lee"])(text) == left


@given(st.text(max_size=60))
def test_a_text_without_the_name_stays_as_it_is(text: str) -> None:
    if "quince" not in plain(text):
        assert without_names(["Quince"])(text) == text
