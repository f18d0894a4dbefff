"""Programs as tests of pytest: ``pytest --feeds lessons`` checks each and tests what it expects.

With ``--feeds``, or ``feeds = true`` in pytest's own configuration, every ``.feed`` file that
pytest comes by is collected: one test for the check, one for each expectation, by its words. A
program that expects nothing has a test that fails and says so, as in ``feedscript test``; an
expectation that was not decided fails too. Files of patterns alone have no lesson, and are left;
with ``--feeds-strict`` they fail, as does asking for programs where there are none.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from feedscript.override import override

if TYPE_CHECKING:
    from feedscript.check.check_program import Verdict
    from feedscript.check.expected import Met


def pytest_addoption(parser: pytest.Parser) -> None:
    """``--feeds``, ``--feed-draws`` and the word ``feeds`` in the configuration."""
    group = parser.getgroup("feedscript")
    group.addoption(
        "--feeds", action="store_true", help="Collect .feed files: check and test each program."
    )
    group.addoption(
        "--feed-draws", type=int, default=2000, help="Balls drawn for each percentage (2000)."
    )
    group.addoption(
        "--feeds-strict",
        action="store_true",
        help="As --feeds; a file without a lesson fails, and so does a run without a program.",
    )
    parser.addini("feeds_strict", "As --feeds-strict.", type="bool", default=False)
    parser.addini("feeds", "Collect .feed files as tests.", type="bool", default=False)


def pytest_collect_file(file_path: Path, parent: pytest.Collector) -> pytest.Collector | None:
    """A program, where programs are asked for."""
    if not _asked(parent.config, "feeds", "feeds_strict") or file_path.suffix != ".feed":
        return None
    collected: pytest.Collector = Program.from_parent(parent, path=file_path)
    return collected


def _asked(config: pytest.Config, *names: str) -> bool:
    """Whether any of these was asked for, on the command line or in the configuration."""
    return any(config.getoption(name) or config.getini(name) for name in names)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Where programs must be there, none at all is wrong usage. Raises UsageError."""
    asked = _asked(config, "feeds_strict") and not config.option.collectonly
    if asked and not any(isinstance(item, Test) for item in items):
        raise pytest.UsageError("--feeds-strict: there is no program here to test")


class FailedError(Exception):
    """What a program's test says when it fails."""


class Program(pytest.File):
    """One ``.feed`` file."""

    @override
    def collect(self) -> Iterator[pytest.Item]:
        from feedscript.api import check

        verdict = check(self.path)
        without = any(one.slug == "no-lesson" for one in verdict.diagnostics)
        if without and not _asked(self.config, "feeds_strict"):
            return
        yield Check.from_parent(self, name="check", verdict=verdict)
        if verdict.ok and verdict.program is not None:
            for number, one in enumerate(verdict.met):
                yield Expectation.from_parent(self, name=one.words, verdict=verdict, number=number)


class Test(pytest.Item):
    """One test of a program."""

    def __init__(self, *, verdict: Verdict, **words: object) -> None:
        super().__init__(**words)  # type: ignore[arg-type]
        self._verdict = verdict
        # Tests of documents have these too: plugins look there, and some fail where there is none.
        self.funcargs: dict[str, object] = {}

    @override
    def repr_failure(self, excinfo: pytest.ExceptionInfo[BaseException]) -> str:  # type: ignore[override]
        return str(excinfo.value)


class Check(Test):
    """That the program may be run, and expects something of itself."""

    @override
    def runtest(self) -> None:
        from feedscript.api import RefusedError

        if not self._verdict.ok:
            raise FailedError(str(RefusedError(self._verdict)))
        if not self._verdict.met:
            raise FailedError("the program expects nothing of itself: write an `expect`")

    @override
    def reportinfo(self) -> tuple[Path, int, str]:
        return self.path, 0, f"{self.path.name}: check"


class Expectation(Test):
    """One line of its ``expect``, over drawn balls."""

    def __init__(self, *, number: int, **words: Any) -> None:
        super().__init__(**words)
        self._number = number

    @override
    def runtest(self) -> None:
        met = _judged(self._verdict, self.config.getoption("--feed-draws"))[self._number]
        if met.outcome.standing.value != "passes":
            example = met.outcome.counter_example
            more = (
                f"\n{example.words} (seed {example.seed}, ball {example.ball})" if example else ""
            )
            raise FailedError(
                f"line {met.line}: {met.words}\n{met.outcome.standing.value}: "
                f"{met.outcome.figure}{more}"
            )

    @override
    def reportinfo(self) -> tuple[Path, int, str]:
        return self.path, self._verdict.met[self._number].line - 1, f"{self.path.name}: {self.name}"


def _words(met: Met) -> str:
    outcome, example = met.outcome, met.outcome.counter_example
    words = f"line {met.line}: {met.words}\n{outcome.standing.value}: {outcome.figure}"
    if example is None:
        return words
    return f"{words}\n{example.words} (seed {example.seed}, ball {example.ball})"


def _judged(verdict: Verdict, draws: int) -> tuple[Met, ...]:
    """All expectations of a program, judged once."""
    from feedscript.api import expectations

    key = id(verdict), draws
    if key not in _KNOWN:
        _KNOWN[key] = verdict, expectations(verdict, draws=draws)
    return _KNOWN[key][1]


#: What was judged in this run, with the verdict itself, so that its id stays its own.
_KNOWN: dict[tuple[int, int], tuple[Verdict, tuple[Met, ...]]] = {}
