"""What is said of a feed whose ball lies between two steps of its launcher."""

from __future__ import annotations

from feedscript.diagnostics import Diagnostic, Page
from feedscript.plan.aiming.shots import Shot
from feedscript.plan.aiming.solved import BetweenSteps

_PROGRAM = """feedscript 1
launcher {{ profile "five-steps.toml"  stands 1 m behind centre mark }}
feed drive {{ land 2 m inside baseline, on centre line  speed {speed} km/h }}
lesson {{ show speed of drive  send drive after 6 s }}
"""

BETWEEN_STEPS = Page(
    slug="between-steps",
    title="A ball between two steps of the launcher",
    why="""Some launchers cannot be set anywhere in their range: a spring is held by notches, a
motor knows five speeds. Their profile lists the `steps` of the drives, and a feed can have the
balls of those only. A speed within 2 % of a step's, with a spin within 100 rpm of it, is aimed with
the step's own ball. A feed that leaves its speed open takes the step that comes nearest to its apex
(0.2 m), time of flight (0.1 s) or height at contact (0.15 m). Anything else is refused, with what
there is.""",
    wrong=_PROGRAM.format(speed=70),
    corrected=_PROGRAM.format(speed=75),
)

_LISTED = 8
_VERBS = {"apex": "rise to", "flight": "be in the air for", "contact": "be met at"}
_UNITS = {"apex": "m", "flight": "s", "contact": "m"}


def between_steps(shot: Shot, missed: BetweenSteps, will_do: float | None) -> Diagnostic:
    """The diagnostic; ``will_do`` is what of the steps was tried and does, None for nothing."""
    wish, part = shot.wish, missed.part
    if missed.spins:
        return _other_spin(shot, missed)
    return BETWEEN_STEPS.report(
        f"`{wish.name}` {_asked(missed)}, and with its spin the launcher's steps "
        + (f"give {_listed(missed)}" if missed.had else "give none that land there"),
        help="choose another spin or place, or move the launcher"
        if will_do is None
        else f"write `{part} {_written(part, will_do)}`"
        + (" high, the same way behind the bounce" if part == "contact" else ""),
        span=wish.spans.get(part, wish.span),
    )


def _other_spin(shot: Shot, missed: BetweenSteps) -> Diagnostic:
    wish = shot.wish
    nearest = missed.spins[0]
    tops = sorted({round(ball.top_rpm) for ball in missed.spins})
    near = sorted(sorted(tops, key=lambda top: abs(top - wish.top_rpm))[:_LISTED])
    return BETWEEN_STEPS.report(
        f"`{wish.name}` is to spin {_spin(wish.top_rpm, wish.side_rpm)}, and no steps of the "
        f"launcher give that; of topspin they give {', '.join(map(str, near))} rpm",
        help=f"the nearest ball is `speed {_written('speed', nearest.speed_mps)}  "
        f"spin {_spin(nearest.top_rpm, nearest.side_rpm)}`",
        span=wish.spans.get("spin", wish.span),
    )


def _spin(top_rpm: float, side_rpm: float) -> str:
    parts = [f"{'top' if top_rpm > 0 else 'back'} {abs(top_rpm):.0f} rpm"] if top_rpm else []
    side = round(side_rpm)
    parts += [f"side {'ad' if side > 0 else 'deuce'} {abs(side)} rpm"] if side else []
    return ", ".join(parts) or "flat"


def _asked(missed: BetweenSteps) -> str:
    if missed.part == "speed":
        return f"is to leave at {_written('speed', missed.wished)}"
    return f"is to {_VERBS[missed.part]} {_written(missed.part, missed.wished)}"


def _listed(missed: BetweenSteps) -> str:
    """What there is around the wish: all of it, or as many as are nearest."""
    near = sorted(missed.had, key=lambda value: abs(value - missed.wished))[:_LISTED]
    *others, last = (_number(missed.part, value) for value in sorted(near))
    unit = "km/h" if missed.part == "speed" else _UNITS[missed.part]
    return f"{', '.join(others)} and {last} {unit}" if others else f"{last} {unit}"


def _written(part: str, value: float) -> str:
    return f"{_number(part, value)} {'km/h' if part == 'speed' else _UNITS[part]}"


def _number(part: str, value: float) -> str:
    return f"{value * 3.6:.1f}" if part == "speed" else f"{value:.2f}"
