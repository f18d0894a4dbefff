"""Pieces of work, and what comes back of each: plain data on both ways."""

from __future__ import annotations

import msgspec

from feedscript.launcher.profile.model import Profile

#: Balls of one feed that are flown together; bounds the memory whatever is drawn. Even, so that
#: normal numbers, which come in pairs, are cut between two pairs.
CHUNK = 20_000
#: Balls of the runs that one piece draws: a second of work or less, after which a worker that was
#: told to stop is free.
RUN_BALLS = 10_000
#: Refits of one piece: again a second of work or less.
REFITS = 10


class RunsPiece(msgspec.Struct, frozen=True, tag="runs"):
    """Whole runs with the seeds ``first`` to ``first + runs - 1``."""

    first: int
    runs: int


class BallsPiece(msgspec.Struct, frozen=True, tag="balls"):
    """The balls number ``chunk * CHUNK`` and on of feeds that are held against each other (or of
    one alone), each with how many of it there are in all."""

    seed: int
    feeds: tuple[tuple[int, int], ...]
    chunk: int


class LandingsPiece(msgspec.Struct, frozen=True, tag="landings"):
    """Where ``balls`` balls of a feed land, from its ball number ``start`` (0 is the first)."""

    seed: int
    feed: int
    start: int
    balls: int


class RefitsPiece(msgspec.Struct, frozen=True, tag="refits"):
    """A launcher's factors fitted again, each time to other balls of those that were measured: the
    refits number ``first`` to ``first + refits - 1``."""

    seed: int
    first: int
    refits: int


class LauncherPiece(msgspec.Struct, frozen=True, tag="launcher"):
    """A program judged with this profile for every launcher that it names."""

    name: str
    profile: Profile


Piece = RunsPiece | BallsPiece | LandingsPiece | RefitsPiece | LauncherPiece


class Surprise(msgspec.Struct, frozen=True):
    """Something that the analysis rules out, and the seed of the run that did it."""

    seed: int
    what: str


class RunsAnswer(msgspec.Struct, frozen=True, tag="runs"):
    """How often each feed was sent (by its index), and what should never have been."""

    sent: tuple[tuple[int, int], ...]
    surprises: tuple[Surprise, ...]


#: A kind of event, how often it could have happened, and how often it did.
Count = tuple[str, int, int]


class BallsAnswer(msgspec.Struct, frozen=True, tag="balls"):
    """What the balls did that they may do but seldom."""

    counts: tuple[Count, ...]


class LandingsAnswer(msgspec.Struct, frozen=True, tag="landings"):
    """Landings in m, as the bytes of little-endian doubles; NaN for a ball that never lands."""

    x_m: bytes
    y_m: bytes


class RefitsAnswer(msgspec.Struct, frozen=True, tag="refits"):
    """The factors of each refit, in the order of the fit's."""

    values: tuple[tuple[float, ...], ...]


class LauncherAnswer(msgspec.Struct, frozen=True, tag="launcher"):
    """Whether the program may be played, and each kind of error with its first message."""

    ok: bool
    errors: tuple[tuple[str, str], ...]


Answer = RunsAnswer | BallsAnswer | LandingsAnswer | RefitsAnswer | LauncherAnswer
