"""What a program was: its bounds, its aimed feeds and what was proven of it, kept as a file.

A baseline is one JSON document a program, made for version control: sorted, indented, a line a
figure, floats to the micrometre and microsecond of a plan. Held against the same program checked
today it says what another version of feedscript, of a profile or of the rules changed.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, TypeAlias

import msgspec

import feedscript
from feedscript.bench.record import Ball, Record
from feedscript.check.check_program import Verdict
from feedscript.diagnostics import Diagnostic, Page
from feedscript.launcher.setting import Setting
from feedscript.plain_file import read_plain
from feedscript.plan.canonical import canonical_bytes
from feedscript.plan.model import AimedFeed, Plan

VERSION = 1
#: What it was made with: told where anything else changed, and no change by itself.
MADE_WITH = "made_with"

BAD_BASELINE = Page(
    slug="bad-baseline",
    title="A baseline that cannot be used",
    why=(
        "A baseline is what a program was, written by `feedscript baseline keep`. A file that says "
        "something else would let every change pass, so it is an error."
    ),
)

#: A nested JSON object.
Document: TypeAlias = dict[str, Any]


class Change(msgspec.Struct, frozen=True):
    """One figure that is not what it was; ``place`` names it in the document. None: not there."""

    place: str
    was: Any
    now: Any

    def __str__(self) -> str:
        return f"{self.place}: {_words(self.was)} is now {_words(self.now)}"


def document_of(verdict: Verdict) -> Document:
    """All that is held of a program: also of one that is refused, what of it is known."""
    errors = sorted({one.slug for one in verdict.diagnostics if one.is_error})
    found: Document = {
        "baseline": VERSION,
        MADE_WITH: _made_with(verdict),
        "verdict": "passes" if verdict.ok else "refused",
        "errors": dict.fromkeys(errors, True),
    }
    plan = verdict.plan or verdict.draft
    if plan is not None:
        found["bounds"] = msgspec.to_builtins(plan.bounds)
        found["feeds"] = {feed.name: _feed(feed, plan) for feed in plan.feeds}
    if verdict.certificate is not None:
        found["rules"] = {
            clause.rule: {
                "standing": clause.standing,
                "worst": clause.worst,
                "limit": clause.limit,
                "unit": clause.unit,
                "worst_case": clause.worst_case,
            }
            for clause in verdict.certificate.clauses
        }
    plain: Document = json.loads(canonical_bytes(found))
    return plain


def _made_with(verdict: Verdict) -> Document:
    certificate = verdict.certificate
    made: Document = {"feedscript": feedscript.__version__}
    if certificate is not None:
        made["rules"] = certificate.rules_version
        made["model"] = f"{certificate.model} {certificate.model_version}"
        made["program"] = certificate.program_hash
        made["profiles"] = list(certificate.profile_hashes)
    return made


def _feed(feed: AimedFeed, plan: Plan) -> Document:
    return {
        "launcher": plan.launchers[feed.launcher].name,
        "setting": msgspec.to_builtins(feed.setting),
        "landing_m": list(feed.landing_m),
        "scatter": msgspec.to_builtins(feed.scatter),
        "speed_mps": feed.speed_mps,
        "top_rpm": feed.top_rpm,
        "side_rpm": feed.side_rpm,
        "flight_s": feed.flight_s,
        "net_clearance_m": feed.net_clearance_m,
        "apex_m": feed.apex_m,
    }


def written(document: Document) -> bytes:
    """As it stands in its file."""
    return json.dumps(document, indent=1, sort_keys=True, ensure_ascii=False).encode() + b"\n"


def read_baseline(path: Path) -> Document | Diagnostic:
    """A kept document; whatever keeps it from being one is told."""
    try:
        found = json.loads(read_plain(path).decode("utf-8"))
    except OSError as trouble:
        return _bad(path, trouble.strerror or "it cannot be read")
    except (ValueError, RecursionError) as trouble:
        return _bad(path, f"it is no JSON: {trouble}")
    if not isinstance(found, dict) or found.get("baseline") != VERSION:
        return _bad(path, f'it does not say "baseline": {VERSION}')
    return found


def _bad(path: Path, why: str) -> Diagnostic:
    return BAD_BASELINE.report(
        why,
        device=str(path),
        help="take it from version control again, or delete it and keep the program anew",
    )


def changes(was: Document, now: Document) -> tuple[Change, ...]:
    """Every figure that is another, in the order of their places; what it was made with aside."""
    old, new = (dict(_flat({**one, MADE_WITH: None})) for one in (was, now))
    places = dict.fromkeys([*old, *new])
    return tuple(
        Change(place, old.get(place), new.get(place))
        for place in places
        if old.get(place) != new.get(place)
    )


def made_with(was: Document, now: Document) -> tuple[Change, ...]:
    """What of that is another."""
    old, new = (dict(_flat(one.get(MADE_WITH) or {})) for one in (was, now))
    places = dict.fromkeys([*old, *new])
    return tuple(
        Change(place, old.get(place), new.get(place))
        for place in places
        if old.get(place) != new.get(place)
    )


def accepted(was: Document, now: Document, places: Sequence[str]) -> Document:
    """The kept document with these places as they are now: a place and all that lies in it; all of
    them where none is named. KeyError for a place at which nothing changed."""
    if not places:
        return now
    changed = changes(was, now)
    for place in places:
        if not any(_within(one.place, place) for one in changed):
            raise KeyError(place)
    taken = {one.place: one.now for one in changed if any(_within(one.place, p) for p in places)}
    flat = dict(_flat(was)) | taken
    return _nested({place: value for place, value in flat.items() if value is not None})


def _within(place: str, outer: str) -> bool:
    return place == outer or place.startswith(outer + " / ")


def _flat(document: Mapping[str, Any], at: str = "") -> Iterator[tuple[str, Any]]:
    """Every figure by its place; lists are figures."""
    for key, value in document.items():
        place = f"{at} / {key}" if at else key
        if isinstance(value, dict):
            yield from _flat(value, place)
        else:
            yield place, value


def _nested(flat: Mapping[str, Any]) -> Document:
    found: Document = {}
    for place, value in flat.items():
        *outer, last = place.split(" / ")
        inside = found
        for name in outer:
            inside = inside.setdefault(name, {})
        inside[last] = value
    return found


def _words(value: Any) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, list):
        return ", ".join(map(_words, value))
    return f"{value:g}" if isinstance(value, float) else str(value)


def as_record(document: Document, what: str) -> Record:
    """Its feeds as balls, one each, for the picture of where two of them part."""
    feeds = document.get("feeds") or {}
    names = list(dict.fromkeys(str(feed.get("launcher")) for feed in feeds.values()))
    return Record(
        what=what,
        balls=tuple(
            Ball(
                launcher=names.index(str(feed["launcher"])),
                feed=name,
                setting=msgspec.convert(feed["setting"], Setting),
                landing_m=tuple(feed["landing_m"]),
                meant=True,
                speed_mps=feed["speed_mps"],
                flight_s=feed["flight_s"],
            )
            for name, feed in feeds.items()
        ),
    )
