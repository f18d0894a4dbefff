"""Progressions: feeds from the easiest to the hardest, and the steps that move a player on them."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.language import program as p
from feedscript.language.examples import program
from feedscript.language.parse import tree as t
from feedscript.language.resolve.lesson.position import Position
from feedscript.language.resolve.lesson.reader import LessonReader
from feedscript.language.resolve.lesson.turns import is_known
from feedscript.language.resolve.properties import once, text_of
from feedscript.language.resolve.scope import WRONG_KIND, Scope
from feedscript.language.resolve.values import Evaluator

_FEEDS = "feed easy = deep with { speed 64 km/h }\nprogression pace { easy, deep }\n"

PROGRESSION = Page(
    slug="progression",
    title="A progression that nobody can stand on",
    why="""`progression pace { easy, medium, deep }` names feeds from the easiest to the hardest,
two at least and each of them once. Every player stands on a step of their own: `send pace after
5 s` sends the ball of that step, and `step up pace` or `step down pace` moves whoever is on turn.
So both stand in somebody's turn, or in a lesson of one player; `step up pace of "Ana"` says whose
step it is wherever it stands.""",
    wrong=program(
        more=_FEEDS + 'group { players "Ana", "Ben" }',
        steps="show speed of deep   send pace after 6 s",
    ),
    corrected=program(
        more=_FEEDS + 'group { players "Ana", "Ben" }',
        steps="show speed of deep   for each player { send pace after 6 s }",
    ),
)


def read_progressions(lesson: LessonReader, scope: Scope) -> None:
    """Enter every progression of a file; reports one of a single step, and a step twice."""
    for node in scope.defined(t.Progression).values():
        evaluator = Evaluator(scope, lesson.feeds.lets)
        rungs = [_rung(lesson, evaluator, one) for one in node.rungs]
        first: dict[str, t.FeedRef] = {}
        for name, written in zip(rungs, node.rungs, strict=True):
            if first.setdefault(name, written) is not written and name:
                once(scope, written, scope.span(first[name]), f"`{scope.written(written)}`")
        if len(node.rungs) < 2 and not scope.damaged(node):
            count = "one step" if node.rungs else "no step"
            message = f"`{node.name}` has {count}, so nobody can go up or down in it"
            help_text = "name two feeds or more, the easiest first: `{ easy, medium, deep }`"
            scope.report(PROGRESSION, node, message, help_text)
        name = scope.prefix + str(node.name)
        its = tuple(one for one in rungs if one)
        lesson.feeds.progressions[name] = p.ProgressionDecl(name=name, rungs=its)


def _rung(lesson: LessonReader, evaluator: Evaluator, written: t.FeedRef) -> str:
    """The feed of a rung; "" where it is none (reported)."""
    name = lesson.feed(evaluator, written).name
    if not _is_one(lesson, name):
        message = f"`{evaluator.scope.written(written)}` is a progression, and a feed belongs here"
        evaluator.scope.report(WRONG_KIND, written, message, "name the feeds of its steps")
        return ""
    return name


def _is_one(lesson: LessonReader, name: str) -> bool:
    return name not in lesson.feeds.progressions


def someone_is_on(lesson: LessonReader, step: t.SyntaxNode, place: Position, written: str) -> bool:
    """Whether it is known whose step counts here; reports where not."""
    if place.on_turn or place.checking or len(lesson.group.names) < 2:
        return True
    message = "nobody in particular is on turn here, so nobody knows whose step counts"
    place.scope.report(PROGRESSION, step, message, f"give everybody a turn: {written}")
    return False


def move(lesson: LessonReader, step: t.MoveSyntax, place: Position) -> tuple[p.Statement, ...]:
    """``step up NAME``, ``step down NAME of "Ana"``."""
    feed = lesson.feed(place.evaluator, step.progression, mirror=place.mirror).name
    way = "up" if step.up else "down"
    written = step.progression.written
    player = None
    if step.player is not None:
        player = player_named(lesson, step.player, place)
        if player is None:
            return ()
    elif not someone_is_on(
        lesson,
        step,
        place,
        f"`for each player {{ … step {way} {written} }}`, or write whose step it is: "
        f'`step {way} {written} of "{lesson.group.names[0] if lesson.group.names else "Ana"}"`',
    ):
        return ()
    if not feed:
        return ()
    found = lesson.feeds.progressions.get(feed)
    if found is None:
        message = f"`{written}` is a feed, and a progression belongs here"
        help_text = f"name its steps first: `progression pace {{ easy, {written} }}`"
        place.scope.report(WRONG_KIND, step.progression, message, help_text)
        return ()
    node = lesson.fields(step, place)
    return (p.MoveStatement(progression=feed, up=step.up, player=player, **node),)


def player_named(lesson: LessonReader, text: t.Text, place: Position) -> str | None:
    """The player of the group whom this names; None where nobody is called so (reported)."""
    name = text_of(text).strip()
    lesson.named.add(name)
    return name if is_known(lesson, text, (name,), place) else None
