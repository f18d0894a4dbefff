"""What an editor says about the thing under the pointer."""

from __future__ import annotations

import msgspec

from feedscript.editor.document import Document
from feedscript.editor.hover_people import about_quoted
from feedscript.editor.names import Occurrence
from feedscript.editor.quoted import Quoted
from feedscript.language.parse import tree as t
from feedscript.language.program import FeedWish
from feedscript.language.resolve.dimensions import unit_of
from feedscript.plan.model import AimedFeed
from feedscript.told_units import told_units
from feedscript.units import UNITS, Dimension, Unit


def in_units(value: float, units: tuple[str, ...]) -> str:
    """A value of the internal unit in several others, such as ``70 km/h, 19.4 m/s, 43.5 mph``."""
    return ", ".join(f"{_shown((value - UNITS[u].offset) / UNITS[u].factor)} {u}" for u in units)


def _shown(value: float) -> str:
    return f"{value:.3g}" if abs(value) < 1000 else f"{value:.0f}"


_SHOWN_UNITS = {
    Dimension.SPEED: ("km/h", "m/s", "mph"),
    Dimension.LENGTH: ("m", "ft"),
    Dimension.SPIN: ("rpm", "rev/s"),
    Dimension.TIME: ("s", "min"),
    Dimension.TEMPERATURE: ("C", "F"),
}


def hover_text(document: Document, offset: int) -> tuple[str, int, int] | None:
    """Markdown about what stands at an offset, and from where to where it speaks."""
    occurrence = document.names.at(offset)
    if occurrence is not None:
        return _about_name(document, occurrence), occurrence.start, occurrence.end
    quantity = quantity_at(document.scope.tree, offset)
    if quantity is None or quantity.unit is None:
        return None
    unit = unit_of(quantity.unit)
    shown = _about_value(quantity.number.raw, unit) if unit is not None else None
    return (shown, quantity.start, quantity.end) if shown else None


def _about_value(raw: str, unit: Unit) -> str | None:
    units = _told_first(_SHOWN_UNITS.get(unit.dimension, ()))
    try:
        value = float(raw) * unit.factor + unit.offset
    except ValueError:
        return None
    return in_units(value, units) if units else None


def _told_first(units: tuple[str, ...]) -> tuple[str, ...]:
    told = msgspec.structs.astuple(told_units())
    return tuple(sorted(units, key=lambda one: one not in told))


def quantity_at(tree: t.Tree, offset: int) -> t.Quantity | None:
    """The value with a unit that stands at an offset."""
    stack: list[object] = [tree]
    while stack:
        node = stack.pop()
        if isinstance(node, tuple):
            stack.extend(node)
        elif isinstance(node, t.SyntaxNode) and node.start <= offset <= node.end:
            if isinstance(node, t.Quantity):
                return node
            stack.extend(getattr(node, name) for name in type(node).__struct_fields__[2:])
    return None


def _about_name(document: Document, occurrence: Occurrence) -> str:
    node = occurrence.target.node
    written = document.text[occurrence.start : occurrence.end]
    if isinstance(node, Quoted):
        return about_quoted(document, node)
    if isinstance(node, t.Feed):
        return _about_feed(document, full_name(document, occurrence))
    if isinstance(node, t.Progression):
        return f"progression `{written}`: {len(node.rungs)} steps, the easiest first"
    if isinstance(node, t.Param):
        return f"`{node.name}`: {node.kind}, a parameter"
    if isinstance(node, t.Pattern):
        params = ", ".join(f"{param.name}: {param.kind}" for param in node.params)
        return f"pattern `{written}({params})`"
    if isinstance(node, t.Let):
        return f"`{written}` = `{definition_text(document, occurrence)}`"
    return f"launcher `{written}`"


def full_name(document: Document, occurrence: Occurrence) -> str:
    """A feed's name as the plan knows it: with its file's name before it where it has one."""
    name = str(occurrence.target.node.name)
    for prefix, scope in _scopes(document):
        if scope == occurrence.target.source:
            return prefix + name
    return name


def _scopes(document: Document) -> list[tuple[str, str]]:
    found, stack = [], [document.scope]
    while stack:
        scope = stack.pop()
        found.append((scope.prefix, scope.source.name))
        stack.extend(scope.files.values())
    return found


def definition_text(document: Document, occurrence: Occurrence) -> str:
    """The value of a ``let`` as it is written where it is defined."""
    value = occurrence.target.node.value
    stack = [document.scope]
    while stack:
        scope = stack.pop()
        if scope.source.name == occurrence.target.source:
            return scope.written(value)
        stack.extend(scope.files.values())
    return ""


def _about_feed(document: Document, name: str) -> str:
    feed = document.aimed().get(name)
    program = document.verdict.program
    wish = program.feeds.get(name) if program is not None else None
    if feed is None:
        return f"feed `{name}`" + ("" if wish is None else f"\n\n{_landing(wish)}")
    return "\n\n".join((f"feed `{name}`", *feed_lines(feed, wish)))


def _landing(wish: FeedWish) -> str:
    if wish.swept:
        return f"lands {wish.land_m[1]:.2f} m from the net ahead, and as far off over the sweep"
    return _place(wish.land_m)


def _place(land_m: tuple[float, float]) -> str:
    x_m, y_m = land_m
    side = "to the ad side" if x_m > 0 else "to the deuce side" if x_m < 0 else "on the middle line"
    return f"lands {y_m:.2f} m from the net, {abs(x_m):.2f} m {side}"


def feed_lines(feed: AimedFeed, wish: FeedWish | None) -> tuple[str, ...]:
    """What is known of an aimed feed, a line for each thing."""
    spin = f"top {feed.top_rpm:.0f} rpm" if feed.top_rpm >= 0 else f"back {-feed.top_rpm:.0f} rpm"
    if abs(feed.side_rpm) >= 1:
        spin += f", side {'ad' if feed.side_rpm > 0 else 'deuce'} {abs(feed.side_rpm):.0f} rpm"
    speed = in_units(feed.speed_mps, _SHOWN_UNITS[Dimension.SPEED])
    return (
        _place(feed.landing_m) if wish is None else _landing(wish),
        f"speed {speed}; spin {spin}",
        f"flight {feed.flight_s:.2f} s, {feed.net_clearance_m:.2f} m over the net, "
        f"apex {feed.apex_m:.2f} m",
        f"elevation {feed.elevation_deg:.1f}°, azimuth {feed.azimuth_deg:+.1f}°",
    )
