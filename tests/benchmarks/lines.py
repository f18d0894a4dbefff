"""How much code there is: lines by tree, length of functions, files in a folder; at given commits.

    python tests/benchmarks/lines.py [COMMIT ...]

Product lines are all lines of the product's own text files, blank ones and comments too. A function
counts from `def` to its last line; one inside another counts in both.
"""

from __future__ import annotations

import ast
import statistics
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import PurePosixPath

TREES = {
    "feedscript": (".py", ".js", ".css", ".html", ".lark", ".toml", ".sql"),
    "drivers": (".py", ".c", ".h"),
    "simulator": (".py",),
}
#: One rule a module: the only folder that may hold more than 20.
RULES = "feedscript/safety/rules"


def git(*words: str) -> str:
    return subprocess.run(["git", *words], capture_output=True, text=True, check=True).stdout


def files(commit: str, tree: str) -> Iterator[PurePosixPath]:
    for name in git("ls-tree", "-r", "--name-only", commit, "--", tree).splitlines():
        path = PurePosixPath(name)
        if path.suffix in TREES[tree]:
            yield path


def lengths(text: str) -> Iterator[tuple[int, str]]:
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield (node.end_lineno or node.lineno) - node.lineno + 1, node.name


def tell(commit: str) -> None:
    lines: Counter[str] = Counter()
    python: Counter[str] = Counter()
    functions = []
    for tree in TREES:
        for path in files(commit, tree):
            text = git("show", f"{commit}:{path}")
            lines[tree] += text.count("\n")
            if path.suffix == ".py":
                functions += [(*each, str(path)) for each in lengths(text)]
                python[str(path.parent)] += path.name != "__init__.py"
    counts = ", ".join(f"{tree} {count}" for tree, count in lines.items())
    print(f"{git('rev-parse', '--short', commit).strip()}: {lines.total()} lines ({counts})")
    longest = max(functions)
    median = statistics.median(length for length, *_ in functions)
    print(
        f"  {len(functions)} functions: median {median:g} lines, longest {longest[0]} {longest[1:]}"
    )
    fullest = Counter({name: count for name, count in python.items() if name != RULES})
    print("  fullest folders:", ", ".join(f"{n} {c}" for n, c in fullest.most_common(4)))


if __name__ == "__main__":
    for commit in sys.argv[1:] or ["HEAD"]:
        tell(commit)
