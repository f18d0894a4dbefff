"""Every command with its arguments and options, read off the commands themselves."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator

import click

from feedscript.cli import verbs

_ABOUT = """# Commands

What `feedscript COMMAND --help` prints, in one place. `feedscript manual -o man1` writes it as
pages for `man`.

| exit code | meaning |
|---|---|
| 0 | fine |
| 1 | the program has errors, or an expectation failed or was not decided |
| 2 | wrong usage |
| 3 | launcher or link trouble, and every ending of a lesson that nobody chose |"""


def commands_page() -> str:
    """The page as Markdown, in the order of the job."""
    top = click.Context(verbs, info_name="feedscript")
    parts = [part for one, context in _commands(verbs, top) for part in _parts(one, context)]
    return "\n\n".join([_ABOUT, *parts]) + "\n"


def _commands(
    one: click.Command, context: click.Context
) -> Iterator[tuple[click.Command, click.Context]]:
    yield one, context
    if isinstance(one, click.Group):
        for verb in one.list_commands(context):
            inner = one.get_command(context, verb)
            assert inner is not None
            yield from _commands(inner, click.Context(inner, info_name=verb, parent=context))


def _parts(one: click.Command, context: click.Context) -> list[str]:
    depth = "##" if context.parent is None or context.parent.parent is None else "###"
    usage = " ".join([context.command_path, *one.collect_usage_pieces(context)])
    rows = [
        f"| `{names}` | {_one_line(words)} |"
        for option in one.get_params(context)
        if (record := option.get_help_record(context)) is not None
        for names, words in [record]
        if "--help" not in names
    ]
    table = ["\n".join(["| option | what it does |", "|---|---|", *rows])] if rows else []
    words = [part.replace("\b\n", "") for part in inspect.cleandoc(one.help or "").split("\n\n")]
    return [f"{depth} {context.command_path}", f"```text\n{usage}\n```", *map(_safe, words), *table]


def _one_line(words: str) -> str:
    return _safe(re.sub(r"\s+", " ", words).strip())


def _safe(words: str) -> str:
    """Words outside of code as they stand: no mark of Markdown or HTML is meant there."""
    parts = words.split("`")
    parts[::2] = [re.sub(r"([\\*_<\[|])", r"\\\1", part) for part in parts[::2]]
    return "`".join(parts)
