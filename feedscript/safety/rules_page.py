"""The rules as a section of the safety chapter; `python -m feedscript.safety.rules_page` writes it.

The chapter lies beside this module; a test fails when its section is not the one written here.
"""

from __future__ import annotations

from pathlib import Path

from feedscript.safety.analysis.rule import Rule
from feedscript.safety.rules import RULES

CHAPTER = Path(__file__).parent / "README.md"
BEGIN = "<!-- the rules, written by feedscript.safety.rules_page -->"
END = "<!-- end of the rules -->"


def section() -> str:
    """Every rule: what it asks and why, its limit, what it rests on, its source, its standing."""
    parts = [_entry(rule) for rule in RULES]
    return "\n\n".join([BEGIN, *parts, END])


def _entry(rule: Rule) -> str:
    facts = [f"- Standing: {_standing(rule)}"]
    if rule.limit is not None and rule.limit.default:
        limit = rule.limit
        facts.append(
            f"- Limit: {limit.default:g} {limit.unit}; `require {rule.slug}` may make it "
            f"{limit.stricter.value}"
        )
    if rule.assumption:
        facts.append(f"- Rests on: {rule.assumption}")
    facts.append(f"- Source: {rule.source}")
    title = f"### {rule.page.title} (`{rule.slug}`)"
    return "\n".join([title, "", rule.page.why, "", *facts])


def _standing(rule: Rule) -> str:
    if rule.guide:
        return "a guide; warns and refuses nothing"
    if rule.waivable:
        return f'refuses; may be set aside with `allow {rule.slug} because "…"`'
    return "refuses; never set aside"


def chapter_with_section(text: str) -> str:
    """The chapter's text with its section as it should be."""
    before, _, rest = text.partition(BEGIN)
    _, _, after = rest.partition(END)
    return before + section() + after


def main() -> None:
    text = CHAPTER.read_text(encoding="utf-8")
    CHAPTER.write_text(chapter_with_section(text), encoding="utf-8")


if __name__ == "__main__":
    main()
