"""One page for the family of a player, in plain words: what was practised, what went well, and one
thing to ask the player about.

It names no other player and judges nobody. It asks rather than tells, as a good coach does: what
players find themselves stays with them (common practice, no source).
"""

from __future__ import annotations

from collections import Counter
from html import escape

from feedscript.plan.model import Result
from feedscript.review.drawing.palette import INK, PAPER
from feedscript.review.drawing.svg import Element, circle, document, rectangle, write
from feedscript.review.record.figures import STREAK, Record
from feedscript.review.record.trends import Way
from feedscript.review.report.exercises import NOT_RECORDED
from feedscript.review.report.figures import Share
from feedscript.review.report.lesson import ERRORS
from feedscript.review.report.paper import notes_list, paper
from feedscript.review.report.words import balls, feed_name, long_day
from feedscript.session.operator.controls import RESULT_COLOURS
from feedscript.tongues.text import _, joined, n_
from feedscript.tongues.tongue import IN_ENGLISH, Tongue

#: Fewer balls than this say too little to a family (design value, as in the coach's report).
BALLS_TO_SAY = 10
#: More kinds of ball than these would not fit the page.
KINDS_NAMED = 6

#: What is asked where one kind of miss stands out. Each can be answered by a child.
ASKED = {
    Result.NET: _("When a ball goes into the net, what do you try on the next one?"),
    Result.LONG: _("When a ball flies too far, what do you try on the next one?"),
    Result.LEFT: _("When a ball goes past on the left, what do you try on the next one?"),
    Result.RIGHT: _("When a ball goes past on the right, what do you try on the next one?"),
}

COUNTED = _(
    "A ball counts where somebody could note what became of it. A few more or fewer are often "
    "luck; what counts is many weeks."
)
#: Where the notes are kept that no club has.
KEPT = _(
    "This page shows one player only. The notes stay on the coach's computer. The coach can "
    "delete them at any time, so please ask."
)


def family_html(record: Record, tongue: Tongue = IN_ENGLISH, kept: str = KEPT) -> str:
    """The whole page, in the family's language; ``kept`` says where the notes are."""

    def told(words: str) -> str:
        return escape(tongue(words))

    name = record.player
    practised = "".join(f"<li>{told(line)}</li>" for line in _practised(record))
    well = "".join(f"<li>{told(line)}</li>" for line in _went_well(record))
    heads = (
        _("What {name} practised", name=name),
        _("What went well"),
        _("One thing to ask {name}", name=name),
    )
    did, went, asks = (f"<h2>{told(head)}</h2>" for head in heads)
    ask = _("Ask, listen, and leave it there. There is no wrong answer.")
    body = (
        f"{did}<ul>{practised}</ul>"
        f"{went}{_picture(record.whole.share, tongue)}<ul>{well}</ul>"
        f"{asks}"
        f'<p class="next">{told(question(record))}</p>'
        f"<p>{told(ask)}</p>"
        f"{notes_list((COUNTED, kept), tongue)}"
    )
    return paper(name, _when(record), body, "sheet family", tongue)


def _when(record: Record) -> str:
    """How many lessons, and from when to when."""
    first, last = (
        long_day(one.lesson.begun_utc_s) for one in (record.lessons[0], record.lessons[-1])
    )
    rehearsed = record.history.rehearsal
    kind = _("Practice without a ball, to try things out.") if rehearsed else ""
    if first == last:
        return joined(" ", [kind, _("Tennis on {day}", day=first)])
    when = n_(
        "Tennis from {first} to {last}: {n} lesson",
        "Tennis from {first} to {last}: {n} lessons",
        len(record.lessons),
        first=first,
        last=last,
    )
    return joined(" ", [kind, when])


def _practised(record: Record) -> list[str]:
    """The exercises, and the kinds of ball outside them, those met most first."""
    met = Counter(
        feed_name(ball.kind) if ball.exercise in ("", NOT_RECORDED) else ball.exercise
        for lesson in record.history.lessons
        for ball in lesson.played
    )
    lines: list[str] = [
        _("{name}: {balls}", name=name, balls=balls(count))
        for name, count in met.most_common(KINDS_NAMED)
    ]
    more = met.total() - sum(count for name, count in met.most_common(KINDS_NAMED))
    return [*lines, _("and other things: {balls}", balls=balls(more))] if more else lines


def _went_well(record: Record) -> list[str]:
    """What can be said that is good, and true beyond a few balls' luck."""
    whole, name = record.whole, record.player
    said: list[str] = []
    if record.trend.way is Way.UP:
        said.append(_("More balls land where they are meant to than in the first lessons."))
    best = _best(record)
    if best is not None:
        kind, share = best
        best_words = _(
            "The best one was {feed}: {made} of {recorded} landed where they were meant to.",
            feed=feed_name(kind),
            made=share.made,
            recorded=share.recorded,
        )
        said.append(best_words)
    if whole.longest is not None and whole.longest.balls >= STREAK:
        row = n_(
            "{n} ball in a row landed where they were meant to, on {day}.",
            "{n} balls in a row landed where they were meant to, on {day}.",
            whole.longest.balls,
            day=long_day(whole.longest.ended_utc_s),
        )
        said.append(row)
    if whole.repeats.recorded >= BALLS_TO_SAY and 2 * whole.repeats.made < whole.repeats.recorded:
        other = whole.repeats.recorded - whole.repeats.made
        changed = _(
            "After a miss, the next ball did not go wrong in the same way: {n} of {all} times.",
            n=other,
            all=whole.repeats.recorded,
        )
        said.append(changed)
    return said or [
        _(
            "{name} was there and played {balls}. Everything begins with that.",
            name=name,
            balls=balls(whole.balls),
        )
    ]


def _best(record: Record) -> tuple[str, Share] | None:
    """The kind of ball that went best for sure, where at least half of many landed."""
    shares = [
        (kind.counted.share.interval[0], name, kind.counted.share)
        for name, kind in record.kinds.items()
        if kind.counted.share.interval is not None
        and kind.counted.share.recorded >= BALLS_TO_SAY
        and 2 * kind.counted.share.made >= kind.counted.share.recorded
    ]
    if not shares:
        return None
    return max(shares)[1:]


def question(record: Record) -> str:
    """One open question, after what stands out most."""
    if record.trend.way is Way.UP:
        return _("What do you do differently now from the first lessons?")
    errors = record.whole.errors
    most = max(ERRORS, key=lambda error: errors[error].made)
    missed = sum(share.made for share in errors.values())
    if missed >= BALLS_TO_SAY and 2 * errors[most].made > missed:
        return ASKED[most]
    best = _best(record)
    if best is not None:
        return _("The {feed} went best. What helps you with it?", feed=feed_name(best[0]))
    return _("Which ball did you like best, and why?")


_DISC, _GAP = 11.0, 30.0


def _picture(share: Share, tongue: Tongue) -> str:
    """Ten balls, as many of them full as landed in court of every ten."""
    if share.value is None or share.recorded < BALLS_TO_SAY:
        return ""
    full = round(10 * share.value)
    discs = [_disc(at, full=at < full) for at in range(10)]
    words = tongue(_("About {n} of every 10 balls landed where they were meant to.", n=full))
    width, height = 10 * _GAP, _GAP
    ground = rectangle((0, 0), width, height, fill=PAPER)
    drawn = write(document(width, height, [ground, *discs], label=words))
    return f"<figure>{drawn}<figcaption>{escape(words)}</figcaption></figure>"


def _disc(at: int, *, full: bool) -> Element:
    fill = RESULT_COLOURS[Result.IN] if full else PAPER
    return circle(((at + 0.5) * _GAP, _GAP / 2), _DISC, fill=fill, stroke=INK, stroke_width=1.5)
