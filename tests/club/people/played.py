"""Invented lessons with players in them, as courts send them."""

from __future__ import annotations

import json
from typing import Any

from feedscript.club.batch import Event, Header, Part

BEGUN_UTC_S = 1.8e9


def events(*told: tuple[str, dict[str, Any]]) -> tuple[Event, ...]:
    """Numbered from 1, a second apart."""
    return tuple(
        Event(
            number=number,
            utc_s=BEGUN_UTC_S + number,
            kind=kind,
            launcher=data.get("launcher"),
            data=json.dumps(data, ensure_ascii=False),
        )
        for number, (kind, data) in enumerate(told, 1)
    )


def feed(feed_id: int, player: str) -> tuple[str, dict[str, Any]]:
    return "feed", {
        "feed_id": feed_id,
        "ball_no": feed_id,
        "launcher": 0,
        "feed": "basic",
        "feed_index": 0,
        "player": player,
        "station": "",
        "lane": "",
        "number": feed_id,
        "shown": False,
        "leave_at_device_s": float(feed_id),
        "leave_utc_s": BEGUN_UTC_S + feed_id,
    }


def left(feed_id: int) -> tuple[str, dict[str, Any]]:
    return "outcome", {
        "feed_id": feed_id,
        "outcome": "left",
        "left_device_s": float(feed_id),
        "left_utc_s": BEGUN_UTC_S + feed_id,
    }


def result(feed_id: int, result: str) -> tuple[str, dict[str, Any]]:
    return "result", {"feed_id": feed_id, "result": result, "tapped_utc_s": BEGUN_UTC_S + feed_id}


def head(*players: str, title: str = "invented", begun_utc_s: float = BEGUN_UTC_S) -> Header:
    named = [{"name": player} for player in players]
    return Header(
        begun_utc_s=begun_utc_s,
        title=title,
        source="invented.feed",
        rehearsal=False,
        plan=json.dumps({"group": {"players": named}}, ensure_ascii=False),
        profiles="[]",
        group_json=json.dumps(named, ensure_ascii=False),
        event_format=2,
    )


def lesson(
    *players: str,
    name: str = "1-0000beef",
    title: str = "invented",
    begun_utc_s: float = BEGUN_UTC_S,
    balls: int = 12,
) -> Part:
    """So many balls each, half of them in."""
    told: list[tuple[str, dict[str, Any]]] = []
    number = 0
    for player in players:
        told.append(("call", {"text": f"{player} is on", "utc_s": BEGUN_UTC_S}))
        for ball in range(balls):
            number += 1
            told += [feed(number, player), left(number), result(number, ("in", "net")[ball % 2])]
    told.append(("ended", {"phase": "finished", "cause": ""}))
    header = head(*players, title=title, begun_utc_s=begun_utc_s)
    return Part(lesson=name, header=header, events=events(*told))
