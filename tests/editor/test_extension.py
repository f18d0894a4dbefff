"""The extension's colouring is the grammar's, and its folder hangs together."""

from __future__ import annotations

import json
import re
from pathlib import Path

from feedscript.editor.extension import generate
from feedscript.language.parse.tables import tables

FOLDER = Path(generate.__file__).parent


def test_the_colouring_is_generated_from_the_grammar() -> None:
    stored = generate.FILE.read_text(encoding="utf-8")
    assert stored == generate.textmate(tables()), (
        "run python -m feedscript.editor.extension.generate"
    )


def test_the_files_that_the_extension_names_exist() -> None:
    package = json.loads((FOLDER / "package.json").read_text(encoding="utf-8"))
    contributed = package["contributes"]
    named = [package["main"], contributed["languages"][0]["configuration"]]
    named.append(contributed["grammars"][0]["path"])
    assert all((FOLDER / name).is_file() for name in named)
    assert contributed["languages"][0]["extensions"] == [".feed", ".season"]


def scopes(line: str) -> dict[str, str]:
    """The scope of each coloured part of a line, first match at the leftmost place first."""
    patterns = json.loads(generate.FILE.read_text(encoding="utf-8"))["patterns"]
    found, at = {}, 0
    while at < len(line):
        best = None
        for pattern in patterns:
            match = re.compile(pattern.get("match") or pattern["begin"]).search(line, at)
            if match and match[0] and (best is None or match.start() < best[0].start()):
                best = match, pattern
        if best is None:
            break
        match, pattern = best
        for group, capture in pattern.get("captures", {}).items():
            if match[int(group)]:
                found[match[int(group)]] = capture["name"]
        if "name" in pattern:
            found[match[0]] = pattern["name"]
        at = match.end()
    return found


def test_a_line_is_coloured() -> None:
    found = scopes("feed deep { land 2 m inside baseline  speed 70 km/h }  # note")
    assert found["feed"] == "keyword.control.feedscript"
    assert found["deep"] == "entity.name.function.feedscript"
    assert found["land"] == "support.type.property-name.feedscript"
    assert found["70"] == "constant.numeric.feedscript"
    assert found["km/h"] == "keyword.other.unit.feedscript"
    assert found["inside"] in (
        "support.constant.feedscript",
        "support.type.property-name.feedscript",
    )
    assert found["# note"] == "comment.line.number-sign.feedscript"
