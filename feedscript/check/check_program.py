"""The one way in: every command that takes a program goes through ``check_program``.

``check``, ``certify``, ``draw``, ``rehearse``, ``test``, ``run`` and the editor all ask here and so
all see the same verdict: text, tree, plan, certificate and diagnostics.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from feedscript.check.hour import Hour, OwnCollects, hour_of, over_time, speaks_of_time
from feedscript.check.named_profiles import NamedProfiles, find_profiles
from feedscript.diagnostics import Diagnostic, FeedscriptError, Page, has_errors
from feedscript.language import Load, read
from feedscript.language.program import Program, Season
from feedscript.language.resolve.loading import MOST_BYTES, load_beside
from feedscript.language.resolve.read_program import read_with_names
from feedscript.language.resolve.scope import Scope
from feedscript.launcher.profile.model import Profile
from feedscript.memo import Memo
from feedscript.own_library import library_folder
from feedscript.plain_file import read_plain
from feedscript.plan.beyond_model import beyond_model
from feedscript.plan.certificate import Certificate
from feedscript.plan.compile import compile_program
from feedscript.plan.model import Plan
from feedscript.plan.never_holds import never_holding
from feedscript.plan.places import Places
from feedscript.plan.within_reach import out_of_reach
from feedscript.safety.analysis.apply_rules import failed
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.spans import Locator
from feedscript.safety.certify import certify
from feedscript.safety.declared import laxer_than_own, wrong_dimensions
from feedscript.shipped import program_meant, shipped_folder
from feedscript.text_file import NotText, text_of

if TYPE_CHECKING:
    from feedscript.check.expected import Met

UNREADABLE = Page(
    slug="unreadable-file",
    title="The file cannot be read",
    why="A program is a file of UTF-8 text. Without it there is nothing to check.",
)


SEASON_FILE = Page(
    slug="season-file",
    title="A season where a program belongs",
    why="""A season says on which days which programs are played. It has no lesson of its own, so
there is nothing in it to run, to draw or to rehearse.""",
    wrong='feedscript 1\nseason "Autumn juniors" {\n'
    '    every monday at 17:00 for 60 min in "Europe/Vienna"  from 2027-01-11\n'
    '    week 1 "Depth" { use "wednesday-six" }\n}\n',
    corrected="feedscript 1\ncourt { surface hard }\nballs { type 2 }\n"
    "launcher { stands 1 m behind centre mark }\n"
    "feed deep { land 2 m inside baseline, on centre line  speed 80 km/h }\n"
    "lesson { show speed of deep  send deep after 5 s }\n",
)

_LOG = logging.getLogger("feedscript.check")


def not_known() -> OwnCollects | None:
    """Of a coach's own collects nothing is known."""
    return None


class Options(msgspec.Struct, frozen=True):
    """What the command line or the editor adds to a program."""

    launcher: Path | None = None  # a profile that stands in for the one the program names
    seed: int | None = None
    library: Path | None = None  # the coach's own, where it is not the usual one
    #: How long the coach's own took, where that is known; asked where a program speaks of time.
    own_collects: Callable[[], OwnCollects | None] = not_known


class Verdict(msgspec.Struct, frozen=True):
    """Everything that is known of one program. ``plan`` is None unless it may be run."""

    diagnostics: tuple[Diagnostic, ...]
    program: Program | None = None
    plan: Plan | None = None
    draft: Plan | None = None  # aimed but not passed: for pictures of what is wrong, never to run
    certificate: Certificate | None = None
    facts: PlanFacts | None = None  # what the rules looked at: the draft, its flights, its reach
    profiles: tuple[Profile, ...] = ()
    places: Places | None = None  # where in the text each feed and step of the draft stands
    sources: Mapping[str, str] = {}
    hour: Hour | None = None  # of a lesson that says how long it should be, or has exercises
    met: tuple[Met, ...] = ()  # its expectations, judged without draws
    scope: Scope | None = None  # what the names of its text stand for

    @property
    def as_expected(self) -> bool:
        """Whether the program passed, and no expectation is known not to hold."""
        return self.ok and not any(one.broken for one in self.met)

    @property
    def ok(self) -> bool:
        """Whether the program passed: no error, and a plan that carries its certificate."""
        return self.plan is not None and not has_errors(self.diagnostics)


def check_program(
    path: Path,
    options: Options | None = None,
    *,
    text: str | None = None,
    memo: Memo | None = None,
) -> Verdict:
    """The verdict on the program at ``path``; ``text`` stands for its unsaved content.

    With the ``memo`` of earlier checks only what is new is worked out, and the verdict is the same.
    Never raises for anything a file may hold: what is wrong comes back as diagnostics.
    """
    if text is None:
        content = text_of_file(path)
        if isinstance(content, Diagnostic):
            return Verdict(diagnostics=(content,))
        text = content
    _LOG.info("checks %s", path)
    # The outermost place where an error may end: what cannot be checked is refused.
    try:
        return _checked(path, text, options or Options(), Memo() if memo is None else memo)
    except FeedscriptError as told:  # the settings
        return Verdict((told.diagnostic,), sources={str(path): text})
    except Exception as trouble:  # noqa: BLE001
        crash = failed(f"checking {path.name}", trouble)
        return Verdict((crash,), sources={str(path): text})


def check_text_on(text: str, source: str, load: Load, profile: Profile, name: str) -> Verdict:
    """The verdict on a text that lies in no folder here, with a ``profile`` called ``name`` for
    every launcher that it declares. ``load`` finds what it uses. Never raises, as above."""
    memo = Memo()
    try:
        program, found = read(text, source, load=load, memo=memo)
        if not isinstance(program, Program):
            return Verdict(found, sources={source: text})
        count = len(program.launchers)
        named = NamedProfiles((profile,) * count, (name,) * count, {}, ())
        return _judged(program, named, Verdict(found, program), Options(), memo)
    except Exception as trouble:  # noqa: BLE001
        return Verdict((failed(f"checking {source}", trouble),), sources={source: text})


def text_of_file(path: Path) -> str | Diagnostic:
    """A program's text, or why there is none."""
    try:
        raw = read_plain(path, MOST_BYTES)
        if len(raw) > MOST_BYTES:
            return _unreadable(path, f"it is longer than {MOST_BYTES} bytes", "split the program")
    except OSError as trouble:
        return _unreadable(path, trouble.strerror or str(trouble), program_meant(path))
    text = text_of(raw)
    return _unreadable(path, text.cause, text.fix) if isinstance(text, NotText) else text


def _unreadable(path: Path, cause: str, fix: str) -> Diagnostic:
    return UNREADABLE.report(f"{path}: {cause}", help=fix, device=str(path))


def _checked(path: Path, text: str, options: Options, memo: Memo) -> Verdict:
    source = str(path)
    load = load_beside(path, shipped_folder(), library_folder(options.library))
    program, found, scope = read_with_names(text, source, load, memo)
    sources = {source: text}
    if isinstance(program, Season):
        return Verdict((*found, _no_program(program, path)), sources=sources, scope=scope)
    if program is None:
        return Verdict(found, sources=sources, scope=scope)
    sources.update(program.sources)
    named = find_profiles(program, path, options.launcher, memo)
    sources.update(named.sources)
    found = (*found, *named.diagnostics)
    if named.pins:
        pins = tuple(sorted({*program.from_club, *named.pins}))
        program = msgspec.structs.replace(program, from_club=pins)
    if has_errors(found):
        return Verdict(found, program, profiles=named.profiles, sources=sources, scope=scope)
    so_far = Verdict(found, program, sources=sources, scope=scope)
    return _judged(program, named, so_far, options, memo)


def _no_program(season: Season, path: Path) -> Diagnostic:
    message = f'"{season.title}" is a season, and no program'
    plans = f"`feedscript season {path.name}` plans it"
    help_text = f"{plans}; take one of the programs that it names"
    return SEASON_FILE.report(message, help=help_text, span=season.span)


def _judged(
    program: Program, named: NamedProfiles, so_far: Verdict, options: Options, memo: Memo
) -> Verdict:
    compiled = compile_program(program, named.profiles, named.names, seed=options.seed, memo=memo)
    found = (*so_far.diagnostics, *compiled.diagnostics)
    verdict = msgspec.structs.replace(
        so_far, diagnostics=found, places=compiled.places, profiles=named.profiles
    )
    if compiled.plan is None:
        return verdict
    # Feeds that the compiler refused are not spoken of twice; the plan is refused all the same.
    spoken_of = compiled.unsound if has_errors(compiled.diagnostics) else frozenset()
    locate = Locator(program, compiled.plan, compiled.places)
    certified = certify(compiled.plan, named.profiles, locate, spoken_of=spoken_of, memo=memo)
    found = (
        *found,
        *certified.diagnostics,
        *wrong_dimensions(program),
        *laxer_than_own(certified.facts, locate),
        *beyond_model(compiled),
        *out_of_reach(compiled.plan, program),
        *never_holding(compiled.plan, compiled.places),
    )
    hour = hour_of(compiled.plan, options.own_collects()) if speaks_of_time(compiled.plan) else None
    long = None if hour is None else over_time(hour, program.planned_span)
    found = (*found, *((long,) if long else ()))
    met: tuple[Met, ...] = ()
    if program.expectations and certified.plan is not None and not has_errors(found):
        from feedscript.check.expected import unmet, without_draws

        met = without_draws(program, certified.facts)
        found = (*found, *unmet(program, met))
    return msgspec.structs.replace(
        verdict,
        diagnostics=found,
        met=met,
        plan=None if has_errors(found) else certified.plan,
        draft=compiled.plan,
        hour=hour,
        certificate=certified.certificate,
        facts=certified.facts,
    )
