"""A lesson as plain lines, for a log or wherever no terminal is: what is new in each state."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

import msgspec

from feedscript.plan.model import Result
from feedscript.session.operator.view import LessonView
from feedscript.tongues.tongue import IN_ENGLISH


class PlainLines(msgspec.Struct, eq=False):
    """Remembers what was told already."""

    _phase: str = ""
    _waits_for: str = ""
    _balls: set[int] = msgspec.field(default_factory=set)  # of several launchers, in no order
    _call: int = 0
    _told: set[tuple[str, float]] = msgspec.field(default_factory=set)
    _results: dict[int, Result] = msgspec.field(default_factory=dict)

    def new_in(self, view: LessonView) -> Iterator[str]:
        at = datetime.fromtimestamp(view.utc_s, UTC).strftime("%H:%M:%S")
        return (f"{at} {words}" for words in self._new_in(view))

    def _new_in(self, view: LessonView) -> Iterator[str]:
        for ball in reversed(view.gone):
            player = f" for {ball.player}" if ball.player else ""
            if ball.feed_id not in self._balls:
                self._balls.add(ball.feed_id)
                yield f"ball {ball.feed_id} left: {ball.feed}{player}"
            if ball.result is not None and self._results.get(ball.feed_id) is not ball.result:
                self._results[ball.feed_id] = ball.result
                yield f"ball {ball.feed_id} recorded: {ball.result.value}"
        for call in view.calls:
            if call.number > self._call:
                self._call = call.number
                yield f"call: {IN_ENGLISH(call.text)}"
        for trouble in view.troubles:
            if (trouble.message, trouble.utc_s) not in self._told:
                self._told.add((trouble.message, trouble.utc_s))
                yield f"trouble: {trouble.message} ({trouble.help})"
        now = view.phase_words.lower() if view.stopping else view.phase.value
        asked_anew = view.waits_for not in ("", self._waits_for)
        if now != self._phase or asked_anew:
            self._phase, self._waits_for = now, view.waits_for
            yield now + (f": {view.waits_for}" if view.waits_for else "")
