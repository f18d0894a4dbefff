"""The parser's tables: made from the grammar by lark, read from beside it at every start.

lark turns the grammar into LALR(1) tables; they are kept in a file, so that a start needs neither
the tenth of a second that making them takes nor lark itself. The file carries the grammar's hash:
when it is not that of the grammar at hand, the tables are made anew, so a stale one is never used.
``python -m feedscript.language.parse.tables`` writes the file.
"""

from __future__ import annotations

import functools
import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

GRAMMAR_FILE = Path(__file__).with_name("grammar.lark")
TABLES_FILE = Path(__file__).with_name("grammar_tables.json")
_FORMAT = 1

END = "$END"


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule of the grammar, as a reduction needs it.

    ``build`` names what makes its node; None for a list that grows in place. ``single``: a lone
    part stands for itself.
    """

    origin: str
    size: int
    build: str | None
    single: bool


@dataclass(frozen=True, slots=True)
class Tables:
    """An LALR(1) parser. In ``actions[state][kind]`` n > 0 goes to state n - 1 and n < 0 reduces
    by ``rules[-n - 1]``."""

    start: int
    actions: list[dict[str, int]]
    rules: list[Rule]
    words: dict[str, str]  # each fixed word or mark -> its kind
    patterns: dict[str, tuple[str, int]]  # every other kind -> its pattern and priority
    reserved: frozenset[str]  # fixed words that can never be names


def grammar_text() -> str:
    """The grammar as lark reads it."""
    return GRAMMAR_FILE.read_text(encoding="utf-8")


def _stamp(grammar: str) -> str:
    return f"{_FORMAT}:{hashlib.sha256(grammar.encode()).hexdigest()}"


def generate(grammar: str) -> dict[str, Any]:
    """The tables of a grammar as plain data, made by lark."""
    import re

    import lark
    from lark.parsers.lalr_analysis import Shift

    made = lark.Lark(
        grammar,
        parser="lalr",
        lexer="contextual",
        g_regex_flags=re.IGNORECASE,
        keep_all_tokens=True,
        maybe_placeholders=False,
    )
    conf = made.parser.parser._parse_table
    start = conf.start_states["start"]
    order = _in_order(conf.states, start, Shift)
    rules = sorted(
        {t for row in conf.states.values() for a, t in row.values() if a is not Shift},
        key=lambda rule: (str(rule.origin), list(map(str, rule.expansion))),
    )
    numbers = {rule: number for number, rule in enumerate(rules)}
    actions = [
        {
            str(kind): order[target] + 1 if action is Shift else -numbers[target] - 1
            for kind, (action, target) in sorted(conf.states[state].items())
        }
        for state in order
    ]
    words = {str(t.pattern.value): t.name for t in made.terminals if t.pattern.type == "str"}
    patterns = {
        t.name: [str(t.pattern.value), t.priority] for t in made.terminals if t.pattern.type == "re"
    }
    name = re.compile(str(patterns["NAME"][0]), re.IGNORECASE)
    reserved = sorted(word for word in words if word[0].isalpha() and not name.fullmatch(word))
    return {
        "stamp": _stamp(grammar),
        "start": order[start],
        "actions": actions,
        "rules": [_plain_rule(rule) for rule in rules],
        "words": dict(sorted(words.items())),
        "patterns": dict(sorted(patterns.items())),
        "reserved": reserved,
    }


def _in_order(states: dict[Any, Any], start: Any, shift: Any) -> dict[Any, int]:
    """Each state's number, counted as they are reached: lark's own change every run."""
    order = {start: 0}
    queue = [start]
    for state in queue:
        for _, (action, target) in sorted(states[state].items()):
            if action is shift and target not in order:
                order[target] = len(order)
                queue.append(target)
    return order


def _plain_rule(rule: Any) -> list[Any]:
    origin = str(rule.origin.name)
    build = None if origin.startswith("_") else str(rule.alias or origin)
    single = bool(rule.options.expand1 and not rule.alias)
    return [origin, len(rule.expansion), build, single]


def as_text(plain: dict[str, Any]) -> str:
    """The content of the file of tables."""
    return json.dumps(plain, separators=(",", ":"), ensure_ascii=False) + "\n"


def _stored(grammar: str) -> dict[str, Any] | None:
    try:
        plain: dict[str, Any] = json.loads(TABLES_FILE.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return plain if plain.get("stamp") == _stamp(grammar) else None


@functools.cache
def tables() -> Tables:
    """The tables of the language."""
    grammar = grammar_text()
    plain = _stored(grammar) or generate(grammar)
    return Tables(
        start=plain["start"],
        actions=plain["actions"],
        rules=[Rule(*rule) for rule in plain["rules"]],
        words=plain["words"],
        patterns={kind: (pattern, rank) for kind, (pattern, rank) in plain["patterns"].items()},
        reserved=frozenset(plain["reserved"]),
    )


if __name__ == "__main__":
    TABLES_FILE.write_text(as_text(generate(grammar_text())), encoding="utf-8")
