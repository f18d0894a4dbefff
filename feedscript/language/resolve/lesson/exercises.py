"""Exercises: the named parts of a lesson."""

from __future__ import annotations

import math

from feedscript.diagnostics import Related
from feedscript.language import program as p
from feedscript.language.parse import tree as t
from feedscript.language.resolve.lesson.goals import wanted
from feedscript.language.resolve.lesson.position import LONGEST_S, Position
from feedscript.language.resolve.lesson.reader import LessonReader
from feedscript.language.resolve.lesson.step_pages import EXERCISES
from feedscript.language.resolve.properties import SAID_TWICE, text_of
from feedscript.units import Dimension

#: How often an exercise may be done once more where it does not say. Design value.
REPEATS = 1
#: More than anybody would want; it keeps the bounds of a lesson within what a person can read.
MOST_REPEATS = 20
#: What a mirrored exercise's title ends with.
OTHER_SIDE = ", other side"
#: What a person calls a block, where its own word would not do.
_BLOCKS = {"option": "choice", "otherwise": "when", "rotation": "turn"}


def exercise(
    lesson: LessonReader, step: t.ExerciseSyntax, place: Position
) -> tuple[p.Statement, ...]:
    """``exercise "…" { … }``."""
    allowed = _stands_free(step, place) and _is_new(lesson, step, place)
    planned_s, repeats = _planned(step, place), _repeats(step, place)
    notes = _notes(step, place)
    aims = wanted(lesson, step, place)
    target = "" if aims.target is None else aims.target.name
    body = lesson.body(step.body, place.deeper(target=target), "exercise")
    if not allowed or not body or repeats is None:
        return ()
    made = p.ExerciseStatement(
        title=_title(step, place),
        aim=notes.get("aim", ""),
        watch=notes.get("watch", ""),
        easier=notes.get("easier", ""),
        harder=notes.get("harder", ""),
        planned_s=planned_s,
        repeats=repeats,
        target=aims.target,
        goals=aims.goals,
        score=aims.score,
        body=body,
        **lesson.fields(step, place),
    )
    return (made,)


def _title(step: t.ExerciseSyntax, place: Position) -> str:
    """As written; one that is called mirrored is an exercise of its own beside the other."""
    return text_of(step.title) + (OTHER_SIDE if place.mirror else "")


def _planned(step: t.ExerciseSyntax, place: Position) -> float | None:
    if step.planned is None:
        return None
    within = place.evaluator.within
    seconds = within(step.planned, Dimension.TIME, 1, LONGEST_S, "the time of an exercise")
    return None if math.isnan(seconds) else seconds


def _repeats(step: t.ExerciseSyntax, place: Position) -> int | None:
    if step.repeats is None:
        return REPEATS
    return place.evaluator.whole(step.repeats, 0, MOST_REPEATS, "the repeats of an exercise")


def _stands_free(step: t.ExerciseSyntax, place: Position) -> bool:
    """Whether it stands in the lesson itself, or in a pattern; reports where not."""
    if not place.inside:
        return True
    head = place.scope.source.span(step.start, step.title.end)
    title = place.scope.written(step.title)
    if place.inside == "exercise":
        message = "an exercise stands inside another"
        help_text = f"end the first with `}}` before `exercise {title}`"
    else:
        block = _BLOCKS.get(place.inside, place.inside)
        message = f"an exercise stands inside {'an' if block[0] in 'aeiou' else 'a'} {block}"
        help_text = f"turn them round: `exercise {title} {{ … }}` outside, the {block} in it"
    place.scope.report(EXERCISES, head, message, help_text)
    return False


def _is_new(lesson: LessonReader, step: t.ExerciseSyntax, place: Position) -> bool:
    """Whether no exercise before has this title; reports where one has."""
    title, span = _title(step, place), place.scope.span(step.title)
    if not text_of(step.title).strip():
        place.scope.report(EXERCISES, step.title, "an exercise has no title", 'write `"Depth"`')
        return False
    if place.checking:
        return True
    earlier = lesson.titles.setdefault(title, (span, place.calls))
    if earlier == (span, place.calls):
        return True
    related = (Related(earlier[0], "the first is here"),)
    message = f"two exercises are called {place.scope.written(step.title)}"
    help_text = f'give one another title: `"{title} 2"`'
    if earlier[0] == span:
        help_text = "call its pattern once; on court it can be repeated"
    place.scope.report(EXERCISES, step.title, message, help_text, related)
    return False


def _notes(step: t.ExerciseSyntax, place: Position) -> dict[str, str]:
    """What is said at the head of the exercise, by its word."""
    found: dict[str, t.NoteSyntax] = {}
    for note in step.notes:
        if not isinstance(note, t.NoteSyntax):
            continue
        word = str(note.word).lower()
        if (first := found.setdefault(word, note)) is not note:
            related = (Related(place.scope.span(first), "it is said here first"),)
            message = f"the exercise says its `{word}` twice"
            place.scope.report(SAID_TWICE, note, message, "keep one of the two", related)
    return {word: text_of(note.text) for word, note in found.items()}
