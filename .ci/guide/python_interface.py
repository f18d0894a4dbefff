"""What `feedscript.api` names, read off its functions and records."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator
from typing import Any

from feedscript import api

#: A call of more characters has a line for each argument.
LONGEST = 72
_ABOUT = """# From Python

`from feedscript import api` is all there is; what is named here keeps its meaning within a version.
How it is used, and how programs become tests of pytest, stands on
[the page of the bench](../../../feedscript/bench/README.md)."""


def python_page() -> str:
    """The page as Markdown: functions first, then the records that they take and return."""
    named = {name: getattr(api, name) for name in api.__all__}
    functions = [_function(name, one) for name, one in named.items() if inspect.isfunction(one)]
    records = [_record(name, one) for name, one in named.items() if inspect.isclass(one)]
    return "\n\n".join([_ABOUT, "## Functions", *functions, "## Records", *records]) + "\n"


def _function(name: str, one: Any) -> str:
    signature = inspect.signature(one)
    answer = str(signature.return_annotation).strip("'")
    given = list(_arguments(signature))
    call = f"{name}({', '.join(given)}) -> {answer}"
    if len(call) > LONGEST:
        call = "\n".join([f"{name}(", *(f"    {each}," for each in given), f") -> {answer}"])
    return f"### {name}\n\n```python\n{call}\n```\n\n{_words(one)}"


def _arguments(signature: inspect.Signature) -> Iterator[str]:
    by_name = False
    for one in signature.parameters.values():
        if one.kind is inspect.Parameter.KEYWORD_ONLY and not by_name:
            by_name = True
            yield "*"
        yield _argument(one)


def _argument(one: inspect.Parameter) -> str:
    """An argument as it is written; a long default is told by the name of its type."""
    kind = str(one.annotation).strip("'")
    if one.default is inspect.Parameter.empty:
        return f"{one.name}: {kind}"
    plain = isinstance(one.default, (str, int, float, tuple, type(None)))
    default = repr(one.default) if plain else f"{type(one.default).__name__}()"
    return f"{one.name}: {kind} = {default}"


def _record(name: str, one: Any) -> str:
    fields = [
        f"| `{field}` | `{_plain(kind)}` |"
        for field, kind in inspect.get_annotations(one).items()
        if not field.startswith("_")
    ]
    table = "\n".join(["| field | type |", "|---|---|", *fields]) if fields else ""
    return f"### {name}\n\n{_words(one)}\n\n{table}".rstrip()


def _plain(kind: Any) -> str:
    written = kind if isinstance(kind, str) else inspect.formatannotation(kind)
    return re.sub(r"\s+", " ", written.strip("'"))


def _words(one: Any) -> str:
    """A docstring as Markdown."""
    words = inspect.getdoc(one)
    if not words:
        raise ValueError(f"{one} says nothing of itself")
    return re.sub(r":\w+:`([^`]+)`", r"`\1`", words.replace("``", "`"))
