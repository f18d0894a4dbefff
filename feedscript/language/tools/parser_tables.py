"""The parser's tables, made from the grammar by lark, which only this needs.

``python -m feedscript.language.tools.parser_tables`` writes the file that the parser reads; a test
holds it against the grammar.
"""

from __future__ import annotations

import json
import re
from typing import Any

from feedscript.language.parse.tables import TABLES_FILE

GRAMMAR_FILE = TABLES_FILE.with_name("grammar.lark")


def grammar_text() -> str:
    """The grammar as lark reads it."""
    return GRAMMAR_FILE.read_text(encoding="utf-8")


def generate(grammar: str) -> dict[str, Any]:
    """The tables of a grammar as plain data, made by lark."""
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


if __name__ == "__main__":
    TABLES_FILE.write_text(as_text(generate(grammar_text())), encoding="utf-8")
