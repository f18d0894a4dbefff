"""Pictures as files: the right bytes for each ending."""

from __future__ import annotations

from feedscript.diagnostics import Diagnostic
from feedscript.launcher.profile.model import Profile
from feedscript.plan.certificate import Certificate
from feedscript.review.drawing.court_view import with_areas_told
from feedscript.review.drawing.drawn_flights import drawn_flights
from feedscript.review.drawing.launcher.envelope_view import envelope_picture
from feedscript.review.drawing.page import page, plain_page
from feedscript.review.drawing.picture import picture, time_picture
from feedscript.review.drawing.raster import png_of
from feedscript.review.drawing.svg import Element, write
from feedscript.review.drawing.timeline import longest_run, told
from feedscript.review.drawing.worst_view import worst_picture
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.tongues.tongue import IN_ENGLISH, Tongue


def draw_plan(
    facts: PlanFacts, ending: str, width_px: int, tongue: Tongue = IN_ENGLISH
) -> bytes | Diagnostic:
    """The court picture of a plan as ``.svg``, ``.png`` or ``.html``, in a language."""
    plan, flights = with_areas_told(facts.plan, tongue), drawn_flights(facts)
    run = told(longest_run(plan), tongue)
    if ending == ".html":
        court = picture(plan, flights, table=False)
        line = (run, time_picture(run, flights))
        return page(plan.title, court, flights, line, tongue).encode()
    return _drawn(write(picture(plan, flights, run), 0, tongue), ending, width_px)


def draw_worst(
    facts: PlanFacts, certificate: Certificate, ending: str, width_px: int
) -> bytes | Diagnostic:
    """Each rule's worst case on the court, as ``.svg``, ``.png`` or ``.html``."""
    plan = facts.plan
    drawn = worst_picture(plan, certificate, drawn_flights(facts), facts.envelopes)
    if ending == ".html":
        return plain_page(plan.title, drawn).encode()
    return _drawn(write(drawn), ending, width_px)


def draw_envelope(profile: Profile, ending: str, width_px: int) -> bytes | Diagnostic:
    """What a launcher can reach, as ``.svg``, ``.png`` or ``.html``."""
    return draw(envelope_picture(profile), profile.name, ending, width_px)


def draw(root: Element, name: str, ending: str, width_px: int) -> bytes | Diagnostic:
    """Any picture, as ``.svg``, ``.png`` or ``.html``."""
    if ending == ".html":
        return plain_page(name, root).encode()
    return _drawn(write(root), ending, width_px)


def _drawn(svg: str, ending: str, width_px: int) -> bytes | Diagnostic:
    return png_of(svg, width_px) if ending == ".png" else svg.encode()
