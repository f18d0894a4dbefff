"""Cue marks for a video of the lesson, as WebVTT (W3C, "WebVTT: The Web Video Text Tracks Format").

Three tracks: chapters, one for each turn of a player; chapters, one for each ball; and metadata,
one cue for each ball with its facts as JSON. Any player or editor that reads WebVTT jumps to each
feed of a player.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from enum import StrEnum
from functools import partial

import msgspec

from feedscript.plan.model import Result
from feedscript.review.report.lesson import Ball, Lesson, series_of
from feedscript.review.report.words import balls, feed_name
from feedscript.review.video.sync import VideoClock
from feedscript.tongues.text import _, joined, p_
from feedscript.tongues.tongue import IN_ENGLISH, Tongue
from feedscript.visible import on_one_line

#: A cue begins before the ball leaves, so that the player's preparation is seen, and ends after
#: the return has landed (design values).
LEAD_S = 1.0
TAIL_S = 4.0


class Track(StrEnum):
    """What a file marks."""

    TURNS = "turns"
    BALLS = "balls"
    METADATA = "metadata"


class Cue(msgspec.Struct, frozen=True):
    """One cue: where it lies in the video, and what it says."""

    name: str
    start_s: float
    end_s: float
    text: str


def cues_of(lesson: Lesson, video_start_utc_s: float, track: Track) -> tuple[Cue, ...]:
    """The cues of a track, in the order of their beginnings, none before the video."""
    match track:
        case Track.TURNS:
            cues = _chapters(series_of(lesson.balls), video_start_utc_s, "turn", _turn_words)
        case Track.BALLS:
            told = lesson.aims.brought_about()
            words = partial(_ball_words, told=told)
            cues = _chapters([(b,) for b in lesson.balls], video_start_utc_s, "ball", words)
        case Track.METADATA:
            told = lesson.aims.brought_about()
            cues = (_facts(ball, video_start_utc_s, told) for ball in lesson.balls)
    return tuple(
        Cue(cue.name, max(0.0, cue.start_s), cue.end_s, cue.text)
        for cue in cues
        if cue.end_s > 0.001
    )


def by_the_video(lesson: Lesson, clock: VideoClock) -> Lesson:
    """The lesson with every ball at the moment at which the video's own clock shows it."""
    balls = tuple(
        msgspec.structs.replace(ball, left_utc_s=clock.start_utc_s + clock.video_s(ball.left_utc_s))
        for ball in lesson.balls
    )
    return msgspec.structs.replace(lesson, balls=balls)


def _chapters(
    runs: Sequence[Sequence[Ball]],
    video_start_utc_s: float,
    kind: str,
    words: Callable[[Sequence[Ball]], str],
) -> Iterable[Cue]:
    """A chapter for each run, from its first ball to its last, or to the station's next chapter.

    What stations do side by side is marked side by side.
    """
    following: dict[str, float] = {}
    made = []
    for run in reversed(runs):
        start = run[0].left_utc_s - video_start_utc_s - LEAD_S
        end = run[-1].left_utc_s - video_start_utc_s + TAIL_S
        end = min(end, following.get(run[0].station, math.inf))
        following[run[0].station] = start
        # Two balls of a lone station may leave at the same moment; no chapter is empty.
        made.append(Cue(f"{kind}-{run[0].number}", start, max(end, start + 0.001), words(run)))
    return made[::-1]


def _facts(ball: Ball, video_start_utc_s: float, told: Mapping[int, str]) -> Cue:
    """One line of JSON; ``left_s`` is the moment the ball left, in the video."""
    left_s = ball.left_utc_s - video_start_utc_s
    facts = {
        "ball": ball.number,
        "feed": ball.feed,
        "player": ball.player,
        "result": ball.result.value if ball.result else None,
        "left_s": round(left_s, 3),
    }
    if ball.number in told:
        facts["brought_about"] = told[ball.number]
    text = json.dumps(facts, ensure_ascii=False)
    return Cue(f"ball-{ball.number}", left_s - LEAD_S, left_s + TAIL_S, text)


def _who(ball: Ball) -> str:
    return _("Speed shown") if ball.shown else ball.player or _("Everyone")


def _turn_words(turn: Sequence[Ball]) -> str:
    feeds = ", ".join(dict.fromkeys(feed_name(ball.feed) for ball in turn))
    parts = {"player": _who(turn[0]), "feeds": feeds, "balls": balls(len(turn))}
    return _("{player}: {feeds} ({balls})", **parts)


_MADE = {
    Result.TARGET: _("in target"),
    Result.IN: p_("result", "in"),
    Result.NET: _("into the net"),
    Result.LONG: p_("result", "long"),
    Result.LEFT: _("missed left"),
    Result.RIGHT: _("missed right"),
}


def _ball_words(run: Sequence[Ball], told: Mapping[int, str]) -> str:
    (ball,) = run
    made = feed_name(ball.feed)
    if ball.result:
        made = _("{feed} ({result})", feed=made, result=_MADE[ball.result])
    return joined(": ", [_who(ball), joined(", ", [made, told.get(ball.number, "")])])


def as_webvtt(
    title: str, cues: Iterable[Cue], *, metadata: bool, tongue: Tongue = IN_ENGLISH
) -> str:
    """A whole WebVTT file, in a language.

    The text of a chapter is cue text, whose ``&`` and ``<`` are escaped as the format says, and so
    is the title, which some readers show; metadata is JSON and is escaped as JSON, since some
    readers strip markup from any cue. None of them may hold ``-->`` or a line break.
    """
    blocks = [f"WEBVTT {_escaped(_one_line(title))}".rstrip()]
    for cue in cues:
        text = _one_line(tongue(cue.text))
        text = _json_escaped(text) if metadata else _escaped(text)
        blocks.append(f"{cue.name}\n{_stamp(cue.start_s)} --> {_stamp(cue.end_s)}\n{text}")
    return "\n\n".join(blocks) + "\n"


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _json_escaped(text: str) -> str:
    """The same JSON with no character in it that a cue reader could take for markup."""
    return text.replace("&", r"\u0026").replace("<", r"\u003c").replace(">", r"\u003e")


def _one_line(text: str) -> str:
    """Without what would end a cue and start another."""
    return on_one_line(" ".join(text.split()))


def _stamp(seconds: float) -> str:
    """``hh:mm:ss.ttt``."""
    thousandths = round(seconds * 1000)
    minutes, rest = divmod(thousandths, 60_000)
    return f"{minutes // 60:02d}:{minutes % 60:02d}:{rest // 1000:02d}.{rest % 1000:03d}"
