"""What a coach answers, and what there is to choose from."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from feedscript.desk.first_lesson.exercises import library
from feedscript.diagnostics import Diagnostic, FeedscriptError, Page
from feedscript.language.resolve.planning.suits import WHO
from feedscript.shipped import shipped_profiles
from feedscript.tongues.text import _
from feedscript.visible import HIDDEN

NO_FIRST_LESSON = Page(
    slug="no-first-lesson",
    title="No first lesson comes of these answers",
    why=(
        "The desk lays out a lesson of exercises that suit the group, and offers it only when it "
        "passes the check. Where nothing does, it says what stood in the way."
    ),
)

#: One launcher, and two places beside the court to work at meanwhile: three times five people.
MOST_PLAYERS = 15
MINUTES = (20, 120)
BALLS = (20, 1000)
MOST_NAME = 60


class Answers(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The answers. ``balls``: how many there are. ``launchers``: profiles by file name."""

    players: int
    who: str  # a stage or a level
    minutes: int
    balls: int
    launchers: tuple[str, ...]
    names: tuple[str, ...] = ()  # of some or all; the rest are numbered
    theme: str = ""  # "" for any
    has: tuple[str, ...] = ()  # equipment at hand, such as cones


class Choices(msgspec.Struct, frozen=True, kw_only=True):
    """What the form offers."""

    who: tuple[str, ...]
    themes: tuple[str, ...]
    launchers: tuple[str, ...]
    needs: tuple[str, ...]
    most_players: int
    minutes: tuple[int, int]
    balls: tuple[int, int]


def choices() -> Choices:
    """What there is to choose from."""
    suits = [one.suits for one in library()]
    return Choices(
        who=WHO,
        themes=tuple(sorted({theme for one in suits for theme in one.themes})),
        launchers=tuple(sorted(shipped_profiles(), key=lambda name: (name != "garage.toml", name))),
        needs=tuple(sorted({need for one in suits for need in one.needs})),
        most_players=MOST_PLAYERS,
        minutes=MINUTES,
        balls=BALLS,
    )


def no_lesson(message: str, fix: str) -> FeedscriptError:
    """The refusal, with its cause and mend."""
    return FeedscriptError(NO_FIRST_LESSON.report(message, help=fix))


def judged(answers: Answers) -> Answers:
    """The same answers with a name for everybody. Raises FeedscriptError where one cannot be."""
    for fault in _faults(answers, choices()):
        raise FeedscriptError(fault)
    return msgspec.structs.replace(answers, names=_everybody(answers))


def _faults(answers: Answers, offered: Choices) -> Iterator[Diagnostic]:
    """What is wrong with the answers, one by one."""
    for what, said, (least, most) in (
        (_("players"), answers.players, (1, offered.most_players)),
        (_("minutes"), answers.minutes, offered.minutes),
        (_("balls"), answers.balls, offered.balls),
    ):
        if not least <= said <= most:
            yield _fault(
                _(
                    "{n} {what}: there may be {least} to {most}",
                    n=said,
                    what=what,
                    least=least,
                    most=most,
                ),
                _("give more {what}", what=what)
                if said < least
                else _("give fewer {what}", what=what),
            )
    if answers.who not in offered.who:
        yield _fault(_("`{who}` is no stage or level", who=answers.who), _one_of(offered.who))
    if answers.theme and answers.theme not in offered.themes:
        theme = _("no exercise has the theme `{theme}`", theme=answers.theme)
        yield _fault(theme, _one_of(offered.themes))
    if not 1 <= len(answers.launchers) <= 2:
        yield _fault(_("a lesson has one launcher or two"), _("choose one, or two"))
    for launcher in answers.launchers:
        if launcher not in offered.launchers:
            message = _("no profile is called `{launcher}`", launcher=launcher)
            yield _fault(message, _one_of(offered.launchers))
    yield from _faults_of_names(answers)


def _faults_of_names(answers: Answers) -> Iterator[Diagnostic]:
    names = _written(answers)
    if len(names) > answers.players:
        message = _("{n} names for {players} players", n=len(names), players=answers.players)
        yield _fault(message, _("take names out, or add players"))
    for name in names:
        if names.count(name) > 1:
            message = _("two players are called `{name}`", name=name)
            yield _fault(message, _("add something that tells them apart"))
        if len(name) > MOST_NAME:
            yield _fault(_("a name is longer than {n} letters", n=MOST_NAME), _("shorten it"))


def _fault(message: str, fix: str) -> Diagnostic:
    return NO_FIRST_LESSON.report(message, help=fix)


def _one_of(words: tuple[str, ...]) -> str:
    return _("choose of {choices}", choices=", ".join(words))


def _written(answers: Answers) -> tuple[str, ...]:
    """The names that say something, without what nobody sees."""
    plain = (" ".join(HIDDEN.sub(" ", name).split()) for name in answers.names)
    return tuple(name for name in plain if name)


def _everybody(answers: Answers) -> tuple[str, ...]:
    names = list(_written(answers))
    numbered = (f"Player {number}" for number in range(1, 2 * MOST_PLAYERS + 1))
    free = (name for name in numbered if name not in names)
    while len(names) < answers.players:
        names.append(next(free))
    return tuple(names)
