"""Named faults from a TOML file, or from the one that comes with feedscript."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import msgspec

from feedscript.bench.trials.expectations import WORDS, shape_of
from feedscript.diagnostics import FeedscriptError, Page
from feedscript.launcher.trials.meaning import amiss
from feedscript.launcher.trials.trial import Trial
from feedscript.nearest import nearest
from feedscript.shipped import shipped_folder
from feedscript.tables import KeyPath, Mistake
from feedscript.toml_file import read_toml

BAD_FAULTS = Page(
    slug="bad-faults",
    title="A file of named faults that cannot be used",
    why=(
        "A fault that is not understood would be a fault that is never tried, so everything in "
        "this file is either understood or refused. Each `[[fault]]` has a name, where it lies, "
        "what goes wrong, when, and what must be so all the same; `always` at the top is expected "
        "of every one. The bench's page lists the words."
    ),
)

#: More faults are no file that a person wrote.
MOST_BYTES = 1_000_000


class Faults(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A whole file: each fault with what is expected of it and what is expected always."""

    fault: Annotated[tuple[Trial, ...], msgspec.Meta(min_length=1, max_length=1000)]  # each of them
    always: tuple[str, ...] = ()  # what is expected of every one of them


def shipped_faults() -> Path:
    """The file that comes with feedscript."""
    return shipped_folder() / "faults.toml"


def read_trials(path: Path | None, names: tuple[str, ...] = ()) -> tuple[Trial, ...]:
    """The file's faults, or those of these names. Raises FeedscriptError (``bad-faults``)."""
    path = path or shipped_faults()
    reading = read_toml(path, Faults, BAD_FAULTS, MOST_BYTES)
    faults = reading.good()
    reading.refused(_amiss(faults)).good()
    trials = tuple(
        msgspec.structs.replace(one, expect=tuple(dict.fromkeys((*one.expect, *faults.always))))
        for one in faults.fault
    )
    return _named(path, trials, names) if names else trials


def _amiss(faults: Faults) -> Iterator[Mistake]:
    """What each key may say, and the whole does not mean."""
    names = Counter(trial.name for trial in faults.fault)
    for number, trial in enumerate(faults.fault):
        path = ("fault", str(number))
        if why := amiss(trial):
            yield Mistake(path, f"{trial.name!r}: {why}", "the bench's page has every fault", True)
        if names[trial.name] > 1:
            names[trial.name] = 0
            twice = f"{trial.name!r} is the name of two faults"
            yield Mistake((*path, "name"), twice, "give each a name of its own")
        yield from _unknown(trial.expect, (*path, "expect"))
    yield from _unknown(faults.always, ("always",))


def _unknown(expected: tuple[str, ...], path: KeyPath) -> Iterator[Mistake]:
    for words in expected:
        shape = shape_of(words)
        if shape not in WORDS:
            near = nearest(shape, WORDS)
            hint = f"did you mean {near!r}? " if near else ""
            fix = f"{hint}what may be expected: {', '.join(WORDS)}"
            yield Mistake(path, f"nothing is known that is called {words!r}", fix)


def _named(path: Path, trials: tuple[Trial, ...], names: tuple[str, ...]) -> tuple[Trial, ...]:
    known = {trial.name: trial for trial in trials}
    for name in names:
        if name not in known:
            near = nearest(name, known)
            hint = f"did you mean {near!r}?" if near else f"it has {len(known)} others"
            raise FeedscriptError(
                BAD_FAULTS.report(f"no fault is called {name!r}", device=str(path), help=hint)
            )
    return tuple(known[name] for name in dict.fromkeys(names))
