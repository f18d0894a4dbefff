"""Each rule's worst case: where it is on the court, and its figures beside it.

Every feed that is some rule's worst case is drawn with its corridor: the room that the ball takes
with its scatter, from the mouth to the second bounce. The numbers on the court are those of the
list below.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from feedscript.check.certificate_text import figures
from feedscript.court.lines import COURTS
from feedscript.plan.certificate import Certificate, Clause, Standing
from feedscript.plan.model import AimedFeed, Plan
from feedscript.review.drawing.corridor_outline import ABOVE, ASIDE, outline
from feedscript.review.drawing.court_view import court_view
from feedscript.review.drawing.drawn_flights import DrawnFlight
from feedscript.review.drawing.frame import MARGIN_LEFT, MARGIN_RIGHT, WIDTH, Frame, reach_of
from feedscript.review.drawing.labels import Box, place_labels
from feedscript.review.drawing.palette import INK, PAPER, RULE, SOFT_INK
from feedscript.review.drawing.picture import hatching, picture_heading, picture_title
from feedscript.review.drawing.side_view import side_view
from feedscript.review.drawing.svg import (
    Element,
    Point,
    document,
    group,
    line,
    polygon,
    rectangle,
    text,
    title,
    width_of,
)
from feedscript.safety.hazards.envelope import Envelope

_ROW = 21.0
_TAG_PX = 10.5
_WORDS = 70
#: How a clause stands, in a word, and whether it stops the program.
_STANDINGS = {
    Standing.REFUSED: ("refused", "#D55E00"),
    Standing.WAIVED: ("set aside", "#E69F00"),
    Standing.GUIDE: ("advice", "#E69F00"),
    Standing.HOLDS: ("holds", "#009E73"),
    Standing.SILENT: ("not judged", RULE),
}
_ORDER = list(_STANDINGS)


def worst_picture(
    plan: Plan,
    certificate: Certificate,
    flights: Sequence[DrawnFlight],
    envelopes: Sequence[Envelope],
) -> Element:
    """An SVG of every rule's worst case. ``flights`` and ``envelopes`` by the plan's feeds."""
    clauses = sorted(certificate.clauses, key=lambda clause: _ORDER.index(clause.standing))
    shown = _feeds_shown(clauses, flights)
    court = COURTS[plan.court.kind]
    reach = reach_of(court, plan.launchers, flights, plan.keep_outs)
    above = Frame(reach, 78.0)
    aside = Frame(reach, above.top + above.plan_height + 44)
    top = aside.top + aside.side_height + 48
    height = top + _ROW * len(clauses) + 30
    parts: list[Element] = [
        hatching(),
        rectangle((0, 0), WIDTH, height, fill=PAPER),
        *picture_title(f"Worst cases: {plan.title}", plan),
        *picture_heading(
            "from above", f"corridors at {certificate.sigma:g} standard deviations; "
            "numbers: the rules below", above.top,
        ),
        court_view(above, court, plan.court.surface, plan.launchers, shown, plan.keep_outs),
        *(_band(above, one, envelopes[k]) for k, one in _indexed(plan, shown)),
        *_tags(above, plan, clauses, envelopes),
        *picture_heading("from the side", "", aside.top),
        side_view(aside, court, plan.launchers, shown),
        *(_layer(aside, one, envelopes[k]) for k, one in _indexed(plan, shown)),
        *_list(clauses, flights, top),
    ]  # fmt: skip
    return document(WIDTH, height, parts, label=f"{plan.title}: each rule's worst case")


def _feeds_shown(clauses: Sequence[Clause], flights: Sequence[DrawnFlight]) -> list[DrawnFlight]:
    """The feeds that are some rule's worst case, each carrying its letter."""
    named = {clause.feed for clause in clauses if clause.feed is not None}
    return [
        DrawnFlight(one.feed, one.style, one.path_m, one.after_m, leads=True)
        for index, one in enumerate(flights)
        if index in named
    ] or list(flights)


def _indexed(plan: Plan, shown: Sequence[DrawnFlight]) -> list[tuple[int, DrawnFlight]]:
    places = {feed.name: index for index, feed in enumerate(plan.feeds)}
    return [(places[one.feed.name], one) for one in shown]


def _band(frame: Frame, one: DrawnFlight, envelope: Envelope) -> Element:
    """The corridor seen from above."""
    shown = frame.reach
    window = shown.x_min_m, shown.y_min_m, shown.x_max_m, shown.y_max_m
    drawn = [
        polygon([frame.above(x, y) for x, y in ring], stroke="none")
        for ring in outline(envelope, ABOVE, window)
    ]
    return group(drawn, fill=one.style.colour, fill_opacity=0.22)


def _layer(frame: Frame, one: DrawnFlight, envelope: Envelope) -> Element:
    """The corridor seen from the side."""
    window = frame.reach.y_min_m, 0.0, frame.reach.y_max_m, frame.reach.z_max_m
    drawn = [
        polygon([frame.aside(y, z) for y, z in ring], stroke="none")
        for ring in outline(envelope, ASIDE, window)
    ]
    return group(drawn, fill=one.style.colour, fill_opacity=0.16)


def _where(frame: Frame, plan: Plan, clause: Clause, envelopes: Sequence[Envelope]) -> Point | None:
    """The place on the court that a clause speaks of, seen from above."""
    if clause.feed is None:
        return None
    feed: AimedFeed = plan.feeds[clause.feed]
    if clause.rule == "net-clearance":
        path = envelopes[clause.feed].centre_m
        return frame.above(float(path[abs(path[:, 1]).argmin(), 0]), 0.0)
    if clause.rule in ("lands-outside", "strays-outside", "out-of-reach", "flight-differs"):
        return frame.above(*feed.landing_m)
    if feed.receiver_m is not None and clause.rule in (
        "too-fast-for-group", "too-high-for-group", "receiver-elsewhere",
        "receiver-in-keep-out", "little-time",
    ):  # fmt: skip
        return frame.above(*feed.receiver_m)
    if clause.rule != "past-other-players" and clause.rule.startswith(
        ("past-", "too-soon", "least-interval", "faster-", "speed-")
    ):
        x_m, y_m, _ = plan.launchers[feed.launcher].mouth_m
        return frame.above(x_m, y_m)
    path = frame.while_inside(envelopes[clause.feed].centre_m)
    return frame.above(float(path[-1, 0]), float(path[-1, 1])) if len(path) else None


def _tags(
    frame: Frame, plan: Plan, clauses: Sequence[Clause], envelopes: Sequence[Envelope]
) -> Iterable[Element]:
    """The clauses' numbers on the court, those at one place beside each other."""
    placed: dict[tuple[float, float], list[int]] = {}
    for number, clause in enumerate(clauses, start=1):
        at = _where(frame, plan, clause, envelopes)
        if at is not None and clause.standing is not Standing.SILENT:
            placed.setdefault((round(at[0]), round(at[1])), []).append(number)
    anchors = list(placed)
    words = [in_runs(numbers) for numbers in placed.values()]
    sizes = [(width_of(one, _TAG_PX) + 8, 16.0) for one in words]
    taken = [Box.around(frame.above(*feed.landing_m), 46, 46) for feed in plan.feeds]
    box = frame.box(frame.plan_height)
    for at, said, place in zip(
        anchors, words, place_labels(anchors, sizes, box, taken, first_reach=20), strict=True
    ):
        x, y = place.centre
        yield line(at, (x, y), stroke=INK, stroke_width=0.8)
        yield rectangle((place.left, place.top), place.right - place.left, 16, fill=INK, rx=3)
        yield text((x, y + 3.8), said, fill=PAPER, font_size=_TAG_PX, text_anchor="middle")


def in_runs(numbers: Sequence[int]) -> str:
    """Rising numbers in few words: ``4-7 9 12-13``."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return " ".join(f"{run[0]}-{run[-1]}" if len(run) > 1 else f"{run[0]}" for run in runs)


def _list(
    clauses: Sequence[Clause], flights: Sequence[DrawnFlight], top: float
) -> Iterable[Element]:
    for number, clause in enumerate(clauses, start=1):
        y = top + _ROW * number
        word, colour = _STANDINGS[clause.standing]
        yield rectangle((MARGIN_LEFT - 34, y - 9), 10, 10, fill=colour)
        yield text((MARGIN_LEFT, y), f"{number}", fill=INK, font_size=11.5, text_anchor="end")
        yield text((MARGIN_LEFT + 10, y), clause.rule, fill=INK, font_size=11.5, font_weight="bold")
        yield text((MARGIN_LEFT + 190, y), word, fill=SOFT_INK, font_size=11.5)
        letter = flights[clause.feed].style.letter + "  " if clause.feed is not None else ""
        said = letter + clause.worst_case
        yield group(
            [
                text((MARGIN_LEFT + 268, y), _short(said), fill=INK, font_size=11.5),
                title(said),
            ]
        )
        yield text(
            (WIDTH - MARGIN_RIGHT, y), figures(clause), fill=SOFT_INK, font_size=11,
            text_anchor="end",
        )  # fmt: skip


def _short(words: str) -> str:
    return words if len(words) <= _WORDS else words[: _WORDS - 1] + "\u2026"
