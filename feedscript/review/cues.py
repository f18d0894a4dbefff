"""Cue marks for a video of the lesson, as WebVTT (W3C, "WebVTT: The Web Video Text Tracks Format").

Two tracks: *chapters*, one for each turn of a player, and *metadata*, one cue for each ball with
its facts as JSON. Any player or editor that reads WebVTT jumps to each feed of a player.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from dataclasses import dataclass

from feedscript.review.lesson import Ball, Lesson, turns_of

#: A cue begins before the ball leaves, so that the player's preparation is seen, and ends after
#: the return has landed (design values).
LEAD_S = 1.0
TAIL_S = 4.0


@dataclass(frozen=True, slots=True)
class Cue:
    """One cue: where it lies in the video, and what it says."""

    name: str
    start_s: float
    end_s: float
    text: str


def chapter_cues(lesson: Lesson, video_start_utc_s: float) -> tuple[Cue, ...]:
    """One cue for each turn, from its first ball to its last, or to the next turn."""
    turns = turns_of(lesson.balls)
    starts = [turn[0].left_utc_s - video_start_utc_s - LEAD_S for turn in turns]
    return _in_video(
        Cue(
            name=f"turn-{index}",
            start_s=start,
            end_s=min(turn[-1].left_utc_s - video_start_utc_s + TAIL_S, following),
            text=_turn_words(turn),
        )
        for index, (turn, start, following) in enumerate(
            zip(turns, starts, [*starts[1:], math.inf], strict=True), start=1
        )
    )


def ball_cues(lesson: Lesson, video_start_utc_s: float) -> tuple[Cue, ...]:
    """One cue for each ball; its payload is one line of JSON, ``left_s`` the moment it left."""
    return _in_video(
        Cue(
            name=f"ball-{ball.number}",
            start_s=ball.left_utc_s - video_start_utc_s - LEAD_S,
            end_s=ball.left_utc_s - video_start_utc_s + TAIL_S,
            text=json.dumps(
                {
                    "ball": ball.number,
                    "feed": ball.feed,
                    "player": ball.player,
                    "result": ball.result.value if ball.result else None,
                    "left_s": round(ball.left_utc_s - video_start_utc_s, 3),
                },
                ensure_ascii=False,
            ),
        )
        for ball in lesson.balls
    )


def _in_video(cues: Iterable[Cue]) -> tuple[Cue, ...]:
    """Those the camera was running for, cut at the start of the video."""
    return tuple(
        Cue(cue.name, max(0.0, cue.start_s), cue.end_s, cue.text) for cue in cues if cue.end_s > 0
    )


def _turn_words(turn: tuple[Ball, ...]) -> str:
    feeds = ", ".join(dict.fromkeys(ball.feed for ball in turn))
    count = "1 ball" if len(turn) == 1 else f"{len(turn)} balls"
    return f"{turn[0].player or 'Everyone'}: {feeds} ({count})"


def as_webvtt(title: str, cues: Iterable[Cue], *, metadata: bool) -> str:
    """A whole WebVTT file.

    The text of a chapter is cue text, whose ``&`` and ``<`` are escaped as the format says;
    metadata is JSON and is escaped as JSON, since some readers strip markup from any cue. Neither
    may hold ``-->`` or a line break.
    """
    blocks = [f"WEBVTT {_one_line(title).replace('-->', '→')}".rstrip()]
    for cue in cues:
        text = _one_line(cue.text)
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
    return " ".join(text.split())


def _stamp(seconds: float) -> str:
    """``hh:mm:ss.ttt``."""
    thousandths = round(seconds * 1000)
    minutes, rest = divmod(thousandths, 60_000)
    return f"{minutes // 60:02d}:{minutes % 60:02d}:{rest // 1000:02d}.{rest % 1000:03d}"
