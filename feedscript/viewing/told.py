"""What the page is told: pixels and metres to draw, and words to read."""

from __future__ import annotations

from typing import Any

import msgspec
import numpy as np

from feedscript.court.landmarks import End
from feedscript.court.lines import Court
from feedscript.diagnostics import Diagnostic, as_json
from feedscript.viewing.viewing import Sought, Stage, Viewing
from feedscript.viewing.words import end_words, place_words, reason_words
from feedscript.watch.camera.camera import Camera
from feedscript.watch.camera.geometry import project
from feedscript.watch.found import Landed, Missed, Said
from feedscript.watch.ruler.overlay import ends_shown, runs
from feedscript.watch.ruler.paint import placed, usual, white_lines
from feedscript.watch.ruler.points import named_places
from feedscript.watch.ruler.shown import drawn_points

Px = tuple[float, float]


class Point(msgspec.Struct, frozen=True, kw_only=True):
    """A named point; ``px`` is None while it is not in the picture, ``shown`` whether a person has
    put it where it is."""

    name: str
    words: str
    px: Px | None
    shown: bool


class Drawn(msgspec.Struct, frozen=True, kw_only=True):
    """A line in the picture; of the net, or on the ground."""

    ground: bool
    px: tuple[Px, ...]


class CourtTold(msgspec.Struct, frozen=True, kw_only=True):
    """The court over the still. ``worst_cm``: how surely the worst place on the ground is known,
    one standard deviation; ``trouble``: why the court cannot be used as it is. The film has as many
    parts as the camera stood in places; this one begins at ``from_s``."""

    width_px: int
    height_px: int
    points: tuple[Point, ...]
    lines: tuple[Drawn, ...]
    ends: tuple[tuple[str, Px], ...]
    camera_at: str | None
    by_lines: bool
    worst_cm: float | None
    trouble: Any
    part: int
    parts: int
    from_s: float


class Card(msgspec.Struct, frozen=True, kw_only=True):
    """One ball: what was asked, and what was found of it; places in court axes."""

    number: int
    feed: str
    launcher: str
    asked_m: Px | None = None
    landed_m: Px | None = None
    region_m: tuple[Px, ...] = ()
    within_cm: float | None = None
    off_m: float | None = None
    speed_kmh: float | None = None
    why: str = ""
    said: Said | None = None
    pictures: bool = False


class FindsTold(msgspec.Struct, frozen=True, kw_only=True):
    """Every ball, and the lines of the court that they landed on: (x, y) to (x, y)."""

    cards: tuple[Card, ...]
    lines_m: tuple[tuple[Px, Px], ...]


class Told(msgspec.Struct, frozen=True, kw_only=True):
    """The whole page."""

    stage: Stage
    balls: bool  # whether balls come after the court
    progress: float
    court: CourtTold | None
    finds: FindsTold | None


def told(viewing: Viewing) -> Told:
    """The page as it is now."""
    sought = viewing.sought
    return Told(
        stage=viewing.stage,
        balls=viewing.film.look is not None,
        progress=viewing.progress,
        court=court_told(viewing) if viewing.stage is Stage.COURT else None,
        finds=None if sought is None else _finds(sought, viewing.film.court, viewing.said),
    )


def court_told(viewing: Viewing) -> CourtTold:
    """The court as it is drawn now, and how surely."""
    film, camera, ruler = viewing.film, viewing.camera, viewing.ruler
    verdict = viewing.shown.verdict
    trouble = viewing.trouble or (verdict if isinstance(verdict, Diagnostic) else None)
    return CourtTold(
        width_px=film.video.width_px,
        height_px=film.video.height_px,
        points=_points(viewing),
        lines=() if camera is None else _lines(camera, film.court),
        ends=() if camera is None else _ends(camera, film.court),
        camera_at=_end_of(viewing),
        by_lines=ruler is not None and ruler.by_lines,
        worst_cm=None if ruler is None else 100 * ruler.worst_sd_m,
        trouble=None if trouble is None else as_json(trouble),
        part=viewing.part + 1,
        parts=len(film.places),
        from_s=viewing.place.still.from_s,
    )


def _end_of(viewing: Viewing) -> str | None:
    if viewing.camera is None:
        return viewing.camera_at and viewing.camera_at.value
    return (End.RECEIVER if viewing.camera.position_m[1] > 0 else End.LAUNCHER).value


def _points(viewing: Viewing) -> tuple[Point, ...]:
    court, pins = viewing.film.court, viewing.pins
    drawn: dict[str, Px | None] = dict.fromkeys(named_places(court))
    if viewing.camera is not None:
        drawn |= drawn_points(viewing.camera, court)
    return tuple(
        Point(name=name, words=place_words(name, court), px=pins.get(name, px), shown=name in pins)
        for name, px in drawn.items()
    )


def _lines(camera: Camera, court: Court) -> tuple[Drawn, ...]:
    found = []
    for line in white_lines(court):
        ends = placed(line, usual())
        px = project(camera, ends[0] + np.linspace(0, 1, 40)[:, None] * (ends[1] - ends[0]))
        for run in runs(px):
            places = tuple((across, down) for across, down in np.round(run, 1).tolist())
            found.append(Drawn(ground=line.ground, px=places))
    return tuple(found)


def _ends(camera: Camera, court: Court) -> tuple[tuple[str, Px], ...]:
    shown = [(end, px.tolist()) for end, px in ends_shown(camera, court)]
    return tuple((end_words(end.value), (across, down)) for end, (across, down) in shown)


def _finds(sought: Sought, court: Court, said: dict[int, Said | None]) -> FindsTold:
    seen = {way.number for way in sought.ways}
    found = sought.found.with_said(said)
    cards = tuple(
        _card(one, sought.feeds[one.number], found.launchers[one.launcher - 1], one.number in seen)
        for one in found.balls
    )
    lines = tuple(
        ((x1, y1), (x2, y2))
        for (x1, y1, _), (x2, y2, _) in (
            line.ends_m.tolist() for line in white_lines(court) if line.ground
        )
    )
    return FindsTold(cards=cards, lines_m=lines)


def _card(one: Landed | Missed, feed: str, launcher: str, pictures: bool) -> Card:
    if isinstance(one, Missed):
        return Card(
            number=one.number,
            feed=feed,
            launcher=launcher,
            why=reason_words(one.reason, one.why),
            pictures=pictures,
        )
    return Card(
        number=one.number,
        feed=feed,
        launcher=launcher,
        asked_m=one.asked_m,
        landed_m=one.landing_m,
        region_m=_region(one),
        within_cm=100 * one.region_m[0],
        off_m=float(np.hypot(*np.subtract(one.landing_m, one.asked_m))),
        speed_kmh=3.6 * one.speed_mps.value,
        said=one.said,
        pictures=pictures,
    )


def _region(one: Landed) -> tuple[Px, ...]:
    turns, turn = np.linspace(0, 2 * np.pi, 24, endpoint=False), np.radians(one.region_turn_deg)
    major, minor = one.region_m
    along, across = major * np.cos(turns), minor * np.sin(turns)
    x = one.landing_m[0] + along * np.cos(turn) - across * np.sin(turn)
    y = one.landing_m[1] + along * np.sin(turn) + across * np.cos(turn)
    return tuple((each_x, each_y) for each_x, each_y in np.column_stack([x, y]).tolist())
