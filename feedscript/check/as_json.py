"""What ``feedscript check --format json`` says of one program."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import msgspec

from feedscript.check.check_program import Verdict
from feedscript.check.hour import Hour
from feedscript.diagnostics import as_json, in_reading_order
from feedscript.formats import headed
from feedscript.plan.model import AimedFeed, Bounds, Plan
from feedscript.safety.rules.past_spin import signed_total_rpm

if TYPE_CHECKING:
    from feedscript.check.sample import Sample


def verdict_json(verdict: Verdict) -> dict[str, Any]:
    """The verdict as plain data. Bounds are null and feeds empty where nothing could be aimed."""
    plan: Plan | None = verdict.plan or verdict.draft
    plain = {
        "ok": verdict.as_expected,
        "diagnostics": [as_json(one) for one in in_reading_order(verdict.diagnostics)],
        "bounds": None if plan is None else _bounds(plan.bounds),
        "hour": None if verdict.hour is None else _hour(verdict.hour),
        "feeds": [] if plan is None else [_feed(feed) for feed in plan.feeds],
        "expectations": [
            {
                "expectation": one.words,
                "line": one.line,
                "standing": one.outcome.standing.value,
                "figure": one.outcome.figure,
            }
            for one in verdict.met
        ],
    }
    return headed("check", plain)


def _bounds(bounds: Bounds) -> dict[str, Any]:
    return {
        "balls": list(bounds.balls),
        "time_s": list(bounds.time_s),
        "fastest_mps": bounds.fastest_mps,
        "with_every_repeat": None
        if bounds.repeated_balls is None
        else {"balls": bounds.repeated_balls, "time_s": bounds.repeated_s},
    }


def _hour(hour: Hour) -> dict[str, Any]:
    return {**msgspec.to_builtins(hour), "whole_s": hour.whole_s}


def _feed(feed: AimedFeed) -> dict[str, Any]:
    return {
        "name": feed.name,
        "landing_m": list(feed.landing_m),
        "speed_mps": feed.speed_mps,
        "spin_rpm": signed_total_rpm(feed),
        "elevation_deg": feed.elevation_deg,
        "azimuth_deg": feed.azimuth_deg,
        "net_clearance_m": feed.net_clearance_m,
        "flight_s": feed.flight_s,
    }


def sample_json(sample: Sample) -> dict[str, Any]:
    """A drawn sample as plain data."""
    return {
        "agrees": sample.agrees,
        "runs": sample.runs,
        "balls": sample.balls,
        "surprises": [{"seed": one.seed, "what": one.what} for one in sample.surprises],
        "outside": [
            {
                "what": one.what,
                "count": one.count,
                "allowed_share": one.allowed_share,
                "most": one.most,
                "agrees": one.agrees,
            }
            for one in sample.excesses
        ],
    }


def certificate_json(verdict: Verdict) -> dict[str, Any] | None:
    """The certificate as plain data; None where nothing could be judged."""
    if verdict.certificate is None:
        return None
    return headed("certificate", msgspec.to_builtins(verdict.certificate))
