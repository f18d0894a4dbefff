"""What ``feedscript check`` says of one program to a person."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from feedscript.check.certificate_text import WIDTH, figures
from feedscript.check.check_program import Verdict
from feedscript.check.hour import in_words
from feedscript.plan.bodies import untimed
from feedscript.plan.certificate import Certificate, Clause, Standing
from feedscript.plan.model import AimedFeed, Plan
from feedscript.safety.rules.past_spin import signed_total_rpm
from feedscript.told_units import (
    ball_words,
    length_digits,
    length_told,
    length_words,
    speed_words,
    told_units,
)
from feedscript.visible import on_one_line

if TYPE_CHECKING:
    from feedscript.check.expected import Met
    from feedscript.check.sample import Sample

#: Worst cases shown when nobody asked for the whole certificate.
SHOWN = 6


def report(verdict: Verdict, name: str) -> str:
    """The verdict in a few lines: what may happen at most, every feed, the nearest limits."""
    plan = verdict.plan or verdict.draft
    name, word = on_one_line(name), _word(verdict)
    if plan is None or verdict.certificate is None:
        return f"{name}: {word}"
    lines = [f"{name}: {word}. {_bounds(plan)}", *_hour(verdict), "", *_feeds(plan), ""]
    lines += _nearest(verdict.certificate)
    lines += _expected(verdict.met)
    return "\n".join(lines).rstrip()


def _hour(verdict: Verdict) -> list[str]:
    if verdict.hour is None:
        return []
    wrapped = (
        textwrap.wrap(line, WIDTH, subsequent_indent="  ") for line in in_words(verdict.hour)
    )
    return ["", *(line for lines in wrapped for line in lines)]


def _word(verdict: Verdict) -> str:
    if not verdict.ok:
        return "refused"
    broken = sum(one.broken for one in verdict.met)
    if not broken:
        return "passed"
    return f"safe, but {broken} of {len(verdict.met)} expectations not met"


def _expected(met: tuple[Met, ...]) -> list[str]:
    """How the expectations stand, and which of them only draws can decide."""
    if not met:
        return []
    from feedscript.plan.expect.outcome import ExpectationStanding

    words = {
        ExpectationStanding.PASSES: "hold",
        ExpectationStanding.FAILS: "fail",
        ExpectationStanding.UNTESTED: "are about nothing",
        ExpectationStanding.INCONCLUSIVE: "need draws",
    }
    standings = [one.outcome.standing for one in met]
    counts = [f"{standings.count(standing)} {word}" for standing, word in words.items()]
    lines = ["", "Expectations without draws: " + ", ".join(counts) + "."]
    undecided = ExpectationStanding.INCONCLUSIVE
    left = [one.words for one in met if one.outcome.standing is undecided]
    return lines + [f"  for `feedscript test`: {words}" for words in left]


def _bounds(plan: Plan) -> str:
    bounds = plan.bounds
    least, most = bounds.balls
    balls = ball_words(most) if least == most else f"{least} to {most} balls"
    short, long = (_clock(seconds) for seconds in bounds.time_s)
    time = long if short == long else f"{short} to {long}"
    fastest = f"{bounds.fastest_mps:.1f} m/s ({speed_words(bounds.fastest_mps)})"
    again = ""
    if bounds.repeated_balls is not None and bounds.repeated_s is not None:
        most_s = _clock(bounds.repeated_s)
        again = f" (with every repeat of an exercise up to {bounds.repeated_balls} balls, {most_s})"
    on_request = untimed(plan.steps)
    asked = "; balls on request count with their least time, waiting for a tap comes on top"
    return f"{balls}, {time} of play, fastest {fastest}{again}{asked if on_request else ''}"


def _clock(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest:02d} s" if minutes else f"{rest} s"


_HEADS = ("feed", "lands at", "speed", "spin", "elevation", "over net", "flight")


def _feeds(plan: Plan) -> list[str]:
    rows = [_HEADS, *(_row(feed) for feed in plan.feeds)]
    widths = [max(len(row[column]) for row in rows) for column in range(len(_HEADS))]
    return ["  " + "  ".join(_cells(row, widths)).rstrip() for row in rows]


def _cells(row: tuple[str, ...], widths: list[int]) -> list[str]:
    name, *numbers = row
    padded = [cell.rjust(width) for cell, width in zip(numbers, widths[1:], strict=True)]
    return [name.ljust(widths[0]), *padded]


def _row(feed: AimedFeed) -> tuple[str, ...]:
    x, y = map(length_told, feed.landing_m)
    digits = length_digits(2)
    return (
        feed.name,
        f"{x:+.{digits}f}, {y:.{digits}f} {told_units().length}",
        speed_words(feed.speed_mps),
        f"{signed_total_rpm(feed):.0f} rpm",
        f"{feed.elevation_deg:.1f}°",
        length_words(feed.net_clearance_m),
        f"{feed.flight_s:.2f} s",
    )


def _nearest(certificate: Certificate) -> list[str]:
    """The rules that hold by the least, as a share of their limits."""
    judged = [clause for clause in certificate.clauses if clause.standing is Standing.HOLDS]
    measured = [clause for clause in judged if clause.margin is not None and _counts(clause)]
    nearest = sorted(measured, key=_tightness)[:SHOWN]
    lines = [f"{len(judged)} rules hold; nearest to their limits:"]
    for clause in nearest:
        text = f"{clause.rule}: {clause.worst_case} ({figures(clause)})"
        lines += textwrap.wrap(
            text, WIDTH, initial_indent="  ", subsequent_indent="      ", break_on_hyphens=False
        )
    lines.append("The whole certificate: add --certificate, or -o FILE (.html, .json, .txt).")
    return lines


def _counts(clause: Clause) -> bool:
    """Whether the margin tells anything: not of a part that the launcher does not have."""
    return not (clause.margin == 0 and clause.limit == 0)


def _tightness(clause: Clause) -> float:
    return (clause.margin or 0.0) / max(abs(clause.limit or 0.0), 1.0)


def sample_report(sample: Sample) -> str:
    """The drawn runs in a few lines."""
    word = "agree with" if sample.agrees else "DISAGREE with"
    lines = [f"{sample.runs} drawn runs, {sample.balls} balls: they {word} the certificate."]
    lines += [f"  seed {one.seed}: {one.what}" for one in sample.surprises[:20]]
    for one in sample.excesses:
        expected = one.balls * one.allowed_share
        mark = "" if one.agrees else "  <- too many"
        lines.append(
            f"  {one.what}: {one.count} ({expected:.0f} may be expected, at most {one.most:.0f})"
            f"{mark}"
        )
    return "\n".join(lines)
