"""The whole picture of a program: from above, from the side, its feeds and its time."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from feedscript.court.lines import COURTS
from feedscript.plan.model import Plan
from feedscript.review.drawing.court_view import court_view
from feedscript.review.drawing.drawn_flights import DrawnFlight
from feedscript.review.drawing.feed_table import feed_table
from feedscript.review.drawing.frame import MARGIN_LEFT, MARGIN_RIGHT, WIDTH, Frame, reach_of
from feedscript.review.drawing.palette import INK, PAPER, SOFT_INK
from feedscript.review.drawing.side_view import side_view
from feedscript.review.drawing.svg import Element, document, element, line, rectangle, text
from feedscript.review.drawing.targets import dotting, drawn_targets, targets_of
from feedscript.review.drawing.time_view import time_view
from feedscript.review.drawing.timeline import TimeLine
from feedscript.tongues import terms
from feedscript.tongues.text import _, joined, n_

_SCATTER_NOTE = _(
    "ellipses: scatter, 1 (filled) and 3 (dashed) standard deviations; "
    "dotted circle: `within` of the program"
)


def picture(
    plan: Plan,
    flights: Sequence[DrawnFlight],
    run: TimeLine | None = None,
    *,
    table: bool = True,
    title: str | None = None,
) -> Element:
    """An SVG of the plan. ``run`` None leaves the line of time out, ``table`` the figures."""
    court = COURTS[plan.court.kind]
    reach = reach_of(court, plan.launchers, flights, plan.keep_outs)
    parts: list[Element] = [*picture_title(title if title is not None else plan.title, plan)]
    above = Frame(reach, 78.0)
    parts += picture_heading(
        _("from above"),
        _SCATTER_NOTE,
        above.top,
    )
    parts.append(
        court_view(
            above, court, plan.court.surface, plan.launchers, flights, plan.keep_outs,
            drawn_targets(above, plan),
        )
    )  # fmt: skip
    aside = Frame(reach, above.top + above.plan_height + 44)
    parts += picture_heading(_("from the side"), "", aside.top)
    parts.append(side_view(aside, court, plan.launchers, flights))
    y = aside.top + aside.side_height + (34 if table else 56)
    if table:
        drawn, height = feed_table(flights, y)
        parts.append(drawn)
        y += height + 14
    if run is not None:
        parts += picture_heading(_("time line"), run_words(run), y + 14)
        drawn, height = time_view(run, flights, y + 14)
        parts.append(drawn)
        y += height + 14
    return document(
        WIDTH, y + 8,
        [hatching(), *_dots(plan), rectangle((0, 0), WIDTH, y + 8, fill=PAPER), *parts],
        label=_in_words(plan, flights),
    )  # fmt: skip


def _dots(plan: Plan) -> Iterable[Element]:
    return [dotting()] if targets_of(plan) else []


def time_picture(run: TimeLine, flights: Sequence[DrawnFlight]) -> Element:
    """The line of time as a picture of its own."""
    drawn, height = time_view(run, flights, 30.0)
    heading = picture_heading(_("time line"), run_words(run), 30.0)
    ground = rectangle((0, 0), WIDTH, height + 38, fill=PAPER)
    label = _("time line: {words}", words=run_words(run))
    return document(WIDTH, height + 38, [ground, *heading, drawn], label=label)


def picture_title(title: str, plan: Plan) -> Iterable[Element]:
    """The picture's name, and what it is played on, with and by."""
    title = title or _("untitled")
    yield text((MARGIN_LEFT, 32), title, fill=INK, font_size=20, font_weight="bold")
    launchers = ", ".join(dict.fromkeys(one.profile_name for one in plan.launchers))
    court, surface = terms.court(plan.court.kind), terms.surface(plan.court.surface or "")
    played_on = joined(", ", [_("{court} court", court=court), surface])
    balls = _("{balls} balls", balls=terms.balls(plan.balls.kind))
    yield text(
        (WIDTH - MARGIN_RIGHT, 32), joined("; ", [played_on, balls, launchers]),
        fill=SOFT_INK, font_size=12, text_anchor="end",
    )  # fmt: skip


def picture_heading(words: str, note: str, top: float) -> list[Element]:
    """Words over a strip at the left, a note at the right."""
    parts = [text((MARGIN_LEFT, top - 10), words, fill=INK, font_size=13, font_weight="bold")]
    if note:
        parts.append(
            text(
                (WIDTH - MARGIN_RIGHT, top - 10), note, fill=SOFT_INK, font_size=11.5,
                text_anchor="end",
            )
        )  # fmt: skip
    return parts


def run_words(run: TimeLine) -> str:
    """How many balls in what time, and what the marks mean."""
    minutes, seconds = divmod(round(run.end_s), 60)
    time = f"{minutes}:{seconds:02d}"
    return n_(
        "{n} ball in {time} min, people's own pauses not counted; "
        "rings: speed balls; grey: rest; bars: who is on, in outline at work",
        "{n} balls in {time} min, people's own pauses not counted; "
        "rings: speed balls; grey: rest; bars: who is on, in outline at work",
        len(run.balls),
        time=time,
    )


def hatching() -> Element:
    """The pattern of areas to keep out of."""
    stripe = line((0, 0), (0, 7), stroke=INK, stroke_width=1.2, stroke_opacity=0.35)
    return element(
        "defs",
        element(
            "pattern", stripe, id="keep-out", width=7, height=7,
            patternUnits="userSpaceOnUse", patternTransform="rotate(45)",
        ),
    )  # fmt: skip


def _in_words(plan: Plan, flights: Sequence[DrawnFlight]) -> str:
    """What the picture shows, for who cannot see it."""
    return joined(": ", [plan.title, joined("; ", (_lands(one) for one in flights if one.leads))])


def _lands(one: DrawnFlight) -> str:
    x_m, y_m = one.feed.landing_m
    return _(
        "{letter} {feed} lands at x {x:.1f} m, y {y:.1f} m and clears the net by {net:.2f} m",
        letter=one.style.letter,
        feed=terms.feed(one.wish),
        x=round(x_m, 1) + 0.0,  # never "-0.0"
        y=round(y_m, 1) + 0.0,
        net=one.feed.net_clearance_m,
    )
