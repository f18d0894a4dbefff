"""Named faults from a TOML file, or from the one that comes with feedscript."""

from __future__ import annotations

import tomllib
from collections import Counter
from pathlib import Path
from typing import Annotated

import msgspec

from feedscript.bench.trials.expectations import WORDS, shape_of
from feedscript.diagnostics import Diagnostic, FeedscriptError, Page
from feedscript.launcher.trials.meaning import amiss
from feedscript.launcher.trials.trial import Trial
from feedscript.nearest import nearest
from feedscript.plain_file import read_plain
from feedscript.shipped import shipped_folder

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

    fault: Annotated[tuple[Trial, ...], msgspec.Meta(min_length=1, max_length=1000)]
    always: tuple[str, ...] = ()


def shipped_faults() -> Path:
    """The file that comes with feedscript."""
    return shipped_folder() / "faults.toml"


def read_trials(path: Path | None, names: tuple[str, ...] = ()) -> tuple[Trial, ...]:
    """The file's faults, or those of these names. Raises FeedscriptError (``bad-faults``)."""
    path = path or shipped_faults()
    try:
        told = tomllib.loads(read_plain(path, MOST_BYTES).decode("utf-8"))
        faults = msgspec.convert(told, Faults)
    except OSError as trouble:
        raise _refused(path, trouble.strerror or "it cannot be read") from trouble
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as trouble:
        raise _refused(path, f"this is no TOML: {trouble}") from trouble
    except msgspec.ValidationError as trouble:
        raise _refused(path, str(trouble)) from trouble
    _look_over(path, faults)
    trials = tuple(
        msgspec.structs.replace(one, expect=tuple(dict.fromkeys((*one.expect, *faults.always))))
        for one in faults.fault
    )
    return _named(path, trials, names) if names else trials


def _look_over(path: Path, faults: Faults) -> None:
    for trial in faults.fault:
        for why in (amiss(trial), _unknown(trial.expect)):
            if why:
                raise _refused(path, f"{trial.name!r}: {why}")
    if why := _unknown(faults.always):
        raise _refused(path, f"always: {why}")
    twice = [name for name, count in Counter(t.name for t in faults.fault).items() if count > 1]
    if twice:
        raise _refused(path, f"{twice[0]!r} is the name of two faults")


def _unknown(expected: tuple[str, ...]) -> str:
    for words in expected:
        shape = shape_of(words)
        if shape not in WORDS:
            near = nearest(shape, WORDS)
            hint = f"; did you mean {near!r}" if near else ""
            return f"nothing is known that is called {words!r}{hint}"
    return ""


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


def _refused(path: Path, why: str) -> FeedscriptError:
    return FeedscriptError(_diagnostic(path, why))


def _diagnostic(path: Path, why: str) -> Diagnostic:
    return BAD_FAULTS.report(
        why, device=str(path), help=f"what may be expected: {', '.join(WORDS)}"
    )
