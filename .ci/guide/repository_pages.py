"""What of the repository the site shows: pages beside what they tell of, and what they link to.

A page keeps its path in the repository as its name, so that a link between two pages is the same
here, on a forge and in an editor. A file that is no page, such as a program, gets one.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
#: Where the site's own pages lie; this much of their path is not in their address.
OWN = "shared/guide/"
FOLDERS = ("drivers", "feedscript", "programs", "shared")
SINGLE = ("CHANGELOG.md", "DEVELOPERS.md", "SECURITY.md", "tests/benchmarks/README.md")
#: Built by a compiler's run, not written.
BUILT = "drivers/firmware/build/"
#: On the site another page stands in the place of these.
STANDS_FOR = {
    "README.md": "shared/guide/index.md",
    "feedscript/language/DIAGNOSTICS.md": "shared/guide/reference/diagnostics.md",
}
PICTURES = (".svg", ".png")
LANGUAGES = {".feed": "feedscript", ".season": "feedscript", ".py": "python"}
LANGUAGES |= {".toml": "toml", ".json": "json", ".yml": "yaml"}

_LINK = re.compile(r"(\]\()([^)\s]+)(\))")
_FENCE = re.compile(r"(^ *```.*?^ *```$)", re.M | re.S)


def pages() -> list[str]:
    """Every written page of the repository that the site shows, beside the site's own."""
    found = [
        path.relative_to(ROOT).as_posix()
        for folder in FOLDERS
        for path in (ROOT / folder).rglob("*.md")
    ]
    return [
        *(one for one in sorted(found) if not one.startswith((OWN, BUILT)) and "/." not in one),
        *SINGLE,
    ]


def shown_as(path: str) -> str:
    """The name of the page that shows what lies at this path: a page, a folder, another file."""
    if path in STANDS_FOR:
        return STANDS_FOR[path]
    if (ROOT / path).is_dir():
        return posixpath.join(path, "README.md")
    return path if path.endswith((".md", *PICTURES)) else f"{path}.md"


def linked(page: str, text: str) -> Iterator[str]:
    """What a page links to in the repository, as paths from its top."""
    for part in _FENCE.split(text)[::2]:
        for _, link, _ in _LINK.findall(part):
            if "://" not in link and not link.startswith("#"):
                yield _path(page, link.partition("#")[0])


def _path(page: str, link: str) -> str:
    return posixpath.normpath(posixpath.join(posixpath.dirname(page), link))


def with_site_links(page: str, text: str) -> str:
    """A page's text with each link to what the site shows, and blocks in a language of one word."""

    def turned(found: re.Match[str]) -> str:
        before, link, after = found.groups()
        if "://" in link or link.startswith("#"):
            return found[0]
        file, mark, anchor = link.partition("#")
        target = shown_as(_path(page, file))
        relative = posixpath.relpath(target, posixpath.dirname(page) or ".")
        return f"{before}{relative}{mark}{anchor}{after}"

    parts = _FENCE.split(text)
    parts[::2] = [_LINK.sub(turned, part) for part in parts[::2]]
    parts[1::2] = [
        re.sub(r"^( *```feedscript) \w+$", r"\1", part, flags=re.M) for part in parts[1::2]
    ]
    return "".join(parts)


def page_of_file(path: str) -> str:
    """A page that shows a file of the repository, or what is in a folder that has no page."""
    there = ROOT / path
    if there.is_dir():
        inside = (one.name for one in there.iterdir())
        names = sorted(name for name in inside if not name.startswith((".", "__pycache__")))
        rows = [f"- [{name}]({name})" for name in names]
        return "\n".join([f"# {path}", "", *rows, ""])
    text = there.read_text(encoding="utf-8").rstrip("\n")
    return (
        f"# {there.name}\n\n`{path}`\n\n````{LANGUAGES.get(there.suffix, 'text')}\n{text}\n````\n"
    )
