"""From a text to the whole resolved program."""

from __future__ import annotations

import math
from functools import partial
from pathlib import PurePath
from typing import TypeVar

from feedscript.court.lines import COURTS
from feedscript.diagnostics import Diagnostic, Related, Span, in_reading_order
from feedscript.language import program as p
from feedscript.language.parse import tree as t
from feedscript.language.resolve import idle_facts
from feedscript.language.resolve.contents import check_texts, feeds_in, names_in
from feedscript.language.resolve.declarations import Declarations
from feedscript.language.resolve.expectations import Expectations
from feedscript.language.resolve.feeds import Feeds
from feedscript.language.resolve.files import Files
from feedscript.language.resolve.findings import Findings
from feedscript.language.resolve.graph import ordered
from feedscript.language.resolve.group_block import read_group
from feedscript.language.resolve.lesson.patterns import Patterns
from feedscript.language.resolve.lesson.position import LONGEST_S
from feedscript.language.resolve.lesson.progressions import read_progressions
from feedscript.language.resolve.lesson.reader import LessonReader, seed_of
from feedscript.language.resolve.lesson.steps import lesson_reader
from feedscript.language.resolve.lesson.targets import Targets
from feedscript.language.resolve.loading import Load
from feedscript.language.resolve.planning.suits import read_suits
from feedscript.language.resolve.program_pages import ASSUMED, NO_LESSON
from feedscript.language.resolve.properties import SAID_TWICE, once, text_of
from feedscript.language.resolve.scope import Scope, named
from feedscript.language.resolve.values import Amount, Evaluator, report_circle
from feedscript.language.syntax_errors import pages as syntax_pages
from feedscript.language.syntax_errors.hidden import HIDDEN_CHARACTER
from feedscript.memo import Memo
from feedscript.units import Dimension


def read_program(
    text: str, source_name: str, load: Load, memo: Memo
) -> tuple[p.Program | p.Season | None, tuple[Diagnostic, ...]]:
    """The resolved program, or the season that stands there instead, and everything that is wrong
    with the text."""
    return read_with_names(text, source_name, load, memo)[:2]


def read_with_names(
    text: str, source_name: str, load: Load, memo: Memo
) -> tuple[p.Program | p.Season | None, tuple[Diagnostic, ...], Scope]:
    """As :func:`read_program`, with what the names of the text stand for."""
    findings = Findings()
    files = Files(load, findings, memo)
    main = files.read(source_name, text)
    made: p.Program | p.Season | None
    if main.items(t.Season):
        # Seasons are few, and bring the time zones along.
        from feedscript.language.resolve.planning.season import read_season

        made = read_season(main, load)
    else:
        made = _ProgramReader(main, files, findings).run()
    if findings.any_error():
        made = None
    return made, in_reading_order(_without_echoes(findings.all(), files.scopes)), main


def _without_echoes(found: tuple[Diagnostic, ...], scopes: list[Scope]) -> list[Diagnostic]:
    """Without what is only said because the writing on a line was read by guessing."""
    damages = {scope.source.name: scope.damage for scope in scopes}

    def guessed(span: Span | None) -> bool:
        return span is not None and span.line in damages[span.source].guessed_lines

    def echo(one: Diagnostic) -> bool:
        if one.slug in _OF_WRITING or one.span is None or one.span.source not in damages:
            return False
        if damages[one.span.source].unbalanced and one.slug in _OF_BLOCKS:
            return True
        related = one.slug == "said-twice" and any(guessed(other.span) for other in one.related)
        return related or guessed(one.span)

    return [one for one in found if not echo(one)]


_OF_WRITING = {page.slug for page in (*syntax_pages.PAGES, HIDDEN_CHARACTER)}
_OF_BLOCKS = {"nested-turns", "stations", "empty-block"}

K = TypeVar("K", bound=t.SyntaxNode)


class _ProgramReader:
    """One program in the making."""

    def __init__(self, main: Scope, files: Files, findings: Findings) -> None:
        self.main, self.files, self.findings = main, files, findings
        self.lets: dict[int, Amount] = {}
        self.evaluator = Evaluator(main, self.lets)

    def run(self) -> p.Program | None:
        for scope in self.files.scopes:
            self._work_out_lets(scope)
            check_texts(scope)
        declared = Declarations(self.main, self.evaluator)
        suits = declared.only("suits", partial(read_suits, declared))
        court = declared.only("court", declared.court) or p.CourtDecl()
        balls = declared.only("balls", declared.balls) or p.BallsDecl()
        group = declared.only("group", partial(read_group, declared)) or p.GroupDecl()
        keep_outs = self._keep_outs(declared)
        launchers = self._launchers(declared)
        idle_facts.load_of_none(self.main, balls, launchers)
        steps = self._reader(court, launchers, group)
        feeds = steps.feeds
        lesson, planned = self._lesson(steps), self._planned()
        self._see_that_all_are_named(group, steps)
        expectations = self._expectations(steps)
        self._one_word_a_rule()
        waivers, requirements = self._waivers(), self._requirements()
        seed = self._seed()
        if self.findings.any_error():
            return None
        self._note_assumed()
        if group.left_handed:
            feeds.for_left_handers()
        return p.Program(
            title=self._title(),
            suits=suits,
            planned_s=planned[0],
            planned_span=planned[1],
            source=self.main.source.name,
            sources={scope.source.name: scope.source.text for scope in self.files.scopes},
            from_club=tuple(sorted(self.files.from_club)),
            seed=seed,
            court=court,
            balls=balls,
            launchers=launchers,
            group=group,
            keep_outs=keep_outs,
            waivers=waivers,
            requirements=requirements,
            feeds=self._needed(feeds, lesson, expectations),
            lesson=lesson,
            progressions=_progressions(feeds, lesson, expectations),
            expectations=expectations,
            span=self.main.span(self.main.tree),
        )

    def _reader(
        self, court: p.CourtDecl, launchers: tuple[p.LauncherDecl, ...], group: p.GroupDecl
    ) -> LessonReader:
        """What reads steps, once every feed, progression and pattern is known."""
        feeds = self._feeds(court)
        patterns = Patterns(self.files.scopes)
        targets = Targets(self.files.scopes, COURTS[court.lines], self.lets)
        steps = lesson_reader(feeds, patterns, launchers, group, targets)
        for scope in self.files.scopes:
            read_progressions(steps, scope)
        for scope, node in steps.patterns.nodes.values():
            steps.check_pattern(scope, node)
        return steps

    def _see_that_all_are_named(self, group: p.GroupDecl, steps: LessonReader) -> None:
        """Report subgroups and targets that no step speaks of."""
        idle_facts.subgroups_of_none(self.main, group, steps.named)
        steps.targets.see_that_all_are_named(self.main)

    def _work_out_lets(self, scope: Scope) -> None:
        nodes = scope.defined(t.Let)

        def needs(name: str) -> list[str]:
            return [n for n in names_in(nodes[name].value) if n in nodes]

        order, circles = ordered(nodes, needs)
        for circle in circles:
            places: list[t.SyntaxNode] = [named(nodes[name].name) for name in circle]
            report_circle(scope, places, circle, "values")
        evaluator = Evaluator(scope, self.lets)
        for name in order:
            evaluator.let(nodes[name])

    def _blocks(self, word: str) -> list[t.Declaration]:
        return [b for b in self.main.items(t.Declaration) if str(b.word).lower() == word]

    def _keep_outs(self, declared: Declarations) -> tuple[p.KeepOut, ...]:
        found = declared.only("coach", declared.coach) or []
        for block in self._blocks("keep"):
            found.extend(declared.keep_out(block))
        return tuple(found)

    def _feeds(self, court: p.CourtDecl) -> Feeds:
        feeds = Feeds(COURTS[court.lines], self.lets, self.files.memo)
        for scope in self.files.scopes:
            feeds.read_file(scope)
        return feeds

    def _launchers(self, declared: Declarations) -> tuple[p.LauncherDecl, ...]:
        blocks = self._blocks("launcher")
        unnamed = [block for block in blocks if block.name is None]
        for block in unnamed[1:] if len(unnamed) == len(blocks) else unnamed:
            if len(blocks) > 1:
                first = self.main.span(blocks[0].word)
                what = "`launcher` without a name (several need names: `launcher north { … }`)"
                once(self.main, block.word, first, what)
        return tuple(declared.launcher(block) for block in blocks) or (p.LauncherDecl(),)

    def _lesson(self, steps: LessonReader) -> tuple[p.Statement, ...]:
        lessons = self.main.items(t.Lesson)
        if not lessons:
            if self.main.tree.items and not self._word_lost("lesson"):
                end = len(self.main.source.text.rstrip())
                span = self.main.source.span(end, end)
                message = "the program has no lesson"
                help_text = "add one: `lesson { show speed of …  send … after 4 s }`"
                self.main.report(NO_LESSON, span, message, help_text)
            return ()
        for again in lessons[1:]:
            head = self.main.source.span(again.start, again.start + len("lesson"))
            first = self.main.source.span(lessons[0].start, lessons[0].start + len("lesson"))
            self.findings.add(_said_twice(head, first))
            steps.lesson(self.main, again.body)
        body = lessons[0].body
        if not body.steps and not self.main.damaged(body):
            span = self.main.span(body)
            help_text = "write its steps between { }"
            self.main.report(NO_LESSON, span, "the lesson has no step", help_text)
        return steps.lesson(self.main, body)

    def _planned(self) -> tuple[float | None, Span | None]:
        """The time meant for the lesson, and where it is written."""
        written = [lesson.planned for lesson in self.main.items(t.Lesson)][:1]
        if not written or written[0] is None:
            return None, None
        seconds = self.evaluator.within(written[0], Dimension.TIME, 60, LONGEST_S, "a lesson")
        return (None if math.isnan(seconds) else seconds), self.main.span(written[0])

    def _word_lost(self, word: str) -> bool:
        damage = self.main.damage
        lost = {word.lower() for word in damage.words}
        return damage.hopeless or bool(lost & {word, "send", "show"})

    def _expectations(self, steps: LessonReader) -> tuple[p.Expectation, ...]:
        reader = Expectations(self.evaluator, steps)
        found = [
            reader.read(node) for block in self.main.items(t.Expect) for node in block.expectations
        ]
        return tuple(one for one in found if one is not None)

    def _one_word_a_rule(self) -> None:
        """Report a rule that is spoken of twice: stricter again, or stricter and set aside."""
        said: dict[str, t.Allow | t.Require] = {}
        for node in (x for x in self.main.tree.items if isinstance(x, t.Allow | t.Require)):
            first = said.setdefault(str(node.rule).lower(), node)
            if first is not node:
                once(self.main, node.rule, self.main.span(first), f"`{node.rule}`")

    def _waivers(self) -> tuple[p.WaiverDecl, ...]:
        return tuple(
            p.WaiverDecl(
                rule=str(node.rule), because=text_of(node.because), span=self.main.span(node)
            )
            for node in self.main.items(t.Allow)
        )

    def _requirements(self) -> tuple[p.RequirementDecl, ...]:
        found = []
        for node in self.main.items(t.Require):
            amount = self.evaluator.amount(node.value)
            if amount.dimension is not None and not math.isnan(amount.value):
                found.append(
                    p.RequirementDecl(
                        rule=str(node.rule),
                        value=amount.value,
                        dimension=amount.dimension,
                        span=self.main.span(node),
                    )
                )
        return tuple(found)

    def _only(self, kind: type[K], word: str) -> K | None:
        items = self.main.items(kind)
        for again in items[1:]:
            head = self.main.source.span(again.start, again.start + len(word))
            first = self.main.source.span(items[0].start, items[0].start + len(word))
            self.findings.add(_said_twice(head, first))
        return items[0] if items else None

    def _seed(self) -> int:
        self._only(t.Title, "title")
        node = self._only(t.Seed, "seed")
        return 0 if node is None else seed_of(self.main, node.number) or 0

    def _title(self) -> str:
        titles = self.main.items(t.Title)
        return text_of(titles[0].text) if titles else PurePath(self.main.source.name).stem

    def _note_assumed(self) -> None:
        missing = [w for w in ("court", "balls", "launcher") if not self._blocks(w)]
        if missing:
            words = {
                "court": "a singles court at sea level in air of 20 C",
                "balls": "balls of type 2",
                "launcher": "a launcher 1 m behind the centre mark",
            }
            header = self.main.tree.items[0]
            message = f"assumed: {', '.join(words[word] for word in missing)}"
            help_text = "say it: " + " ".join(f"`{word} {{ … }}`" for word in missing)
            self.main.report(ASSUMED, header, message, help_text)

    def _needed(
        self, feeds: Feeds, lesson: tuple[p.Statement, ...], expectations: tuple[p.Expectation, ...]
    ) -> dict[str, p.FeedWish]:
        """The program's own feeds, and those of other files that it sends or speaks of."""
        wanted = set(self.main.defined(t.Feed))
        for name in _named(lesson, expectations):
            its = feeds.progressions.get(name)
            wanted.update((name,) if its is None else its.rungs)
        for name in list(wanted):
            wish = feeds.wishes.get(name)
            if wish is not None and wish.mirrored is not None:
                wanted.add(wish.mirrored)
        return {n: wish for n, wish in feeds.wishes.items() if n in wanted and wish is not None}


def _named(
    lesson: tuple[p.Statement, ...], expectations: tuple[p.Expectation, ...]
) -> dict[str, None]:
    """Every feed and progression that is spoken of, each once."""
    named = dict.fromkeys(feeds_in(lesson))
    named.update(dict.fromkeys(x.feed for x in expectations if isinstance(x, _OF_FEEDS) and x.feed))
    return named


def _progressions(
    feeds: Feeds, lesson: tuple[p.Statement, ...], expectations: tuple[p.Expectation, ...]
) -> dict[str, p.ProgressionDecl]:
    """Those that are spoken of, by what they are called there."""
    named = _named(lesson, expectations)
    return {name: feeds.progressions[name] for name in named if name in feeds.progressions}


_OF_FEEDS = p.ClearsNet | p.LandsWithin | p.ArrivesBetween | p.BouncesInside | p.Running


def _said_twice(again: Span, first: Span) -> Diagnostic:
    return SAID_TWICE.report(
        "a program says this once",
        help="keep one of the two",
        span=again,
        related=(Related(first, "said first here"),),
    )
