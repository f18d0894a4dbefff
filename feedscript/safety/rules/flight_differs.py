"""Every feed, flown again, does what the plan says of it."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule

PAGE = Page(
    slug="flight-differs",
    title="The flight is not the one in the plan",
    why=(
        "The plan states where each feed lands, how high it rises, by how much it clears the net, "
        "how fast it comes down and how far it strays. Each feed is flown again from its speed, "
        "spin and direction, and must agree to 2 cm, 0.05 m/s and 10 ms (design values; the same "
        "equations leave a thousandth of that). A plan changed by hand, or made with another "
        "flight model, is refused. Never waived."
    ),
)

LENGTH_M = 0.02
SPEED_MPS = 0.05
TIME_S = 0.01


def _find(facts: PlanFacts) -> Finding:
    measurements = []
    for index, feed in enumerate(facts.plan.feeds):
        recomputed = facts.recomputed[index]
        differences = {
            "landing": abs(recomputed.landing_m[0] - feed.landing_m[0]) / LENGTH_M,
            "landing depth": abs(recomputed.landing_m[1] - feed.landing_m[1]) / LENGTH_M,
            "apex": abs(recomputed.apex_m - feed.apex_m) / LENGTH_M,
            "net clearance": abs(recomputed.net_clearance_m - feed.net_clearance_m) / LENGTH_M,
            "speed at the bounce": (
                abs(recomputed.speed_at_bounce_mps - feed.speed_at_bounce_mps) / SPEED_MPS
            ),
            "scatter": max(
                abs(recomputed.scatter_m[0] - feed.scatter.major_m) / LENGTH_M,
                abs(recomputed.scatter_m[1] - feed.scatter.minor_m) / LENGTH_M,
            ),
            "time of flight": abs(recomputed.flight_s - feed.flight_s) / TIME_S,
        }
        what = max(differences, key=lambda name: differences[name])
        share = differences[what]
        measurements.append(
            Measurement(
                value=share,
                limit=1.0,
                margin=1.0 - share,
                unit="of the tolerance",
                words=f"{feed.name}, flown again, is off most in {what}",
                message=f"{feed.name}, flown again, has another {what} than the plan says",
                help="make the plan again from its program",
                feed=index,
            )
        )
    return finding(measurements, "the plan has no feeds")


RULE = Rule(
    page=PAGE,
    assumption="the flight model is true of the ball and the air on court",
    source="the flight model's own; tolerances: design value",
    find=_find,
)
