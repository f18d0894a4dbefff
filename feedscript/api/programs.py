"""Programs checked, rehearsed and laid out as records; whatever is wrong with one is raised."""

from __future__ import annotations

from pathlib import Path

from feedscript.bench import sides
from feedscript.bench.record import Record
from feedscript.check.check_program import Options, Verdict, check_program
from feedscript.check.expected import Met, drawing_of
from feedscript.diagnostics import Diagnostic, in_reading_order, render
from feedscript.journal.store import read_journal
from feedscript.plan.expect.evaluation import evaluate, written
from feedscript.plan.model import Plan
from feedscript.session.rehearsal import rehearse as rehearsing
from feedscript.session.rehearsal.rehearse import Rehearsal
from feedscript.shipped import profile_path, program_path


class RefusedError(ValueError):
    """A program that may not be run; its words are the diagnostics as a person reads them."""

    def __init__(self, verdict: Verdict) -> None:
        self.verdict = verdict
        errors = [one for one in in_reading_order(verdict.diagnostics) if one.is_error]
        super().__init__("\n\n".join(render(one, verdict.sources) for one in errors))

    @property
    def diagnostics(self) -> tuple[Diagnostic, ...]:
        """Everything that was said of it."""
        return self.verdict.diagnostics


def check(
    program: str | Path,
    *,
    text: str | None = None,
    launcher: str | Path | None = None,
    seed: int | None = None,
) -> Verdict:
    """The verdict on a program: a file, or a shipped one by its name; never raises for what it
    holds.

    ``text`` stands for the file's content. ``launcher``: another profile, a file or a shipped one
    by its name. ``seed``: for what the program leaves to chance.
    """
    path = Path(program) if text is not None else program_path(str(program), None)
    profile = None if launcher is None else profile_path(str(launcher))
    return check_program(path, Options(launcher=profile, seed=seed), text=text)


def _plan(verdict: Verdict) -> Plan:
    if not verdict.ok or verdict.plan is None:
        raise RefusedError(verdict)
    return verdict.plan


def _name(verdict: Verdict) -> str:
    return next(iter(verdict.sources), "the program")


def rehearse(
    verdict: Verdict, *, seed: int = 1, faults: tuple[str, ...] = (), results: bool = False
) -> Rehearsal:
    """The whole lesson on the simulated launcher, in virtual time.

    ``seed``: of the scatter; ``faults``: as in ``feedscript rehearse --fault``; ``results``:
    invented players hit. Raises RefusedError, and LauncherError for a fault by no known name.
    """
    plan = _plan(verdict)
    return rehearsing.rehearse(
        plan, verdict.profiles, _name(verdict), seed=seed, faults=faults, results=results
    )


def expectations(
    verdict: Verdict, *, draws: int = 2000, seed: int | None = None
) -> tuple[Met, ...]:
    """What the program expects of itself, judged over so many drawn balls. Raises RefusedError."""
    _plan(verdict)
    assert verdict.facts is not None
    assert verdict.program is not None
    drawing = drawing_of(verdict.facts, draws, seed)
    program = verdict.program
    return tuple(
        Met(written(program, one.span), one.span.line, evaluate(one, program, drawing))
        for one in program.expectations
    )


def planned(verdict: Verdict) -> Record:
    """The lesson's balls as written. Raises RefusedError, and FeedscriptError where what comes
    hangs on people."""
    return sides.planned(_plan(verdict), _name(verdict))


def rehearsed(
    verdict: Verdict, *, seed: int = 1, faults: tuple[str, ...] = (), results: bool = False
) -> Record:
    """The lesson's balls as the simulated launcher plays them; as in :func:`rehearse`."""
    return sides.rehearsed(
        _plan(verdict),
        verdict.profiles,
        _name(verdict),
        seed=seed,
        faults=faults,
        results=results,
    )


def lesson(journal: str | Path, number: int) -> Record:
    """A lesson's balls as its journal has them. Raises FeedscriptError."""
    opened = read_journal(Path(journal))
    try:
        return sides.journalled(opened, number)
    finally:
        opened.close()
