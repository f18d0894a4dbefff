"""Every kind of step: what is written of it, with names looked up and values worked out."""

from __future__ import annotations

import math

from feedscript.language import program as p
from feedscript.language.parse import tree as t
from feedscript.language.resolve.feeds import Feeds
from feedscript.language.resolve.lesson import conditions, exercises, stations, turns
from feedscript.language.resolve.lesson.by_level import feeds_of as by_level_feeds
from feedscript.language.resolve.lesson.on_request import requested
from feedscript.language.resolve.lesson.patterns import Binding, Patterns
from feedscript.language.resolve.lesson.position import LONGEST_S, MOST_ROUNDS, Position
from feedscript.language.resolve.lesson.progressions import move, someone_is_on
from feedscript.language.resolve.lesson.reader import Handlers, LessonReader, seed_of
from feedscript.language.resolve.lesson.step_pages import EMPTY, NO_GAP
from feedscript.language.resolve.lesson.targets import Targets
from feedscript.language.resolve.properties import text_of
from feedscript.language.resolve.values import Evaluator
from feedscript.units import Dimension


def lesson_reader(
    feeds: Feeds,
    patterns: Patterns,
    launchers: tuple[p.LauncherDecl, ...],
    group: p.GroupDecl,
    targets: Targets,
) -> LessonReader:
    """A reader that knows every kind of step."""
    return LessonReader(feeds, patterns, launchers, group, targets, _HANDLERS)


# --- the steps


def _send(lesson: LessonReader, step: t.SendSyntax, place: Position) -> tuple[p.Statement, ...]:
    by_level: dict[str, str] = {}
    if step.feed is None:
        feed, by_level = by_level_feeds(lesson, step, place)
    else:
        feed = lesson.feed(place.evaluator, step.feed, mirror=place.mirror).name
        if feed in lesson.feeds.progressions:
            written = f"`for each player {{ {place.scope.written(step)} }}`"
            feed = feed if someone_is_on(lesson, step, place, written) else ""
    if step.request is not None:
        limits = requested(step, place)
        if not feed or limits is None:
            return ()
        return (
            p.SendStatement(
                feed=feed,
                by_level=by_level,
                after_s=limits.not_before_s,
                at_most=limits.at_most,
                **lesson.fields(step, place),
            ),
        )
    if step.after is None:
        if not place.scope.damaged(step):
            what = place.scope.written(step).split(maxsplit=1)[-1]  # whatever word stood for send
            written = f"send {what}"
            message = "the ball does not say when it leaves"
            help_text = f"write how long after the ball before: `{written} after 4 s`"
            place.scope.report(NO_GAP, step, message, help_text)
        return ()
    within = place.evaluator.within
    after_s = within(step.after, Dimension.TIME, 0, LONGEST_S, "the time after the ball before")
    vary_s = 0.0
    if step.vary is not None:
        most = 60.0 if math.isnan(after_s) else after_s
        vary_s = within(step.vary, Dimension.TIME, 0, most, "the variation of the time")
    if not feed or math.isnan(after_s) or math.isnan(vary_s):
        return ()
    node = lesson.fields(step, place)
    return (p.SendStatement(feed=feed, by_level=by_level, after_s=after_s, vary_s=vary_s, **node),)


def _show(lesson: LessonReader, step: t.ShowSyntax, place: Position) -> tuple[p.Statement, ...]:
    feed = lesson.feed(place.evaluator, step.feed, mirror=place.mirror)
    return (
        (p.ShowSpeedStatement(feed=feed.name, **lesson.fields(step, place)),) if feed.name else ()
    )


def _rest(lesson: LessonReader, step: t.RestSyntax, place: Position) -> tuple[p.Statement, ...]:
    seconds = place.evaluator.within(step.value, Dimension.TIME, 0, LONGEST_S, "a rest")
    return (
        ()
        if math.isnan(seconds)
        else (p.RestStatement(seconds=seconds, **lesson.fields(step, place)),)
    )


def _say(lesson: LessonReader, step: t.SaySyntax, place: Position) -> tuple[p.Statement, ...]:
    return (p.SayStatement(text=text_of(step.text), **lesson.fields(step, place)),)


def _collect(
    lesson: LessonReader, step: t.CollectSyntax, place: Position
) -> tuple[p.Statement, ...]:
    return (p.CollectStatement(**lesson.fields(step, place)),)


def _break(lesson: LessonReader, step: t.BreakSyntax, place: Position) -> tuple[p.Statement, ...]:
    """A collect that lasts."""
    seconds = place.evaluator.within(step.value, Dimension.TIME, 1, LONGEST_S, "a break")
    if math.isnan(seconds):
        return ()
    words = "" if step.text is None else text_of(step.text)
    node = lesson.fields(step, place)
    return (p.CollectStatement(break_s=seconds, words=words, **node),)


def _wait(lesson: LessonReader, step: t.WaitSyntax, place: Position) -> tuple[p.Statement, ...]:
    """A collect until the coach says so."""
    return (p.CollectStatement(words=text_of(step.text), **lesson.fields(step, place)),)


def _repeat(lesson: LessonReader, step: t.RepeatSyntax, place: Position) -> tuple[p.Statement, ...]:
    times = place.evaluator.whole(step.times, 1, MOST_ROUNDS, "a number of rounds")
    body = lesson.body(step.body, place.deeper(), "repeat")
    if times is None or not body:
        return ()
    return (p.RepeatStatement(times=times, body=body, **lesson.fields(step, place)),)


def _for_time(
    lesson: LessonReader, step: t.ForTimeSyntax, place: Position
) -> tuple[p.Statement, ...]:
    seconds = place.evaluator.within(
        step.value, Dimension.TIME, 1, LONGEST_S, "the time of a block"
    )
    body = lesson.body(step.body, place.deeper(), "for")
    if math.isnan(seconds) or not body:
        return ()
    return (p.ForTimeStatement(seconds=seconds, body=body, **lesson.fields(step, place)),)


def _choose(lesson: LessonReader, step: t.ChooseSyntax, place: Position) -> tuple[p.Statement, ...]:
    options = []
    for option in step.options:
        weight = lesson.count(option.weight, place, 1, 1000, "a weight")
        body = lesson.body(option.body, place.deeper(), "option")
        if weight is not None:
            span = place.scope.span(option)
            options.append(p.OptionStatement(weight=weight, body=body, span=span))
    if not step.options and not place.scope.damaged(step):
        message = "this choice has no option"
        help_text = "write them as `2: send deep after 4 s`"
        place.scope.report(EMPTY, step, message, help_text)
    if not options:
        return ()
    seed = None if step.seed is None else seed_of(place.scope, step.seed)
    return (p.ChooseStatement(options=tuple(options), seed=seed, **lesson.fields(step, place)),)


def _shuffle(
    lesson: LessonReader, step: t.ShuffleSyntax, place: Position
) -> tuple[p.Statement, ...]:
    if not step.body.steps:
        lesson.body(step.body, place, "shuffle")
    items = []
    for inner in step.body.steps:
        alone = t.Block(inner.start, inner.end, (inner,))
        made = lesson.body(alone, place.deeper(), "shuffle")
        if made:
            items.append(made)
    if not items:
        return ()
    seed = None if step.seed is None else seed_of(place.scope, step.seed)
    return (p.ShuffleStatement(items=tuple(items), seed=seed, **lesson.fields(step, place)),)


def _call(lesson: LessonReader, step: t.CallSyntax, place: Position) -> tuple[p.Statement, ...]:
    found = place.scope.look_up(step.pattern, t.Pattern)
    if found is None:
        return ()
    home, pattern = found
    binding = Binding(place.evaluator, home, pattern, lesson.feed)
    bound = binding.bind(step)
    key = (id(home), str(pattern.name))
    if bound is None or place.checking or key in lesson.patterns.in_circle:
        return ()
    inner = place.deeper(
        evaluator=Evaluator(home, lesson.feeds.lets, bound),
        mirror=place.mirror != step.mirror,
        calls=(*place.calls, place.scope.span(step)),
    )
    return lesson.block(pattern.body, inner)


_HANDLERS: Handlers = {
    t.SendSyntax: _send,
    t.ShowSyntax: _show,
    t.RestSyntax: _rest,
    t.SaySyntax: _say,
    t.CollectSyntax: _collect,
    t.BreakSyntax: _break,
    t.WaitSyntax: _wait,
    t.RepeatSyntax: _repeat,
    t.ForTimeSyntax: _for_time,
    t.ChooseSyntax: _choose,
    t.ShuffleSyntax: _shuffle,
    t.UntilSyntax: conditions.until,
    t.WhenSyntax: conditions.when,
    t.RotateSyntax: turns.rotate,
    t.EachSyntax: turns.each,
    t.RotateStationsSyntax: stations.rotate_stations,
    t.TogetherSyntax: stations.together,
    t.WorkSyntax: stations.work,
    t.WorkTimeSyntax: stations.work_time,
    t.ExerciseSyntax: exercises.exercise,
    t.MoveSyntax: move,
    t.CallSyntax: _call,
}
