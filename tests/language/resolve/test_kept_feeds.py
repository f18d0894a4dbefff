"""A feed is read once while it stands as it stood, and read again when a name comes between."""

from __future__ import annotations

import pytest

from feedscript.language import read
from feedscript.language.program import Program
from feedscript.language.resolve import feeds
from feedscript.memo import Memo

HEAD = 'feedscript 1\ntitle "Kept"\ncourt { surface hard }\nballs { type 2  load 60 }\n'
STANDS = "launcher { stands 1 m behind centre mark }\ngroup { 2 players }\n"
FEED = "feed deep { land 2 m inside baseline, on centre line  speed 70 km/h }\n"
LESSON = "lesson { show speed of deep  send deep after 5 s }\n"
TEXT = HEAD + STANDS + FEED + LESSON
NAMED = TEXT.replace("70 km/h", "fast")

#: Texts one after another, of which each gives the same words another meaning.
TURNS = {
    "nothing": [TEXT, TEXT],
    "a name that comes to be": [NAMED, NAMED + "let fast = 70 km/h\n"],
    "a name of another value": [NAMED + f"let fast = {n} km/h\n" for n in (70, 80)],
    "a name that ceases to be": [NAMED + "let fast = 70 km/h\n", NAMED],
    "a name with a hyphen": [NAMED.replace("fast", "fast-1") + f"let fast{end} = 70 km/h\n"
                             for end in ("", "-1")],
    "another court": [TEXT, TEXT.replace("surface hard", "lines doubles  surface hard"),
                      TEXT.replace("court { surface hard }", "court { stage red }")],
    "a mistake elsewhere": [TEXT, TEXT.replace("group { 2 players }", "group { 2 playrs"), TEXT],
    "further down": [TEXT, TEXT.replace("\nballs", "\n\n# a remark\nballs"),
                     TEXT.replace("feed deep", "  feed deep")],
    "a mistake in it": [TEXT.replace("70 km/h", "70 s"), TEXT.replace("70 km/h", "70 s")],
}  # fmt: skip


@pytest.mark.parametrize("turn", TURNS)
def test_a_kept_feed_is_what_would_be_read_now(turn: str) -> None:
    memo = Memo()
    for text in TURNS[turn]:
        assert read(text, "kept.feed", memo=memo) == read(text, "kept.feed")


def test_a_feed_that_stands_as_it_stood_is_not_read_again(monkeypatch: pytest.MonkeyPatch) -> None:
    memo = Memo()
    begun, _ = read(TEXT, "kept.feed", memo=memo)
    monkeypatch.setattr(feeds, "FeedReader", lambda *_: pytest.fail("read again"))
    again, _ = read(TEXT.replace("after 5 s", "after 6 s"), "kept.feed", memo=memo)
    assert isinstance(begun, Program)
    assert isinstance(again, Program)
    assert again.feeds == begun.feeds
