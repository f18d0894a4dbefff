"""`send by level { improver: easy  club: deep }`: what each level that may be on turn is sent."""

from __future__ import annotations

from feedscript.language import program as p
from feedscript.language.parse import tree as t
from feedscript.language.resolve.declarations import LEVELS
from feedscript.language.resolve.lesson.position import Position
from feedscript.language.resolve.lesson.reader import LessonReader
from feedscript.language.resolve.lesson.step_pages import BY_LEVEL
from feedscript.language.resolve.properties import choice, once
from feedscript.language.resolve.scope import WRONG_KIND

_OTHERWISE = "otherwise"


def feeds_of(
    lesson: LessonReader, step: t.SendSyntax, place: Position
) -> tuple[str, dict[str, str]]:
    """The feed of everybody else, and that of each level that may be on turn here.

    A late comer has the group's level; where the program says neither that nor ``otherwise``, the
    most careful one that is named. Nothing where something is wrong (reported).
    """
    said = _said(lesson, step, place)
    if place.checking or not said or "" in said.values():
        return "", {}
    there = _levels(lesson.group, place.names)
    if not place.on_turn and len(there) > 1:
        message = "nobody in particular is on turn here, so nobody knows which level is fed"
        help_text = "give everybody a turn: `for each player { send by level … }`"
        place.scope.report(BY_LEVEL, step, message, help_text)
        return "", {}
    if _OTHERWISE not in said and not _all_named(step, place, there, said):
        return "", {}
    fallback = said.get(_OTHERWISE) or said[min((x for x in said if x in LEVELS), key=LEVELS.index)]
    level = lesson.group.level
    everybody = fallback if level is None else said.get(level, fallback)
    return everybody, {one: said.get(one, fallback) for one in there if one is not None}


def _said(lesson: LessonReader, step: t.SendSyntax, place: Position) -> dict[str, str]:
    """The feed of each word that is written; "" for one that is not known (reported)."""
    found: dict[str, str] = {}
    first: dict[str, t.LevelFeed] = {}
    for one in step.feeds:
        word = str(one.level).lower()
        if word != _OTHERWISE:
            word = choice(place.scope, one.level, LEVELS, "level") or ""
        feed = lesson.feed(place.evaluator, one.feed, mirror=place.mirror).name
        if feed in lesson.feeds.progressions:
            message = f"`{place.scope.written(one.feed)}` is a progression, and a feed belongs here"
            help_text = f"send it to everybody: `send {place.scope.written(one.feed)} after 5 s`"
            place.scope.report(WRONG_KIND, one.feed, message, help_text)
            feed = ""
        if first.setdefault(word, one) is not one:
            once(place.scope, one, place.scope.span(first[word]), f"`{one.level}`")
        found.setdefault(word, feed if word else "")
    if not step.feeds and not place.scope.damaged(step):
        message = "this says for no level which feed is sent"
        help_text = "write `send by level { improver: easy  club: deep } after 5 s`"
        place.scope.report(BY_LEVEL, step, message, help_text)
    return found


def _levels(group: p.GroupDecl, names: tuple[str, ...] | None) -> set[str | None]:
    """The levels of those who may be on turn; None for one of whom it is not said."""
    own = {one.name: one.level for one in group.own}
    whom = group.names if names is None else names
    return {own.get(name) or group.level for name in whom} or {group.level}


def _all_named(
    step: t.SendSyntax, place: Position, there: set[str | None], said: dict[str, str]
) -> bool:
    """Whether each level that is there is named; reports where not."""
    missing = [level for level in LEVELS if level in there and level not in said]
    if not missing and None not in there:
        return True
    feed = place.scope.written(step.feeds[0].feed)
    if missing:
        message = f"somebody here is of the level `{missing[0]}`, and no feed is named for it"
        help_text = f"add `{missing[0]}: {feed}`, or `otherwise: {feed}` for every other level"
    else:
        message = "somebody here has no level, and no feed is named for them"
        help_text = f"add `otherwise: {feed}`, or say `level` in the group"
    place.scope.report(BY_LEVEL, step, message, help_text)
    return False
