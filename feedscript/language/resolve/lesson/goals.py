"""What an exercise wants of the players' own shots: its target, goals and score."""

from __future__ import annotations

import math
from collections.abc import Iterator

import msgspec
from msgspec.structs import replace

from feedscript.diagnostics import Page
from feedscript.language import program as p
from feedscript.language.examples import program
from feedscript.language.parse import tree as t
from feedscript.language.parse.token import Token
from feedscript.language.resolve.lesson import targets
from feedscript.language.resolve.lesson.conditions import recorded, share_of
from feedscript.language.resolve.lesson.position import Position
from feedscript.language.resolve.lesson.reader import LessonReader
from feedscript.language.resolve.properties import once, text_of

SCORE = Page(
    slug="score",
    title="A score that nobody can make",
    why="""`score to 11 { in target: 2  in: 1  error: launcher 1 }` says what each ball gives by its
result, to its player or to the launcher. A score gives the players something, each result once.""",
    wrong=program(
        steps='show speed of deep   exercise "Points" { score to 3 { error: launcher 1 }\n'
        "  repeat 6 { send deep after 5 s } }"
    ),
    corrected=program(
        steps='show speed of deep   exercise "Points" { score to 3 { in: 1  error: launcher 1 }\n'
        "  repeat 6 { send deep after 5 s } }"
    ),
)

#: No goal is of more balls, no score to more, no ball worth more.
MOST_BALLS = 1000
MOST_POINTS = 100


class Wanted(msgspec.Struct, frozen=True, kw_only=True):
    """What stands at the head of an exercise about the players' own shots."""

    target: p.TargetDecl | None = None
    goals: tuple[p.GoalDecl, ...] = ()
    score: p.ScoreDecl | None = None


def wanted(lesson: LessonReader, step: t.ExerciseSyntax, place: Position) -> Wanted:
    """The target, goals and score of an exercise."""
    target = _target(lesson, step, place)
    here = replace(place, target="" if target is None else target.name)
    goals = [_goal(lesson, note, here) for note in step.notes if isinstance(note, t.GoalSyntax)]
    scores = [note for note in step.notes if isinstance(note, t.ScoreSyntax)]
    for again in scores[1:]:
        once(place.scope, again.word, place.scope.span(scores[0].word), "the score")
    return Wanted(
        target=target,
        goals=tuple(goal for goal in goals if goal is not None),
        score=_score(lesson, scores[0], here) if scores else None,
    )


# --- the target


def _target(lesson: LessonReader, step: t.ExerciseSyntax, place: Position) -> p.TargetDecl | None:
    """The one target that the lines at its head speak of, as it lies for this call."""
    found: p.TargetDecl | None = None
    first: tuple[str, t.SyntaxNode] | None = None
    for node in _named(step):
        name = text_of(node.name if isinstance(node, t.Declaration) else node)
        if first is not None and first[0] != name:
            targets.several(place.scope, node, first[1])
            continue
        if isinstance(node, t.Declaration):
            found = lesson.targets.read(place.evaluator, node)
        elif first is None:
            found = lesson.targets.look_up(place.scope, node)
        first = first or (name, node)
    return found if found is None or not place.mirror else targets.mirrored(found)


def _named(step: t.ExerciseSyntax) -> Iterator[t.Declaration | t.Text]:
    """Every word of a target at the head: what lays it out or names it, then goals and score."""
    for note in step.notes:
        if isinstance(note, t.Declaration):
            yield note
        elif isinstance(note, t.NoteSyntax) and str(note.word).lower() == "target":
            yield note.text
    for shot in _shots(step):
        if isinstance(shot.where, t.Text):
            yield shot.where


def _shots(step: t.ExerciseSyntax) -> Iterator[t.Shot]:
    for note in step.notes:
        if isinstance(note, t.GoalSyntax) and note.shot is not None:
            yield note.shot
        elif isinstance(note, t.ScoreSyntax):
            for line in note.properties:
                if isinstance(line.word, t.Shot):
                    yield line.word


def _result(shot: t.Shot | None, place: Position) -> p.Recorded:
    """What a shot is recorded as at least: in the target, or in court."""
    if shot is None or isinstance(shot.where, Token):
        return p.Recorded.IN
    if isinstance(shot.where, t.Text):
        return p.Recorded.TARGET
    return recorded(shot.word, place)


# --- goals


def _goal(lesson: LessonReader, node: t.GoalSyntax, place: Position) -> p.GoalDecl | None:
    in_target = _result(node.shot, place) is p.Recorded.TARGET
    span = place.scope.span(node)
    of = None
    if node.of is not None:
        of = lesson.count(node.of, place, 1, MOST_BALLS, "a number of balls")
        if of is None:
            return None
    if node.share:
        share = share_of(node.count, place)
        if math.isnan(share) or of is None:
            return None
        # A hair is taken off, so that 70 % of 10 is 7 whatever 0.7 * 10 rounds to.
        at_least = max(1, math.ceil(share * of - 1e-9))
        return p.GoalDecl(at_least=at_least, of=of, in_target=in_target, share=share, span=span)
    count = lesson.count(node.count, place, 1, of or MOST_BALLS, "a number of balls")
    if count is None:
        return None
    of = count if node.in_a_row else of
    row = node.in_a_row
    return p.GoalDecl(at_least=count, of=of, in_target=in_target, in_a_row=row, span=span)


# --- the score


def _score(lesson: LessonReader, node: t.ScoreSyntax, place: Position) -> p.ScoreDecl | None:
    to = None
    if node.to is not None:
        to = lesson.count(node.to, place, 1, MOST_BALLS, "the points of a game")
        if to is None:
            return None
    said: dict[tuple[str, bool], t.Points] = {}
    points: dict[p.Recorded, int] = {}
    against: dict[p.Recorded, int] = {}
    for line in sorted(node.properties, key=lambda line: _is_of_several(line.word)):
        count = lesson.count(line.count, place, 1, MOST_POINTS, "the points of a ball")
        results = _results(line.word, place)
        if not _said_once(line, results, said, place) or count is None:
            return None
        given = against if line.launcher else points
        for result in results:
            given.setdefault(result, count)
    if not points:
        if not place.scope.damaged(node):
            message = "this score gives the players nothing"
            help_text = "say what a good ball gives: `score to 11 { in: 1  error: launcher 1 }`"
            place.scope.report(SCORE, node.word, message, help_text)
        return None
    span = place.scope.span(node)
    return p.ScoreDecl(to=to, pairs=node.pairs, points=points, against=against, span=span)


def _is_of_several(word: t.Shot | Token) -> bool:
    """``in`` and ``error`` stand for what no line of its own speaks of."""
    if isinstance(word, t.Shot):
        return isinstance(word.where, Token) or (word.where is None and word.word.type == "IN")
    return str(word).lower() == "error"


def _results(word: t.Shot | Token, place: Position) -> tuple[p.Recorded, ...]:
    if isinstance(word, t.Shot):
        one = _result(word, place)
        return p.GOOD if one is p.Recorded.IN else (one,)
    return p.ERRORS if str(word).lower() == "error" else (p.Recorded(str(word).lower()),)


def _said_once(
    line: t.Points,
    results: tuple[p.Recorded, ...],
    said: dict[tuple[str, bool], t.Points],
    place: Position,
) -> bool:
    first = said.setdefault((results[0].value + str(len(results)), line.launcher), line)
    if first is not line:
        what = f"what `{place.scope.written(line).split(':', maxsplit=1)[0].strip()}` gives"
        once(place.scope, line, place.scope.span(first), what)
    return first is line
