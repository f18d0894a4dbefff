"""Where two records of one lesson part.

Each launcher's balls are laid beside each other by their feeds and players first, so that a ball
that one of them has not shifts none of the others; then the balls of each pair are held against
each other, field by field.

A ball has one number: its place in the left record, which is what the others are held to. So ball 7
of a program is ball 7 in every comparison with it; one that the left record has not is told by the
ball after which it came.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from difflib import SequenceMatcher
from itertools import zip_longest
from typing import Any

import msgspec
import numpy as np

from feedscript.bench.record import Ball, Record
from feedscript.bench.tolerances import Tolerances
from feedscript.plan.model import Ellipse

#: The fields of a ball in the order in which they are told.
FIELDS = ("outcome", "feed", "player", "setting", "gap", "landing", "speed", "flight")


class Difference(msgspec.Struct, frozen=True, kw_only=True):
    """One field of one ball, or of the lesson, in which the records part.

    ``ball``: its place among the launcher's balls in the left record, from 1; 0 for what is the
    whole lesson's. ``more``: the left record does not have it; it is the first, second, … of the
    right one after ``ball``, where 0 is their beginning.
    """

    field: str
    launcher: int = 0
    ball: int = 0
    more: int = 0
    feed: str = ""
    player: str = ""
    left: str
    right: str
    words: str


class Pair(msgspec.Struct, frozen=True, kw_only=True):
    """One ball in both records, or in one, and what was compared."""

    launcher: int
    left: int | None  # index into the launcher's balls
    right: int | None
    ball: int = 0  # its number, and whether it is one more after that ball: see `Difference`
    more: int = 0
    compared: tuple[str, ...] = ()
    parted: tuple[str, ...] = ()
    landings_m: tuple[tuple[float, float], tuple[float, float]] | None = None


class Comparison(msgspec.Struct, frozen=True, kw_only=True):
    """All that came of it."""

    left: str
    right: str
    pairs: tuple[Pair, ...]
    differences: tuple[Difference, ...]
    compared: tuple[str, ...]  # the fields that both records have

    @property
    def same(self) -> bool:
        """Whether nothing parts, and there was something that could have."""
        return not self.differences and bool(self.compared)


def compare(left: Record, right: Record, allowed: Tolerances) -> Comparison:
    """Every difference beyond ``allowed``, the lesson's own after the balls'."""
    pairs, found = list[Pair](), list[Difference]()
    for launcher in sorted({ball.launcher for ball in (*left.balls, *right.balls)}):
        mine, others = _of(left, launcher), _of(right, launcher)
        before: tuple[int | None, int | None] = (-1, -1)
        ball, more = 0, 0
        for at, other in _beside(mine, others):
            ball, more = (ball, more + 1) if at is None else (at + 1, 0)
            if (at is None and not left.whole) or (other is None and not right.whole):
                continue  # it was perhaps not measured
            follows = before == (_before(at), _before(other))
            pair = Pair(launcher=launcher, left=at, right=other, ball=ball, more=more)
            pair, parts = _compared(pair, mine, others, allowed, follows)
            pairs.append(pair)
            found += parts
            before = at, other
    lesson, whole = _whole(left, right, allowed)
    fields = [one for one in FIELDS if any(one in pair.compared for pair in pairs)]
    return Comparison(
        left=left.what,
        right=right.what,
        pairs=tuple(pairs),
        differences=(*found, *whole),
        compared=(*fields, *lesson),
    )


def _of(record: Record, launcher: int) -> list[Ball]:
    return [ball for ball in record.balls if ball.launcher == launcher]


def _beside(left: Sequence[Ball], right: Sequence[Ball]) -> Iterator[tuple[int | None, int | None]]:
    """Which ball of the one is which of the other; None where there is none."""
    named = all(ball.feed for ball in (*left, *right))
    people = all(any(ball.player for ball in balls) for balls in (left, right))
    mine, others = (
        [(ball.feed if named else "", ball.player if people else None) for ball in balls]
        for balls in (left, right)
    )
    matcher = SequenceMatcher(None, mine, others, autojunk=False)
    for _, begin, end, there, until in matcher.get_opcodes():
        yield from zip_longest(range(begin, end), range(there, until))


def _before(at: int | None) -> int | None:
    return None if at is None else at - 1


def _compared(
    pair: Pair,
    mine: Sequence[Ball],
    others: Sequence[Ball],
    allowed: Tolerances,
    follows: bool,
) -> tuple[Pair, list[Difference]]:
    """``follows``: the balls before them are one pair too, so that gaps are of the same balls."""
    if pair.left is None or pair.right is None:
        return _alone(pair, mine, others)
    left, right = mine[pair.left], others[pair.right]
    held = _held(left, right, allowed, gaps=follows)
    parts = [
        Difference(field=field, **_which(pair, left), left=one, right=two, words=words)
        for field, (words, one, two) in held.items()
        if words
    ]
    both = left.landing_m and right.landing_m and (left.landing_m, right.landing_m)
    done = msgspec.structs.replace(
        pair,
        compared=("ball", *held),
        parted=tuple(part.field for part in parts),
        landings_m=both or None,
    )
    return done, parts


def _which(pair: Pair, ball: Ball) -> dict[str, Any]:
    """By what a reader finds the ball: its number, what it is and whose."""
    return {
        "launcher": pair.launcher,
        "ball": pair.ball,
        "more": pair.more,
        "feed": ball.feed,
        "player": ball.player or "",
    }


def _alone(
    pair: Pair, mine: Sequence[Ball], others: Sequence[Ball]
) -> tuple[Pair, list[Difference]]:
    at = pair.left if pair.left is not None else pair.right
    assert at is not None
    ball = (mine if pair.left is not None else others)[at]
    told = (_name(ball), "no ball") if pair.left is not None else ("no ball", _name(ball))
    part = Difference(
        field="ball",
        **_which(pair, ball),
        left=told[0],
        right=told[1],
        words="only one of them has it",
    )
    return msgspec.structs.replace(pair, compared=("ball",), parted=("ball",)), [part]


def _name(ball: Ball) -> str:
    return ball.feed or "a ball"


#: How two values are told, and the words of their difference; none where there is none.
_Held = tuple[str, str, str]


def _held(left: Ball, right: Ball, allowed: Tolerances, *, gaps: bool) -> dict[str, _Held]:
    """What both of them know, field by field."""
    held: dict[str, _Held] = {}

    def words(field: str, one: str, two: str, wanted: bool) -> None:
        if wanted:
            held[field] = ("" if one == two else "not the same", one, two)

    words("outcome", _outcome(left), _outcome(right), allowed.outcome)
    words("feed", left.feed, right.feed, allowed.feed and bool(left.feed and right.feed))
    people = left.player is not None and right.player is not None
    words("player", left.player or "", right.player or "", allowed.player and people)
    if not (left.left and right.left):
        return held
    if (setting := _setting(left, right, allowed)) is not None:
        held["setting"] = setting
    if gaps:
        _figure(held, "gap", left.gap_s, right.gap_s, allowed.gap_s, "s")
    if left.landing_m is not None and right.landing_m is not None:
        held["landing"] = _landing(left, right, allowed)
    _figure(held, "speed", left.speed_mps, right.speed_mps, allowed.speed_mps, "m/s")
    _figure(held, "flight", left.flight_s, right.flight_s, allowed.flight_s, "s")
    return held


def _outcome(ball: Ball) -> str:
    return "left" if ball.left else f"did not leave ({ball.why})" if ball.why else "did not leave"


def _figure(
    held: dict[str, _Held],
    field: str,
    one: float | None,
    two: float | None,
    allowed: float,
    unit: str,
) -> None:
    if one is None or two is None:
        return
    off = abs(one - two)
    # As far as it is allowed is still allowed: figures were rounded to milliseconds on the way.
    words = f"{off:.3f} {unit} apart, {allowed:g} are allowed" if off > allowed + 1e-6 else ""
    held[field] = (words, f"{one:.3f} {unit}", f"{two:.3f} {unit}")


def _setting(left: Ball, right: Ball, allowed: Tolerances) -> _Held | None:
    one, two = left.setting, right.setting
    if one is None or two is None:
        return None
    drives = list(zip_longest(one.drives, two.drives, fillvalue=0.0))
    angles = [(getattr(one, each), getattr(two, each)) for each in _ANGLES]
    drive = max((abs(a - b) for a, b in drives), default=0.0)
    angle = max(abs(a - b) for a, b in angles)
    words = []
    if drive > allowed.drive:
        words.append(f"a drive {drive:.1f} apart, {allowed.drive:g} are allowed")
    if angle > allowed.angle_deg + 1e-9:
        words.append(f"an angle {angle:.2f}° apart, {allowed.angle_deg:g} are allowed")
    return "; ".join(words), _set_to(left), _set_to(right)


_ANGLES = ("pan_deg", "tilt_deg", "roll_deg")


def _set_to(ball: Ball) -> str:
    setting = ball.setting
    assert setting is not None
    drives = " ".join(f"{drive:.0f}" for drive in setting.drives)
    angles = "  ".join(f"{each[:-4]} {getattr(setting, each):.2f}°" for each in _ANGLES)
    return f"{drives}  {angles}"


def _landing(left: Ball, right: Ball, allowed: Tolerances) -> _Held:
    """Within the allowed length, or within so many sigmas of the scatter."""
    assert left.landing_m is not None
    assert right.landing_m is not None
    off = np.subtract(left.landing_m, right.landing_m)
    far = float(np.hypot(*off))
    told = [f"{x:.2f}, {y:.2f} m" for x, y in (left.landing_m, right.landing_m)]
    sigmas = _sigmas(off, left, right)
    beyond = far > allowed.landing_m and sigmas > allowed.landing_sigmas
    words = f"{far:.2f} m apart" if beyond else ""
    if beyond and math.isfinite(sigmas):
        words += f", {sigmas:.1f} sigmas of the scatter; {allowed.landing_sigmas:g} are allowed"
    elif beyond:
        words += f", {allowed.landing_m:g} m are allowed"
    return words, told[0], told[1]


def _sigmas(off: np.ndarray, left: Ball, right: Ball) -> float:
    """How many sigmas of what these landings scatter by; infinite where that is not known."""
    covariance = np.zeros((2, 2))
    for ball, other in ((left, right), (right, left)):
        ellipse = ball.scatter or other.scatter
        if not ball.meant and ellipse is not None:
            covariance += covariance_m2(ellipse)
    if not covariance.any() or np.linalg.det(covariance) <= 0.0:
        return math.inf
    return float(np.sqrt(off @ np.linalg.solve(covariance, off)))


def covariance_m2(ellipse: Ellipse) -> np.ndarray:
    """The ellipse as a covariance in court axes, shape (2, 2)."""
    turn = math.radians(ellipse.turn_deg)
    axes = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    covariance: np.ndarray = axes @ np.diag([ellipse.major_m**2, ellipse.minor_m**2]) @ axes.T
    return covariance


def _whole(
    left: Record, right: Record, allowed: Tolerances
) -> tuple[tuple[str, ...], list[Difference]]:
    """What is the lesson's, not a ball's."""
    compared, found = list[str](), list[Difference]()
    if allowed.said and left.said is not None and right.said is not None:
        compared.append("said")
        found += _said(left.said, right.said)
    if allowed.ending and left.ending is not None and right.ending is not None:
        compared.append("ending")
        if left.ending != right.ending:
            found.append(
                Difference(
                    field="ending", left=left.ending, right=right.ending, words="not the same"
                )
            )
    return tuple(compared), found


def _said(left: Sequence[str], right: Sequence[str]) -> Iterator[Difference]:
    matcher = SequenceMatcher(None, left, right, autojunk=False)
    for tag, begin, end, there, until in matcher.get_opcodes():
        if tag != "equal":
            one, two = "; ".join(left[begin:end]), "; ".join(right[there:until])
            words = f"after {begin} calls that are the same"
            yield Difference(field="said", left=one or "nothing", right=two or "nothing",
                             words=words)  # fmt: skip


def told(one: Difference, launchers: Sequence[str] = ()) -> str:
    """One difference on one line."""
    where = numbered(one.ball, one.more)
    its = " for ".join(filter(None, [one.feed, one.player]))
    where += f" ({its})" if its else ""
    if (one.ball or one.more) and len(launchers) > 1:
        where = f"{launchers[one.launcher]}, {where}"
    return f"{where}: {one.field}: {one.left} | {one.right}  ({one.words})"


def numbered(ball: int, more: int) -> str:
    """What a ball of a comparison is called; "lesson" for neither."""
    if not more:
        return f"ball {ball}" if ball else "lesson"
    after = f"after ball {ball}" if ball else "before ball 1"
    return after if more == 1 else f"{after}, number {more}"
