"""What a coach can choose from: lessons that were broken off, own programs, shipped ones.

Nothing here reaches a launcher: a choice only says what the next lesson will be, and every step of
setting up and arming comes after it.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Literal

import msgspec

from feedscript.check.catalogue import Entry, entry_of
from feedscript.check.check_program import Options, Verdict, check_program
from feedscript.journal.queries import balls_that_left, broken_off, session_of
from feedscript.journal.store import Journal, read_journal
from feedscript.journal.stored import SessionRow
from feedscript.own_library import library_folder, own_programs
from feedscript.session.state.events import EVENT_FORMAT
from feedscript.shipped import shipped_programs
from feedscript.tongues.text import Text, _, n_
from feedscript.visible import on_one_line

#: So many lessons that were broken off are offered, the newest. Design value.
BROKEN_OFF_SHOWN = 3
#: The address of the simulated launcher, by which no ball flies.
SIMULATED = "sim:"


class Choice(msgspec.Struct, frozen=True, kw_only=True):
    """One thing to choose; ``about`` in a few words. ``lesson`` is the number of one to go on with,
    ``path`` the file of a program."""

    key: str
    kind: Literal["unfinished", "own", "shipped"]
    title: str
    about: str
    path: Path | None = None
    lesson: int | None = None


class Places(msgspec.Struct, frozen=True, kw_only=True):
    """Where choices come from, and how launchers are reached: addresses in a program's order."""

    folder: Path
    library: Path | None
    journal: Path
    urls: tuple[str, ...]
    options: Options

    @property
    def rehearses(self) -> bool:
        """Whether the addresses lead to no real launcher."""
        return all(url.startswith(SIMULATED) for url in self.urls)


def choices(places: Places) -> tuple[Choice, ...]:
    """Everything on offer: what was broken off first. Raises FeedscriptError for a journal that
    cannot be read."""
    own = {path.stem: path for path in sorted(places.folder.glob("*.feed"))}
    library = library_folder(places.library)
    whole = {name: path for name, path in shipped_programs().items() if "/" not in name}
    return (
        *_broken_off(places.journal),
        *_programs("own", own | own_programs(library), library),
        *_programs("shipped", whole, library),
    )


def _programs(
    kind: Literal["own", "shipped"], files: dict[str, Path], library: Path
) -> Iterator[Choice]:
    for name, path in files.items():
        entry = entry_of(name, path, kind == "own", library)
        key = f"{kind}:{name}"
        title = on_one_line(entry.title) or name
        yield Choice(key=key, kind=kind, title=title, about=_about(entry), path=path)


def _about(entry: Entry) -> str:
    """The name it has as a file, and how long it is meant to take."""
    if entry.fault is not None:
        return _("{name}: it has a mistake", name=entry.name)
    if entry.planned_s is None:
        return entry.name
    return _("{name}, {n} min", name=entry.name, n=round(entry.planned_s / 60))


class _Balls(msgspec.Struct, frozen=True):
    balls: tuple[int, int] = (0, 0)


class _PlanHead(msgspec.Struct, frozen=True):
    bounds: _Balls = _Balls()


def _broken_off(path: Path) -> Iterator[Choice]:
    if not path.exists():
        return
    journal = read_journal(path)
    try:
        for number in broken_off(journal, BROKEN_OFF_SHOWN):
            head = session_of(journal, number)
            if head is not None and head.event_format == EVENT_FORMAT:
                yield _unfinished(journal, head)
    finally:
        journal.close()


def _unfinished(journal: Journal, head: SessionRow) -> Choice:
    try:
        planned = msgspec.json.decode(head.plan, type=_PlanHead).bounds.balls[1]
    except (msgspec.DecodeError, UnicodeDecodeError):
        planned = 0
    sent = len(balls_that_left(journal, head.id))
    return Choice(
        key=f"lesson:{head.id}",
        kind="unfinished",
        title=_("Go on with “{title}”", title=on_one_line(head.title)),
        about=_("{sent} of {planned} balls sent", sent=sent, planned=planned),
        lesson=head.id,
    )


def judge(choice: Choice, places: Places) -> Verdict | None:
    """The check's verdict on a program; None for a lesson that was checked when it began."""
    return None if choice.path is None else check_program(choice.path, places.options)


def said_of(verdict: Verdict | None) -> Text:
    """A verdict in a sentence or two."""
    if verdict is None:
        return _("It goes on where it was; what had left is not sent again.")
    if verdict.plan is None or not verdict.ok:
        error = next(one for one in verdict.diagnostics if one.is_error)
        return _("It is refused: {why}. Fix: {fix}.", why=error.message, fix=error.help)
    bounds = verdict.plan.bounds
    minutes = round(bounds.time_s[1] / 60)
    passed = n_(
        "It passes the check: {n} ball at most",
        "It passes the check: {n} balls at most",
        bounds.balls[1],
    )
    return _("{passed}, up to {minutes} min of play.", passed=passed, minutes=minutes)
