"""What everyone sees of an exercise's target, goals and score: as plain data of a view.

What is about one player, or about some who speak one language, is told in that one everywhere.
"""

from __future__ import annotations

import msgspec


class Tried(msgspec.Struct, frozen=True, kw_only=True):
    """How one player stands with a goal: so many made, met or not. ``player`` is "" for all."""

    player: str
    made: int
    met: bool
    words: str  # the same, in the language of the player


class GoalView(msgspec.Struct, frozen=True, kw_only=True):
    """One goal in words, and how each stands who had a ball."""

    words: str
    players: tuple[Tried, ...]


class RowView(msgspec.Struct, frozen=True, kw_only=True):
    """A row of good shots that goes on."""

    player: str
    running: int
    words: str


class SideView(msgspec.Struct, frozen=True, kw_only=True):
    """A score: whose it is, their points, the launcher's, and whether the game is over."""

    players: tuple[str, ...]
    points: int
    against: int
    won: bool
    lost: bool
    words: str


class TargetView(msgspec.Struct, frozen=True, kw_only=True):
    """The target as it lies for whoever is on, in pieces, in court axes."""

    name: str
    marked: str
    outlines_m: tuple[tuple[tuple[float, float], ...], ...]


class AimsView(msgspec.Struct, frozen=True, kw_only=True):
    """All of it, of the exercise that is on court. ``to`` ends a game; ``launcher`` plays too."""

    target: TargetView | None = None
    goals: tuple[GoalView, ...] = ()
    rows: tuple[RowView, ...] = ()
    score: tuple[SideView, ...] = ()
    scored: bool = False
    to: int | None = None
    launcher: bool = False
