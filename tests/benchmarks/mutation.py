"""How many small faults, put into the code by a tool, does a test notice?

Run by hand: `python tests/benchmarks/mutation.py session --sample 100`; needs the extra `mutation`.

For one part of the project: a first run of its tests notes which test reaches which line, and how
long each takes. Then mutants made by universalmutator (Groce, Holmes, Marinov, Shi & Zhang, "An
Extensible, Regular-Expression-Based Tool for Multi-Language Mutant Generation", ICSE 2018) are
drawn by a seed, among the lines that some test reaches. A mutant whose syntax tree (Python) or
object code (C) is that of the original is no mutant and is not counted; nor are those of imports
and signatures, and those that only add a line. Each of the others is put into a copy of the tree,
and the tests that reach its line are run, the quick ones first. A mutant that no test notices is
printed with its line: it is a missing test, or a change that changes nothing. Sentences that a
person reads are left as they are.

Lines that no test reaches are counted apart. The score is of the sample; its 95 % score interval
stands beside it.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import io
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from queue import Queue
from typing import NamedTuple

from feedscript.plan.expect.score_interval import score_interval

ROOT = Path(__file__).resolve().parent.parent.parent
#: The quick tests that are tried first on a mutant, and how long all of them may take in a row.
QUICK_TESTS, QUICK_SECONDS = 40, 20.0
#: All tests that reach a line, cut where they take longer than this.
ALL_SECONDS = 240.0


class Part(NamedTuple):
    """Some sources and the tests that judge them."""

    sources: tuple[str, ...]
    tests: tuple[str, ...]


PARTS = {
    "session": Part(("feedscript/session/**/*.py",), ("tests/session",)),
    "safety": Part(("feedscript/safety/**/*.py",), ("tests/safety", "tests/check", "tests/cli")),
    "drivers": Part(("drivers/feedscript_drivers/**/*.py",), ("tests/drivers",)),
    "firmware": Part(("drivers/firmware/core/**/*.c",), ()),
}


class Mutant(NamedTuple):
    """One line of one file, changed."""

    file: str
    line: int
    before: str
    after: str


class Outcome(NamedTuple):
    mutant: Mutant
    noticed: bool
    by: str


class Reach(NamedTuple):
    """Which tests reach which line, and how many seconds each test takes."""

    tests: dict[tuple[str, int], list[str]]
    seconds: dict[str, float]

    def of(self, mutant: Mutant) -> list[str]:
        """The tests that reach the line, quickest first."""
        reached = self.tests.get((mutant.file, mutant.line), [])
        return sorted(reached, key=lambda test: self.seconds.get(test, 1.0))


# ---------------------------------------------------------------- drawing mutants


def all_mutants(part: Part) -> list[Mutant]:
    """Every mutant of the tool that is another program, in a fixed order."""
    found = []
    for pattern in part.sources:
        for path in sorted(ROOT.glob(pattern)):
            found += list(_mutants_of(path))
    return found


def _mutants_of(path: Path) -> Iterator[Mutant]:
    from universalmutator.mutator import mutants_regexp

    language = "python" if path.suffix == ".py" else "c"
    rules = ["universal.rules", f"{language}.rules"]
    if language == "c":
        rules.insert(1, "c_like.rules")
    text = path.read_text()
    lines = text.splitlines(keepends=True)
    name = path.relative_to(ROOT).as_posix()
    with contextlib.redirect_stdout(io.StringIO()):
        made = mutants_regexp(lines, rules, ignorePatterns=[], ignoreStringOnly=True)
    quiet = _lines_of_words(text) if language == "python" else frozenset()
    for number, changed, *_ in made:
        mutant = Mutant(name, number, lines[number - 1], changed)
        if number in quiet or changed.count("\n") != 1 or not _is_code(mutant.before):
            continue
        if language == "c" or _is_another_program(text, mutated(lines, mutant)):
            yield mutant


def _is_code(line: str) -> bool:
    """Not an import, a signature or a decorator: there a mutant is no program at all."""
    return not line.lstrip().startswith(
        ("import ", "from ", "def ", "async def ", "class ", "@", "#")
    )


def mutated(lines: Sequence[str], mutant: Mutant) -> str:
    return "".join([*lines[: mutant.line - 1], mutant.after, *lines[mutant.line :]])


def _lines_of_words(text: str) -> frozenset[int]:
    """Lines of docstrings and other texts that stand by themselves: no code."""
    words: set[int] = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            words.update(range(node.lineno, (node.end_lineno or node.lineno) + 1))
    return frozenset(words)


def _is_another_program(before: str, after: str) -> bool:
    try:
        compile(after, "mutant", "exec")
        return _meaning(before) != _meaning(after)
    except (SyntaxError, ValueError):
        return False


def _meaning(text: str) -> str:
    """The syntax tree without the words that a person reads: sentences are judged by people."""
    return ast.dump(_Wordless().visit(ast.parse(text)))


class _Wordless(ast.NodeTransformer):
    def visit_JoinedStr(self, node: ast.JoinedStr) -> ast.AST:
        return ast.Constant("words")

    def visit_Constant(self, node: ast.Constant) -> ast.AST:
        text = node.value
        is_words = isinstance(text, str) and (not text or " " in text)
        return ast.Constant("words") if is_words else node


# ---------------------------------------------------------------- which test reaches what


def reach_of(part: Part, tree: Path) -> Reach:
    """Runs the part's tests once, watching which lines each of them reaches."""
    report = tree / "reach.xml"
    command = [
        *_pytest(),
        *part.tests,
        *[f"--cov={_package(pattern)}" for pattern in part.sources],
        "--cov-context=test",
        "--cov-report=",
        f"--junitxml={report}",
        "-m",
        "not real_time",
    ]
    with (tree / "reach.log").open("w") as log:
        done = subprocess.run(
            command, cwd=tree, env=_surroundings(tree), check=False, stdout=log, stderr=log
        )
    if done.returncode:
        raise SystemExit(
            f"the tests fail without a mutant: {(tree / 'reach.log').read_text()[-3000:]}"
        )
    return Reach(_lines_reached(tree), _seconds(report))


def _package(pattern: str) -> str:
    return pattern.partition("/**")[0]


def _lines_reached(tree: Path) -> dict[tuple[str, int], list[str]]:
    from coverage import CoverageData

    data = CoverageData(str(tree / ".coverage"))
    data.read()
    reached: dict[tuple[str, int], list[str]] = {}
    for file in data.measured_files():
        name = Path(file).relative_to(tree).as_posix()
        for line, contexts in data.contexts_by_lineno(file).items():
            tests = sorted({c.rpartition("|")[0] for c in contexts if "|" in c})
            if tests:
                reached[name, line] = tests
    return reached


def _seconds(report: Path) -> dict[str, float]:
    taken = {}
    for case in ET.parse(report).iter("testcase"):
        file = str(case.get("classname")).replace(".", "/") + ".py"
        taken[f"{file}::{case.get('name')}"] = float(case.get("time") or 0)
    return taken


# ---------------------------------------------------------------- running


def _pytest() -> list[str]:
    return [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", "--timeout=60"]


def _surroundings(tree: Path) -> dict[str, str]:
    path = os.pathsep.join(str(tree / one) for one in (".", "drivers", "simulator"))
    return {**os.environ, "PYTHONPATH": path, "PYTHONDONTWRITEBYTECODE": "1"}


def _copy(folder: Path, name: str) -> Path:
    """The tree as it lies there, built parts too, without what git does not need."""
    tree = folder / name
    shutil.copytree(
        ROOT, tree, symlinks=True, ignore=shutil.ignore_patterns(".git", ".venv", ".*_cache", "out")
    )
    return tree


def _run(command: Sequence[str], tree: Path, most_s: float) -> bool:
    """Whether it ends with 0 in time; what it started is ended with it."""
    running = subprocess.Popen(
        command,
        cwd=tree,
        env=_surroundings(tree),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        return running.wait(most_s) == 0
    except subprocess.TimeoutExpired:
        return False
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(running.pid, signal.SIGKILL)
        running.wait()


def _within(tests: Sequence[str], reach: Reach, seconds: float) -> list[str]:
    chosen, total = [], 0.0
    for test in tests:
        total += reach.seconds.get(test, 1.0)
        if chosen and total > seconds:
            break
        chosen.append(test)
    return chosen


def judge_python(mutant: Mutant, reach: Reach, tree: Path) -> Outcome:
    """Puts the mutant in, runs what reaches its line, and takes it out again."""
    tests = reach.of(mutant)
    quick = _within(tests[:QUICK_TESTS], reach, QUICK_SECONDS)
    everything = _within(tests, reach, ALL_SECONDS)
    with _placed(mutant, tree):
        for chosen, what in ((quick, "quick tests"), (everything[len(quick) :], "other tests")):
            most_s = 60 + 5 * sum(reach.seconds.get(test, 1.0) for test in chosen)
            if chosen and not _run([*_pytest(), *chosen], tree, most_s):
                return Outcome(mutant, True, what)
    return Outcome(mutant, False, f"{len(everything)} tests of {len(tests)}")


def judge_c(mutant: Mutant, tree: Path) -> Outcome | None:
    """Unit tests under sanitizers, then the stories on the native image; None: same object code."""
    firmware = tree / "drivers/firmware"
    build = ["make", "-C", str(firmware), "-s"]
    flags = ["gcc", "-std=gnu11", "-O2", "-Icore", "-c", "-o"]
    file = Path(mutant.file).relative_to("drivers/firmware")
    before, after = firmware / "before.o", firmware / "after.o"
    subprocess.run([*flags, before.name, str(file)], cwd=firmware, check=True)
    with _placed(mutant, tree):
        compiled = subprocess.run(
            [*flags, after.name, str(file)], cwd=firmware, check=False, capture_output=True
        )
        if compiled.returncode or before.read_bytes() == after.read_bytes():
            return None
        if not _run([*build, "build/test_core"], tree, 120) or not _run(
            [str(firmware / "build/test_core")], tree, 120
        ):
            return Outcome(mutant, True, "unit tests")
        stories = ["tests/firmware/test_dialogues.py", "-k", "posix"]
        if not _run([*_pytest(), *stories], tree, 300):
            return Outcome(mutant, True, "stories")
    return Outcome(mutant, False, "unit tests and stories")


@contextlib.contextmanager
def _placed(mutant: Mutant, tree: Path) -> Iterator[None]:
    path = tree / mutant.file
    before = path.read_text()
    path.write_text(mutated(before.splitlines(keepends=True), mutant))
    try:
        yield
    finally:
        path.write_text(before)


# ---------------------------------------------------------------- saying


def say(name: str, outcomes: Sequence[Outcome], unreached: int, total: int) -> None:
    noticed = sum(outcome.noticed for outcome in outcomes)
    low, high = score_interval(noticed, len(outcomes)) if outcomes else (0.0, 1.0)
    print(
        f"{name}: {noticed} of {len(outcomes)} noticed "
        f"({noticed / max(1, len(outcomes)):.1%}, {low:.1%} to {high:.1%}); "
        f"{unreached} of {total} possible mutants stand on lines that no test here reaches"
    )


def say_survivor(outcome: Outcome) -> None:
    mutant = outcome.mutant
    print(f"  {mutant.file}:{mutant.line} ({outcome.by})")
    print(f"    - {mutant.before.strip()}\n    + {mutant.after.strip()}", flush=True)


def drawn(mutants: Iterable[Mutant], sample: int, seed: int) -> list[Mutant]:
    everyone = list(mutants)
    return random.Random(seed).sample(everyone, min(sample, len(everyone)))


def _progress(judged: int, seconds: float) -> None:
    print(f"\r{judged} judged, {seconds:.0f} s", end="", file=sys.stderr, flush=True)


def measure(name: str, sample: int, seed: int, workers: int) -> tuple[list[Outcome], int, int]:
    """The outcomes of a drawn sample, how many mutants no test reaches, and how many there are."""
    part = PARTS[name]
    mutants = all_mutants(part)
    with tempfile.TemporaryDirectory() as folder:
        trees: Queue[Path] = Queue()
        for index in range(workers):
            trees.put(_copy(Path(folder), f"tree{index}"))
        reach = reach_of(part, trees.queue[0]) if part.tests else None
        reached = [m for m in mutants if reach is None or reach.of(m)]
        started = time.monotonic()

        def one(mutant: Mutant) -> Outcome | None:
            tree = trees.get()
            try:
                return judge_c(mutant, tree) if reach is None else judge_python(mutant, reach, tree)
            finally:
                trees.put(tree)

        outcomes: list[Outcome] = []
        with ThreadPoolExecutor(workers) as pool:
            for outcome in pool.map(one, drawn(reached, sample, seed)):
                if outcome is not None:
                    outcomes.append(outcome)
                    if not outcome.noticed:
                        say_survivor(outcome)
                    _progress(len(outcomes), time.monotonic() - started)
        print(file=sys.stderr)
    return outcomes, len(mutants) - len(reached), len(mutants)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("part", choices=sorted(PARTS))
    parser.add_argument("--sample", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--json", type=Path, help="also write every outcome to this file")
    asked = parser.parse_args()
    outcomes, unreached, total = measure(asked.part, asked.sample, asked.seed, asked.workers)
    say(asked.part, outcomes, unreached, total)
    if asked.json:
        rows = [{**o.mutant._asdict(), "noticed": o.noticed, "by": o.by} for o in outcomes]
        asked.json.write_text(json.dumps(rows, indent=1))


if __name__ == "__main__":
    main()
