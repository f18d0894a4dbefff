"""A text of the library as somebody looks at it: what is proven of it, and its picture.

Each is judged anew by this version of the rules, which takes up to seconds, or does not end: not
for the server's own process (``beside``).
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Callable
from threading import Lock
from typing import Any, TypeAlias

import msgspec

from feedscript.check.check_program import Verdict
from feedscript.club.library.shelf import judge
from feedscript.club.refusals import LIBRARY_REFUSED
from feedscript.club_library import is_profile
from feedscript.diagnostics import Diagnostic
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.profile.read_profile import profile_in
from feedscript.review.drawing.files import draw_envelope, draw_plan
from feedscript.tongues.tongue import IN_ENGLISH, Tongue

_WIDTH_PX = 900
#: So many looks are kept: more texts than a page shows, each with a picture of some 30 kB.
MOST_KEPT = 64


class Margin(msgspec.Struct, frozen=True):
    """How far a rule's worst case is inside its limit."""

    value: float
    unit: str


class Bounds(msgspec.Struct, frozen=True, kw_only=True):
    """What is proven of every run of one program, and the least margin of each of its rules."""

    balls: tuple[int, int]
    time_s: tuple[float, float]
    fastest_mps: float
    margins: dict[str, Margin]


class Look(msgspec.Struct, frozen=True, kw_only=True):
    """A program with its bounds, or a launcher's profile with its numbers by their keys; what
    passes the check no more has neither bounds nor picture."""

    title: str
    bounds: Bounds | None
    numbers: dict[str, Any]
    picture: str  # SVG, or empty
    found: tuple[Diagnostic, ...]


def look(name: str, content: bytes, tongue: Tongue = IN_ENGLISH) -> Look:
    """Look at one text."""
    if is_profile(name):
        return _at_profile(name, content)
    return _at_program(judge(name, content.decode()), tongue)


def unseen() -> Look:
    """Of a text whose look did not come to an end."""
    why = LIBRARY_REFUSED.report(
        "looking at it did not come to an end here", help="make it shorter, or split it"
    )
    return Look(title="", bounds=None, numbers={}, picture="", found=(why,))


def _at_program(verdict: Verdict, tongue: Tongue) -> Look:
    return Look(
        title="" if verdict.program is None else verdict.program.title,
        bounds=_bounds(verdict),
        numbers={},
        picture=_picture(verdict, tongue),
        found=verdict.diagnostics,
    )


def _bounds(verdict: Verdict) -> Bounds | None:
    if verdict.plan is None or verdict.certificate is None:
        return None
    found = verdict.plan.bounds
    return Bounds(
        balls=found.balls,
        time_s=found.time_s,
        fastest_mps=found.fastest_mps,
        margins={
            clause.rule: Margin(clause.margin, clause.unit)
            for clause in verdict.certificate.clauses
            if clause.margin is not None
        },
    )


def _picture(verdict: Verdict, tongue: Tongue) -> str:
    if verdict.plan is None or verdict.facts is None:
        return ""
    drawn = draw_plan(verdict.facts, ".svg", _WIDTH_PX, tongue)
    return drawn.decode() if isinstance(drawn, bytes) else ""


def _at_profile(name: str, content: bytes) -> Look:
    reading = profile_in(content, name)
    profile = reading.profile
    return Look(
        title="" if profile is None else profile.name,
        bounds=None,
        numbers={} if profile is None else dict(_numbers(profile)),
        picture="" if profile is None else _envelope(profile),
        found=reading.diagnostics,
    )


def _numbers(profile: Profile) -> list[tuple[str, Any]]:
    """Every key with the keys that it stands under, as in ``limits.speed_mps``."""
    return _flat("", msgspec.to_builtins(profile))


def _flat(under: str, table: dict[str, Any]) -> list[tuple[str, Any]]:
    found: list[tuple[str, Any]] = []
    for key, value in table.items():
        found += _flat(f"{under}{key}.", value) if isinstance(value, dict) else []
        found += [] if isinstance(value, dict) else [(f"{under}{key}", value)]
    return found


def _envelope(profile: Profile) -> str:
    drawn = draw_envelope(profile, ".svg", _WIDTH_PX)
    return drawn.decode() if isinstance(drawn, bytes) else ""


LooksAt: TypeAlias = Callable[[str, bytes, Tongue], Look]


class Looks:
    """Looks that were taken lately, each by ``looks_at``; from any thread."""

    def __init__(self, looks_at: LooksAt = look) -> None:
        self._looks_at = looks_at
        self._kept: OrderedDict[tuple[str, str, str], Look] = OrderedDict()
        self._lock = Lock()

    def at(self, name: str, content: bytes, tongue: Tongue = IN_ENGLISH) -> Look:
        key = (name, hashlib.sha256(content).hexdigest(), tongue.language)
        with self._lock:
            known = self._kept.get(key)
        found = self._looks_at(name, content, tongue) if known is None else known
        with self._lock:
            self._kept[key] = found
            self._kept.move_to_end(key)
            while len(self._kept) > MOST_KEPT:
                self._kept.popitem(last=False)
        return found
