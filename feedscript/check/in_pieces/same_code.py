"""Whether two processes come to the same to the last bit: what all of it depends on."""

from __future__ import annotations

import hashlib
import platform
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import numpy as np

import feedscript

#: Whose results are in what a piece comes to, beside feedscript itself.
_LIBRARIES = ("msgspec", "numpy", "shapely", "scipy")


@cache
def own_code() -> dict[str, str]:
    """What this process is made of, as far as it counts: what it is, and which."""
    return {
        "feedscript": f"{feedscript.__version__} {_sources()[:16]}",
        "Python": f"{platform.python_implementation()} {platform.python_version()}",
        **{name: version_of(name) for name in _LIBRARIES},
        "machine": platform.machine(),
        "arithmetic": _arithmetic()[:16],
    }


def version_of(library: str) -> str:
    """The installed version of a library."""
    try:
        return version(library)
    except PackageNotFoundError:  # only tuning needs scipy
        return "none"


def _sources() -> str:
    """The hash of every module of feedscript, and of the parser's tables."""
    root = Path(feedscript.__file__).parent
    found = hashlib.sha256()
    for path in sorted(root.rglob("*.py")):
        found.update(path.relative_to(root).as_posix().encode() + b"\0")
        found.update(hashlib.sha256(path.read_bytes()).digest())
    return found.hexdigest()


def _arithmetic() -> str:
    """The hash of what functions come to that processors and libraries round in different ways."""
    x = np.linspace(0.001, 7.0, 4001)
    drawn = np.random.default_rng(1).standard_normal(1000)
    each = (np.sin(x), np.cos(x), np.tan(x), np.exp(-x), np.log1p(x), np.power(x, 0.37))
    more = (np.arctan2(x, 2.0), np.hypot(x, 1.5), np.sqrt(x), np.cumsum(x), x @ x, drawn)
    found = hashlib.sha256()
    for one in (*each, *more):
        found.update(np.asarray(one, "<f8").tobytes())
    return found.hexdigest()


def differing(own: dict[str, str], other: dict[str, str]) -> str:
    """What is not the same, in words; "" where all is."""
    return "; ".join(
        f"{what} {other.get(what, 'none')}, here {own.get(what, 'none')}"
        for what in dict.fromkeys([*own, *other])
        if own.get(what) != other.get(what)
    )
