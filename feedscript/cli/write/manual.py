"""``feedscript manual``: the pages that ``man`` shows, made from the commands themselves.

Their form is man(7)'s; how text is kept from being taken for a request, groff_man(7)'s.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import click

import feedscript
from feedscript.cli.options import FOLDER, out_option
from feedscript.cli.output import tell, writing

_EXITS = (
    ("0", "fine"),
    ("1", "the program has errors, or an expectation failed or was not decided"),
    ("2", "wrong usage"),
    ("3", "launcher or link trouble, and every ending of a lesson that nobody chose"),
)


@click.command()
@out_option(
    "the pages, feedscript.1 and one a command, in this folder.", required=True, kind=FOLDER
)
def command(out: Path) -> None:
    """Write the manual's pages for man(1): feedscript.1, and one a command."""
    pages = all_pages(click.get_current_context().find_root().command)
    with writing(out):
        out.mkdir(parents=True, exist_ok=True)
        for name, page in pages.items():
            (out / f"{name}.1").write_text(page, encoding="utf-8", newline="\n")
    tell(f"{len(pages)} pages in {out}; man -M looks for them in a folder man1")


def all_pages(root: click.Command) -> dict[str, str]:
    """Every page by its name: `feedscript`, `feedscript-check`, `feedscript-club-serve`."""
    return {
        name.replace(" ", "-"): _page(name, each, context)
        for name, each, context in _commands(root, click.Context(root, info_name="feedscript"))
    }


def _commands(
    one: click.Command, context: click.Context
) -> Iterator[tuple[str, click.Command, click.Context]]:
    yield context.command_path, one, context
    if isinstance(one, click.Group):
        for verb in one.list_commands(context):
            inner = one.get_command(context, verb)
            assert inner is not None
            yield from _commands(inner, click.Context(inner, info_name=verb, parent=context))


def _page(name: str, one: click.Command, context: click.Context) -> str:
    title = name.replace(" ", "-")
    usage = " ".join(one.collect_usage_pieces(context))
    words = [part for part in (one.help or "").split("\n\n") if part.strip()]
    lines = [
        f'.TH "{_plain(title.upper())}" 1 "" "feedscript {feedscript.__version__}" "feedscript"',
        ".SH NAME",
        f"{_plain(title)} \\- {_plain(one.get_short_help_str(200))}",
        ".SH SYNOPSIS",
        f".B {_plain(name)}",
        _plain(usage),
        ".SH DESCRIPTION",
    ]
    for part in words:
        lines += [".PP", _text(part)]
    lines += [*_options(one, context), *_verbs(one, context), ".SH EXIT STATUS"]
    for code, meaning in _EXITS:
        lines += [".TP", f".B {code}", meaning]
    if context.parent is not None:
        lines += [
            ".SH SEE ALSO",
            f".BR {_plain(context.parent.command_path.replace(' ', '-'))} (1)",
        ]
    return "\n".join(lines) + "\n"


def _options(one: click.Command, context: click.Context) -> list[str]:
    lines = [".SH OPTIONS"]
    for option in one.get_params(context):
        record = option.get_help_record(context)
        if record is not None:
            lines += [".TP", f".B {_plain(record[0])}", _text(record[1])]
    return lines


def _verbs(one: click.Command, context: click.Context) -> list[str]:
    if not isinstance(one, click.Group):
        return []
    lines = [".SH COMMANDS"]
    for verb in one.list_commands(context):
        inner = one.get_command(context, verb)
        assert inner is not None
        name = f"{context.command_path} {verb}".replace(" ", "-")
        lines += [".TP", f".BR {_plain(name)} (1)", _text(inner.get_short_help_str(200))]
    return lines


def _text(words: str) -> str:
    """A paragraph, on one line: no line of it can begin with a request's dot."""
    plain = _plain(re.sub(r"\s+", " ", words.replace("\b", " ")).strip())
    return f"\\&{plain}" if plain[:1] in ("'", ".") else plain


def _plain(words: str) -> str:
    return words.replace("\\", "\\e").replace("-", "\\-").replace("…", "...").replace("`", "\\`")
