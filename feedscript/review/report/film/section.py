"""What a report says of a lesson's films: tables, pictures and reasons, for the coach."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from html import escape

from feedscript.review.report.charts import Charts
from feedscript.review.report.film.landed import LEAST_BALLS, Bias, Landed, landed_of
from feedscript.review.report.film.picture import landed_picture
from feedscript.review.report.film.shots import Suggestions, differences_of, suggestions_of
from feedscript.review.report.lesson import Lesson
from feedscript.review.report.paper import Table, drawn, table
from feedscript.review.report.words import feed_name, name_of, percent
from feedscript.tongues import terms
from feedscript.tongues.text import _, figure, joined, listed
from feedscript.tongues.tongue import IN_ENGLISH, Tongue

#: Why a film does not tell of a ball or a shot, by the name that the journal keeps.
REASONS = {
    "not-looked-for": _("not looked for in a film"),
    "no-pictures": _("the film does not show the time"),
    "camera-moved": _("the camera was moved or its view blocked"),
    "not-in-view": _("outside the picture"),
    "nothing-seen": _("nothing seen on its way"),
    "too-few": _("seen in too few pictures"),
    "bounce-outside": _("bounced outside the picture"),
    "bounce-unseen": _("not seen both before and after its bounce"),
    "not-likely": _("what was seen flies otherwise"),
    "two-ways": _("two ways fit what was seen"),
    "no-ball": _("what was seen is too thin for a ball, or jumps about"),
    "not-sure": _("not known surely enough"),
    "off-every-court": _("a place that no court has"),
    "feed-unseen": _("the fed ball itself was not seen"),
    "let-go": _("nobody hit it"),
    "no-shot": _("no ball seen on its way back"),
    "contact-unseen": _("what was seen was not seen near the racket"),
}


def landed_table(landed: Iterable[Landed]) -> Table:
    """Heads and rows: feed by feed."""
    heads = (
        _("Feed"),
        _("Launcher"),
        _("Fed"),
        _("Seen"),
        _("Off on average"),
        _("Scatter, side by depth"),
    )
    rows = [
        (
            feed_name(one.kind),
            str(one.launcher),
            str(one.fed),
            str(len(one.places)),
            bias_words(one.bias),
            "–" if one.bias is None else scatter_words(one.bias),
        )
        for one in landed
    ]
    return heads, rows


def bias_words(bias: Bias | None) -> str:
    """How far off on average, and whether that is more than chance."""
    if bias is None:
        return _("too few: {n} at least", n=LEAST_BALLS)
    x, y = bias.off_m
    depth, aside = figure(abs(y), 2, " m"), figure(abs(x), 2, " m")
    deep = _("{length} long", length=depth) if y >= 0 else _("{length} short", length=depth)
    side = _("{length} right", length=aside) if x >= 0 else _("{length} left", length=aside)
    clear = _("clear") if bias.clear else _("within what chance gives")
    return joined(", ", (deep, side, clear))


def scatter_words(bias: Bias) -> str:
    """Standard deviations, across and along the court."""
    x, y = (figure(one, 2) for one in bias.scatter_m)
    return _("{x} by {y} m", x=x, y=y)


def suggestion_table(suggestions: Iterable[Suggestions]) -> Table:
    """Heads and rows: player by player."""
    heads = (
        _("Player"),
        _("Looked for"),
        _("As tapped"),
        _("Differs"),
        _("Not tapped"),
        _("Too close"),
        _("Not seen"),
    )
    rows = [
        (
            name_of(one.player),
            *(str(n) for n in (one.looked_for, one.same, one.differ, one.open, one.close)),
            str(sum(one.unseen.values())),
        )
        for one in suggestions
    ]
    return heads, rows


def difference_table(lesson: Lesson) -> Table:
    """Heads and rows: ball by ball."""
    rows = [
        (
            str(one.number),
            name_of(one.player),
            terms.result(one.tapped),
            terms.result(one.film),
            percent(one.sure),
        )
        for one in differences_of(lesson.played)
    ]
    return (_("Ball"), _("Player"), _("Tapped"), _("By the film"), _("How likely")), rows


def reasons_words(unseen: Mapping[str, int], refused: int = 0) -> str:
    """How many were not seen, and why; nothing where all were."""
    told = [_("{n} ({reason})", n=n, reason=REASONS.get(why, why)) for why, n in unseen.items()]
    if refused:
        told.append(_("{n} that a person said are other balls", n=refused))
    return _("Not seen: {reasons}.", reasons=listed(told)) if told else ""


def film_lines(lesson: Lesson) -> list[str]:
    """The same in lines for the terminal."""
    told = [
        f"  {feed_name(one.kind)} by film: {len(one.places)} of {one.fed} seen, "
        f"off on average {bias_words(one.bias)}"
        for one in landed_of(lesson.balls)
    ]
    return told + [
        f"  {name_of(one.player)}'s shots by film: {one.same} as tapped, {one.differ} differ, "
        f"{one.open} not tapped, {one.close} too close, {sum(one.unseen.values())} not seen"
        for one in suggestions_of(lesson.played)
    ]


def film_charts(lesson: Lesson) -> Charts:
    """Of each feed that was seen to land: a short name, a caption, the picture."""
    return [
        (
            f"landed-{number}",
            _(
                "{feed}, as the launcher sees it: crosses asked, discs landed with their 95 % "
                "regions, arrow and dashed line the mean with its own",
                feed=feed_name(one.kind),
            ),
            landed_picture(one, lesson.court),
        )
        for number, one in enumerate(landed_of(lesson.balls), start=1)
        if one.places
    ]


def film_section(lesson: Lesson, tongue: Tongue = IN_ENGLISH) -> str:
    """The part of the page; nothing where no film was looked over."""
    return _landings(lesson, tongue) + _shots(lesson, tongue)


def _landings(lesson: Lesson, tongue: Tongue) -> str:
    landed = landed_of(lesson.balls)
    if not landed:
        return ""
    unseen: Counter[str] = Counter()
    for one in landed:
        unseen.update(one.unseen)
    words = [reasons_words(unseen, sum(one.refused for one in landed)), _LANDED_NOTE]
    return _section(
        _("Where feeds landed, by film"),
        table(*landed_table(landed), tongue) + drawn(film_charts(lesson), tongue),
        words,
        tongue,
    )


_LANDED_NOTE = _(
    "The mean is set apart from the scatter about it: tuning mends the one, not the other. Right "
    "and left are as the launcher looks. A mean is called clear where no offset at all is outside "
    "its 95 % region, the camera's own uncertainty in it."
)
_SHOTS_NOTE = _(
    "What a film suggests is beside what was tapped and changes no figure: whoever stood on the "
    "court knows."
)


def _shots(lesson: Lesson, tongue: Tongue) -> str:
    suggestions = suggestions_of(lesson.played)
    if not suggestions:
        return ""
    unseen: Counter[str] = Counter()
    for one in suggestions:
        unseen.update(one.unseen)
    differences = difference_table(lesson)
    body = table(*suggestion_table(suggestions), tongue)
    if differences[1]:
        head = tongue(_("Shots that differ"))
        body += f"<h3>{escape(head)}</h3>{table(*differences, tongue)}"
    return _section(_("Shots, by film"), body, [reasons_words(unseen), _SHOTS_NOTE], tongue)


def _section(head: str, body: str, words: Iterable[str], tongue: Tongue) -> str:
    told = "".join(f"<p>{escape(tongue(one))}</p>" for one in words if one)
    return f'<section class="player"><h2>{escape(tongue(head))}</h2>{body}{told}</section>'
