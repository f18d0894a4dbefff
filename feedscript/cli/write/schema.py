"""``feedscript schema``: JSON Schema of everything that is written and told."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from feedscript.cli.options import FOLDER, format_option, out_option
from feedscript.cli.output import answer, writing
from feedscript.documents.shipped import file_of, says, schema_names, schema_text
from feedscript.formats import headed
from feedscript.nearest import nearest


@click.command("schema")
@click.argument("name", required=False)
@out_option("the schema, or all of them, into this folder, for an editor.", kind=FOLDER)
@format_option
def command(name: str | None, out: Path | None, output_format: str) -> None:
    """Print the JSON Schema (2020-12) of the document NAME; without it, list every document.

    A document is a file (profile, mapping, plan …) or what a command says with --format json.
    """
    known = schema_names()
    if name is not None and name not in known:
        near = nearest(name, known)
        hint = f"did you mean {near}?" if near else f"there are: {', '.join(known)}"
        raise click.UsageError(f"no document is called {name!r}; {hint}")
    chosen = {one: schema_text(one) for one in known if name in (None, one)}
    files = {} if out is None else _written(chosen, out)
    plain = {
        "schemas": [
            {"name": one, "says": says(json.loads(text)), "file": files.get(one)}
            | ({} if name is None else {"schema": json.loads(text)})
            for one, text in chosen.items()
        ]
    }
    answer(output_format, headed("schema-list", plain), _words(name, chosen, files))


def _written(chosen: dict[str, str], folder: Path) -> dict[str, str]:
    with writing(folder):
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in chosen.items():
            (folder / file_of(name)).write_text(text, encoding="utf-8")
    return {name: str(folder / file_of(name)) for name in chosen}


def _words(name: str | None, chosen: dict[str, str], files: dict[str, str]) -> str:
    if files:
        return "\n".join(f"wrote {file}" for file in files.values())
    if name is not None:
        return chosen[name].rstrip("\n")
    width = max(map(len, chosen))
    first: dict[str, Any] = {one: says(json.loads(text)) for one, text in chosen.items()}
    return "\n".join(f"{one:<{width}}  {first[one].split('. ')[0]}" for one in chosen)
