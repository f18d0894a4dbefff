"""What programs, rehearsed with and without faults, have touched of all that there is.

What there is stands in the code's own tables: the registry of rules, the phases of a lesson and
the table of what leads from one to the next, the launcher's states, and the wire's words as the
driver has them. Nothing is listed here.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

import msgspec

from feedscript.check.check_program import Verdict
from feedscript.journal.queries import entries_of
from feedscript.journal.store import Journal, open_journal
from feedscript.launcher.port import LauncherState
from feedscript.launcher.tools import tool
from feedscript.launcher.trials.far_end import Kind
from feedscript.launcher.trials.trial import Trial
from feedscript.plan.certificate import Standing
from feedscript.safety.rules import RULES
from feedscript.session.operator.phases import TRANSITIONS, Cause, Phase
from feedscript.session.rehearsal.rehearse import rehearse
from feedscript.session.rehearsal.tried import Tried
from feedscript.session.state.events import KINDS, Commanded, Happened


class Touched(msgspec.Struct, frozen=True, kw_only=True):
    """Of one kind of thing: all there is, in the code's order, and what was touched of it."""

    kind: str
    known: tuple[str, ...]
    touched: frozenset[str]

    @property
    def untouched(self) -> tuple[str, ...]:
        return tuple(one for one in self.known if one not in self.touched)

    @property
    def share(self) -> float:
        """From 0 to 1."""
        return 1.0 - len(self.untouched) / len(self.known)


def together(found: Iterable[Sequence[Touched]]) -> tuple[Touched, ...]:
    """Several findings as one, kind by kind."""
    kinds: dict[str, Touched] = {}
    for ones in found:
        for one in ones:
            before = kinds.get(one.kind)
            touched = one.touched if before is None else one.touched | before.touched
            kinds[one.kind] = msgspec.structs.replace(one, touched=touched)
    return tuple(kinds.values())


def by_checking(verdict: Verdict) -> tuple[Touched, ...]:
    """The rules that had something to measure, and those that refused or warned."""
    spoke, said = set[str](), {one.slug for one in verdict.diagnostics}
    for clause in verdict.certificate.clauses if verdict.certificate is not None else ():
        if clause.standing is not Standing.SILENT:
            spoke.add(clause.rule)
    rules = tuple(rule.slug for rule in RULES)
    return (
        Touched(kind="rules that measured", known=rules, touched=frozenset(spoke)),
        Touched(kind="rules that objected", known=rules, touched=frozenset(said & set(rules))),
    )


def by_rehearsing(verdict: Verdict, source: str, trial: Trial | None = None) -> tuple[Touched, ...]:
    """The phases, transitions, states and words of one rehearsal, perhaps with a fault.

    Raises FeedscriptError (the journal).
    """
    assert verdict.plan is not None, "it passed the check"
    book = open_journal(None)
    with tempfile.TemporaryDirectory() as folder:
        capture = Path(folder) / "link.capture"
        trials = () if trial is None else (trial,)
        tried = Tried(trials, balls_after=None if trial is None else 12, capture=capture)
        try:
            done = rehearse(verdict.plan, verdict.profiles, source, journal=book, tried=tried)
            phases, ways = _lesson(book)
        finally:
            book.close()
        words = [tool("words-crossed")(path) for path in sorted(Path(folder).iterdir())]
    states = {row.state.value for seen in done.seen for row in seen if row.kind is Kind.STATE} | {
        LauncherState.SAFE.value
    }
    return together(
        [
            (
                Touched(kind="phases", known=tuple(Phase), touched=frozenset(phases)),
                Touched(kind="transitions", known=_ALL_WAYS, touched=frozenset(ways)),
                Touched(
                    kind="launcher's states",
                    known=tuple(LauncherState),
                    touched=frozenset(states),
                ),
            ),
            *(
                [Touched(kind=one.kind, known=one.known, touched=one.crossed) for one in each]
                for each in words
            ),
        ]
    )


def _way(phase: Phase, cause: Cause) -> str:
    return f"{phase.value}: {cause.value}"


_ALL_WAYS = tuple(_way(phase, cause) for phase, cause in TRANSITIONS)


def _lesson(journal: Journal) -> tuple[set[str], set[str]]:
    """The phases that a lesson was in, and what led from one to the next."""
    phase = Phase.CONNECTING
    phases, ways = {phase.value}, set[str]()
    for cause, after in _causes(journal):
        if TRANSITIONS.get((phase, cause)) is after:
            ways.add(_way(phase, cause))
        phase = after
        phases.add(phase.value)
    return phases, ways


def _causes(journal: Journal) -> Iterator[tuple[Cause, Phase]]:
    for row in entries_of(journal, 1, "act", "happened"):
        event = msgspec.json.decode(row.data, type=KINDS[row.kind])
        if isinstance(event, Commanded):
            yield event.act, event.phase
        elif isinstance(event, Happened):
            yield event.happening, event.phase
