"""Steps that ask the record: until and when."""

from __future__ import annotations

import math

from feedscript.language import program as p
from feedscript.language.parse import tree as t
from feedscript.language.parse.token import Token
from feedscript.language.resolve.lesson.position import MOST_ROUNDS, Position
from feedscript.language.resolve.lesson.progressions import player_named
from feedscript.language.resolve.lesson.reader import LessonReader
from feedscript.language.resolve.lesson.targets import NO_TARGET
from feedscript.language.resolve.value_pages import OUT_OF_RANGE


def asked(
    lesson: LessonReader,
    node: t.ConditionSyntax,
    place: Position,
    player: str | None = None,
) -> p.RecordCondition | None:
    """What is asked of the record; of that of ``player`` where one is named."""
    outcome = recorded(node.outcome, place)
    feed = None
    if node.feed is not None:
        feed = lesson.feed(place.evaluator, node.feed, mirror=place.mirror).name or None
    span = place.scope.span(node)
    if not node.share:
        count = lesson.count(node.count, place, 1, 1000, "a number of balls")
        if count is None:
            return None
        return p.RecordCondition(
            outcome=outcome,
            count=count,
            in_a_row=node.in_a_row,
            feed=feed,
            player=player,
            span=span,
        )
    assert node.last is not None
    last = lesson.count(node.last, place, 1, 1000, "a number of balls")
    share = share_of(node.count, place)
    if last is None or math.isnan(share):
        return None
    return p.RecordCondition(
        outcome=outcome, count=last, share=share, feed=feed, player=player, span=span
    )


def recorded(outcome: Token, place: Position) -> p.Recorded:
    """What a word of the record means; ``in target`` is of the exercise it stands in (reported
    where none has a target)."""
    word = p.Recorded(" ".join(str(outcome).lower().split()))
    unknown = place.checking and place.target is None  # a pattern's own, wherever it is called
    if word is p.Recorded.TARGET and not place.target and not unknown:
        message = "`in target`, and no target is named here"
        help_text = 'name it at the head of the exercise: `target "deep" { area backcourt }`'
        place.scope.report(NO_TARGET, outcome, message, help_text)
    return word


def share_of(node: t.Number | t.Name, place: Position) -> float:
    """A share that is written in per cent, 0 to 1; NaN where it is none (reported)."""
    share = place.evaluator.number(node) if isinstance(node, t.Number) else math.nan
    if math.isnan(share) or 0 < share <= 100:
        return share / 100
    message = f"a share cannot be {share:g} %"
    place.scope.report(OUT_OF_RANGE, node, message, "write 1 % to 100 %")
    return math.nan


def until(lesson: LessonReader, step: t.UntilSyntax, place: Position) -> tuple[p.Statement, ...]:
    """``until … at most … { … }``."""
    condition = asked(lesson, step.condition, place)
    most = place.evaluator.whole(step.most, 1, MOST_ROUNDS, "a number of rounds")
    body = lesson.body(step.body, place.deeper(), "until")
    if condition is None or most is None or not body:
        return ()
    made = p.UntilStatement(condition=condition, most=most, body=body, **lesson.fields(step, place))
    return (made,)


def when(lesson: LessonReader, step: t.WhenSyntax, place: Position) -> tuple[p.Statement, ...]:
    """``when … { … } otherwise { … }``, ``when "Ana" has … { … }``."""
    player = None if step.player is None else player_named(lesson, step.player, place)
    condition = asked(lesson, step.condition, place, player)
    body = lesson.body(step.body, place.deeper(), "when")
    otherwise: tuple[p.Statement, ...] = ()
    if step.otherwise is not None:
        otherwise = lesson.body(step.otherwise, place.deeper(), "otherwise")
    if condition is None or (player is None and step.player is not None):
        return ()
    node = lesson.fields(step, place)
    return (p.WhenStatement(condition=condition, body=body, otherwise=otherwise, **node),)
