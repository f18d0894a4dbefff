"""The rules of safety in one table, each with the place where its chapter tells of it."""

from __future__ import annotations

from pymdownx.slugs import slugify

from feedscript.safety.analysis.rule import Rule
from feedscript.safety.rules import RULES

_ABOUT = """# Rules of safety

What every program is held to before a ball flies. A rule that *refuses* stops the program; one that
may be *set aside* is set aside in the program, with a reason, for everybody to read; a *guide*
warns. What they rest on, and where their figures come from, stands in
[the chapter on safety](../../../feedscript/safety/README.md).

| rule | what it finds | it | limit |
|---|---|---|---|"""


def rules_page() -> str:
    """The page as Markdown, in the order in which the rules are applied."""
    return "\n".join([_ABOUT, *map(_row, RULES)]) + "\n"


def _row(rule: Rule) -> str:
    heading = slugify(case="lower")(f"{rule.page.title} ({rule.slug})", "-")
    link = f"[{rule.slug}](../../../feedscript/safety/README.md#{heading})"
    limit = rule.limit
    figure = f"{limit.default:g} {limit.unit}" if limit is not None and limit.default else ""
    return f"| {link} | {rule.page.title} | {_standing(rule)} | {figure} |"


def _standing(rule: Rule) -> str:
    if rule.guide:
        return "is a guide"
    return "refuses; may be set aside" if rule.waivable else "refuses"
