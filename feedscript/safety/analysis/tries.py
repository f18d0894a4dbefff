"""Plans that are only tried: a feed in several forms, or the time before it another one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import msgspec

from feedscript.plan.model import AimedFeed, Fed, Option, Plan, Send, ShowSpeed, Station, Step

#: What becomes of a send; None: it is left out.
Change = Callable[[Send], Send | None]


def with_forms(plan: Plan, index: int, forms: Sequence[AimedFeed]) -> Plan:
    """The plan with ``forms`` for its feeds, each as likely wherever the feed ``index`` is sent.

    Nothing else is sent, so that a rule about one ball speaks of these alone, and of whoever gets
    the feed.
    """
    every = tuple(range(len(forms)))

    def change(send: Send) -> Send | None:
        if index not in send.all_feeds():
            return None
        own = tuple(_formed(one, index, every) for one in send.own)
        return msgspec.structs.replace(
            send,
            feeds=_of(send.feeds, index, every),
            left_feeds=_of(send.left_feeds, index, every),
            own=tuple(one for one in own if one.feeds or one.left_feeds),
        )

    return msgspec.structs.replace(plan, feeds=tuple(forms), steps=_changed(plan.steps, change))


def _formed(fed: Fed, index: int, every: tuple[int, ...]) -> Fed:
    return msgspec.structs.replace(
        fed, feeds=_of(fed.feeds, index, every), left_feeds=_of(fed.left_feeds, index, every)
    )


def _of(feeds: tuple[int, ...], index: int, every: tuple[int, ...]) -> tuple[int, ...]:
    return every if index in feeds else ()


def with_gap(plan: Plan, feeds: frozenset[int], line: int, gap_s: float) -> Plan:
    """The plan with another time before these feeds where this line sends them; as varied as it
    was."""

    def change(send: Send) -> Send:
        if send.line != line or not feeds.intersection(send.all_feeds()):
            return send
        vary_s = (send.after_s[1] - send.after_s[0]) / 2
        return msgspec.structs.replace(send, after_s=(max(gap_s - vary_s, 0.0), gap_s + vary_s))

    return msgspec.structs.replace(plan, steps=_changed(plan.steps, change, show=True))


def _changed(steps: tuple[Step, ...], change: Change, *, show: bool = False) -> tuple[Step, ...]:
    """Steps with their sends changed, however deep; what is only shown is left out or stays."""

    def inside(value: Any) -> Any:
        if isinstance(value, Send):
            return change(value)
        if isinstance(value, ShowSpeed):
            return value if show else None
        if isinstance(value, tuple):
            found = (inside(one) for one in value)
            return tuple(one for one in found if one is not None)
        if not isinstance(value, Step | Option | Station):
            return value
        fields = type(value).__struct_fields__
        parts = {name: inside(getattr(value, name)) for name in fields}
        # A ball on request is gone with its send.
        return None if parts.get("send", value) is None else type(value)(**parts)

    found: tuple[Step, ...] = inside(steps)
    return found
