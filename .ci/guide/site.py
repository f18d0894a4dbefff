"""The hooks by which mkdocs makes the site of the repository's pages: `make guide`.

Its own pages lie in shared/guide. Everything else is shown from where it lies, and what can be read
off the code (messages, commands, the Python interface) is made from it at each build.
"""

from __future__ import annotations

import posixpath
from collections.abc import Iterator
from typing import Any

from made_reference import made_pages
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.structure.files import File, Files
from mkdocs.structure.pages import Page
from repository_pages import (
    OWN,
    PICTURES,
    ROOT,
    STANDS_FOR,
    linked,
    page_of_file,
    pages,
    shown_as,
    with_site_links,
)


def on_files(files: Files, config: MkDocsConfig) -> Files:
    """Every page under its path in the repository, and what those pages link to."""
    texts = dict(_written())
    found = [file for file in files if file.src_dir != config.docs_dir]
    found += [_file(config, path, text) for path, text in texts.items()]
    found += [
        _file(config, OWN + one.src_uri, _at=one.abs_src_path)
        for one in files
        if one.src_dir == config.docs_dir and not one.src_uri.endswith(".md")
    ]
    shown = {one.src_uri for one in found}
    waiting = [target for path, text in texts.items() for target in linked(path, text)]
    while waiting:
        path = waiting.pop()
        name = shown_as(path)
        if name in shown or path.endswith(".md") or not (ROOT / path).exists():
            continue  # a link that leads nowhere is found when its page is built
        shown.add(name)
        if name.endswith(PICTURES):
            found.append(_file(config, name, _at=str(ROOT / path)))
        else:
            text = page_of_file(path)
            waiting += linked(name, text)
            found.append(_file(config, name, text))
    return Files(found)


def _written() -> Iterator[tuple[str, str]]:
    own = sorted(path.relative_to(ROOT).as_posix() for path in (ROOT / OWN).rglob("*.md"))
    for path in [*pages(), *own]:
        if path not in STANDS_FOR:
            yield path, (ROOT / path).read_text(encoding="utf-8")
    yield from made_pages().items()


def _file(config: MkDocsConfig, path: str, text: str | None = None, _at: str | None = None) -> File:
    file = File.generated(config, path, content=text, abs_src_path=_at)  # type: ignore[call-overload]
    file.dest_uri = posixpath.normpath(file.dest_uri.removeprefix(OWN))
    return file


def on_page_markdown(markdown: str, page: Page, **_: Any) -> str:
    """The page's links lead to pages of the site."""
    return with_site_links(page.file.src_uri, markdown)
