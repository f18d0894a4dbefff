"""A plan's steps, however its feeds fly: most of what is worked out over its tree hangs on these.

What a feed says of its flight is left out, so that whoever looks at it all the same is found out.
"""

from __future__ import annotations

import msgspec

from feedscript.plan.model import AimedFeed, Plan

_FLIGHT = dict.fromkeys(
    name for name in AimedFeed.__struct_fields__ if name not in ("name", "wish", "launcher", "line")
)
#: And what the bounds say of it.
_FASTEST = dict.fromkeys(("fastest_mps", "fastest_least_mps"))


def steps_alone(plan: Plan) -> Plan:
    """The plan with feeds that say nothing of their flight, and without a certificate."""
    feeds = tuple(msgspec.structs.replace(feed, **_FLIGHT) for feed in plan.feeds)
    bounds = msgspec.structs.replace(plan.bounds, **_FASTEST)
    return msgspec.structs.replace(
        plan, feeds=feeds, bounds=bounds, program_hash="", certificate=None
    )
