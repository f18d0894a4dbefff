"""Run the expectations of programs: each through the one check, spread over the cores."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from itertools import islice
from pathlib import Path

import msgspec
import numpy as np

from feedscript.check.check_program import Options, Verdict, check_program
from feedscript.check.expected import Met, drawing_of
from feedscript.check.in_pieces.case import Case
from feedscript.check.in_pieces.cores import context
from feedscript.check.in_pieces.pieces import CHUNK, Answer, LandingsAnswer, LandingsPiece
from feedscript.check.in_pieces.work import Workers, landed
from feedscript.language.program import LandsWithin
from feedscript.plan.expect.draws import Array
from feedscript.plan.expect.evaluation import evaluate, written
from feedscript.plan.expect.outcome import ExpectationStanding, Outcome
from feedscript.plan.expect.sent import spoken_of
from feedscript.shipped import files_in


class Asked(msgspec.Struct, frozen=True):
    """What is to be tested, and how hard."""

    options: Options
    draws: int
    seed: int | None = None  # of the draws; None: each program's own


class Tested(msgspec.Struct, frozen=True):
    """One program: its verdict, and its expectations if it may be run."""

    path: Path
    verdict: Verdict
    met: tuple[Met, ...]

    @property
    def ok(self) -> bool:
        """Whether the program passed the check, and all of its expectations, one at least."""
        met = [one.outcome.standing is ExpectationStanding.PASSES for one in self.met]
        return self.verdict.ok and bool(met) and all(met)


#: Verdicts by path. A forked worker finds here what its parent has checked.
_checked: dict[tuple[Path, Options], Verdict] = {}


class Testing(msgspec.Struct, frozen=True):
    """A round of tests that is ready to run."""

    paths: tuple[Path, ...]
    asked: Asked
    cases: tuple[tuple[Path, int], ...]  # a program and one of its expectations

    def outcomes(self, jobs: int) -> Iterator[tuple[Path, int, Outcome]]:
        """Each case's outcome as soon as it is known."""
        if jobs <= 1 or len(self.cases) <= 1:
            for path, number in self.cases:
                yield path, number, _case(path, number, self.asked)
            return
        with ProcessPoolExecutor(min(jobs, len(self.cases)), mp_context=context()) as pool:
            waiting: dict[Future[Outcome], tuple[Path, int]] = {
                pool.submit(_case, path, number, self.asked): (path, number)
                for path, number in self.cases
            }
            for done in as_completed(waiting):
                yield *waiting[done], done.result()

    def outcomes_on(self, workers: Workers) -> Iterator[tuple[Path, int, Outcome]]:
        """The same outcomes in the order of the cases, their balls drawn by these workers."""
        needed = {path: self._flown(path) for path in dict.fromkeys(path for path, _ in self.cases)}
        answers = workers.answers(piece for pieces in needed.values() for piece in pieces)
        known: dict[Path, Mapping[int, tuple[Array, Array]]] = {}
        for path, number in self.cases:
            if path not in known:
                came = list(islice(answers, len(needed[path])))
                known = {path: _together(needed[path], came)}
            yield path, number, _case(path, number, self.asked, known[path])

    def _flown(self, path: Path) -> list[tuple[Case, LandingsPiece]]:
        """The balls of each feed whose share of landings is asked for, once, in pieces."""
        verdict, draws = _verdict(path, self.asked.options), self.asked.draws
        assert verdict.facts is not None
        assert verdict.program is not None
        plan = verdict.facts.plan
        feeds: set[int] = set()
        for one in verdict.program.expectations:
            if isinstance(one, LandsWithin):
                feeds.update(spoken_of(plan, verdict.program, one.feed))
        case, seed = Case(verdict.facts), plan.seed if self.asked.seed is None else self.asked.seed
        return [
            (case, LandingsPiece(seed, feed, start, min(CHUNK, draws - start)))
            for feed in sorted(feeds)
            for start in range(0, draws, CHUNK)
        ]

    def collected(self, outcomes: dict[tuple[Path, int], Outcome]) -> tuple[Tested, ...]:
        """Every program with its outcomes, in the order asked for."""
        return tuple(self._program(path, outcomes) for path in self.paths)

    def _program(self, path: Path, outcomes: dict[tuple[Path, int], Outcome]) -> Tested:
        verdict = _verdict(path, self.asked.options)
        program = verdict.program
        met = []
        if program is not None and verdict.ok:
            for number, expectation in enumerate(program.expectations):
                words = written(program, expectation.span)
                met.append(Met(words, expectation.span.line, outcomes[path, number]))
        return Tested(path, verdict, tuple(met))


def prepare(paths: Sequence[Path], asked: Asked) -> Testing:
    """Check every program and list what there is to test."""
    _checked.clear()
    programs = list(dict.fromkeys(one for path in paths for one in files_in(path)))
    cases: list[tuple[Path, int]] = []
    for path in programs:
        verdict = _verdict(path, asked.options)
        if verdict.ok and verdict.program is not None:
            cases += [(path, number) for number in range(len(verdict.program.expectations))]
    return Testing(tuple(programs), asked, tuple(cases))


def _verdict(path: Path, options: Options) -> Verdict:
    key = (path, options)
    if key not in _checked:
        _checked[key] = check_program(path, options)
    return _checked[key]


def _together(
    pieces: Sequence[tuple[Case, LandingsPiece]], answers: Sequence[Answer]
) -> Mapping[int, tuple[Array, Array]]:
    """The landings of each feed, put together again."""
    found: dict[int, list[tuple[Array, Array]]] = {}
    for (_, piece), answer in zip(pieces, answers, strict=True):
        assert isinstance(answer, LandingsAnswer)
        found.setdefault(piece.feed, []).append(landed(answer))
    return {
        feed: (np.concatenate([x for x, _ in parts]), np.concatenate([y for _, y in parts]))
        for feed, parts in found.items()
    }


def _case(
    path: Path,
    number: int,
    asked: Asked,
    landings: Mapping[int, tuple[Array, Array]] | None = None,
) -> Outcome:
    verdict = _verdict(path, asked.options)
    assert verdict.facts is not None
    assert verdict.program is not None
    drawing = drawing_of(verdict.facts, asked.draws, asked.seed)
    if landings:
        drawing = msgspec.structs.replace(drawing, landed=landings)
    return evaluate(verdict.program.expectations[number], verdict.program, drawing)
