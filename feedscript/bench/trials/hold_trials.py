"""Programs held to named faults: one rehearsal for each fault, judged by what launchers saw."""

from __future__ import annotations

import multiprocessing
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from enum import StrEnum
from pathlib import Path

import msgspec

from feedscript.bench.trials.expectations import Case, Judged, judge
from feedscript.check.check_program import Options, Verdict, check_program
from feedscript.launcher.trials.trial import Trial, What
from feedscript.plan.model import Plan
from feedscript.session.rehearsal.rehearse import rehearse
from feedscript.session.rehearsal.tried import Tried

#: So many balls are seen after a fault before its lesson is ended. Design value.
BALLS_AFTER = 12


class Standing(StrEnum):
    """What became of one program under one fault."""

    HOLDS = "holds"
    FAILS = "fails"
    NEVER_STRUCK = "never struck"  # the lesson was over before its moment came
    NOT_FOR_IT = "not for it"  # the program has no such launcher or player


class Held(msgspec.Struct, frozen=True, kw_only=True):
    """One program under one fault."""

    path: Path
    trial: Trial
    standing: Standing
    judged: tuple[Judged, ...] = ()
    ending: str = ""

    def ok(self, *, strict: bool = False) -> bool:
        """Whether nothing is wrong; what is not for the program is none where it is strict."""
        return self.standing is Standing.HOLDS or (
            self.standing is Standing.NOT_FOR_IT and not strict
        )

    @property
    def failed(self) -> tuple[Judged, ...]:
        return tuple(one for one in self.judged if not one.holds)


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """How programs are held to faults. ``balls_after`` None: to the lesson's end."""

    trials: tuple[Trial, ...]
    options: Options = Options()
    scatter_seed: int = 1
    balls_after: int | None = BALLS_AFTER


def not_for(plan: Plan, trial: Trial) -> bool:
    """Whether the program has nobody and nothing that the fault could befall."""
    nobody = trial.what is What.COMES_LATE and not plan.group.players
    return trial.launcher > len(plan.launchers) or nobody


def hold(path: Path, verdict: Verdict, trial: Trial, asked: Asked) -> Held:
    """Rehearse a program that passed the check with one fault, and judge what came of it.

    Raises FeedscriptError (the journal).
    """
    plan = verdict.plan
    assert plan is not None, "it passed the check"
    if not_for(plan, trial):
        return Held(path=path, trial=trial, standing=Standing.NOT_FOR_IT)
    done = rehearse(
        plan,
        verdict.profiles,
        str(path),
        seed=asked.scatter_seed,
        tried=Tried((trial,), asked.balls_after),
    )
    case, ending = Case(trial=trial, plan=plan, rehearsal=done), done.ending.phase.value
    if not case.struck_s:
        return Held(path=path, trial=trial, standing=Standing.NEVER_STRUCK, ending=ending)
    judged = tuple(judge(words, case) for words in trial.expect)
    standing = Standing.HOLDS if all(one.holds for one in judged) else Standing.FAILS
    return Held(path=path, trial=trial, standing=standing, judged=judged, ending=ending)


def hold_all(
    verdicts: Sequence[tuple[Path, Verdict]], asked: Asked, jobs: int = 1
) -> Iterator[Held]:
    """Every program under every fault, in this order."""
    cases = [(path, number) for path, _ in verdicts for number in range(len(asked.trials))]
    _known.clear()
    _known.update(verdicts)
    # A forked worker inherits what was checked; elsewhere this process does it all.
    if jobs > 1 and len(cases) > 1 and "fork" in multiprocessing.get_all_start_methods():
        context = multiprocessing.get_context("fork")
        with ProcessPoolExecutor(min(jobs, len(cases)), mp_context=context) as pool:
            yield from pool.map(_one, *zip(*((*case, asked) for case in cases), strict=True))
        return
    for path, number in cases:
        yield _one(path, number, asked)


#: Verdicts by path, for forked workers.
_known: dict[Path, Verdict] = {}


def _one(path: Path, number: int, asked: Asked) -> Held:
    if path not in _known:
        _known[path] = check_program(path, asked.options)
    return hold(path, _known[path], asked.trials[number], asked)
