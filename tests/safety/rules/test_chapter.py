"""The safety chapter says what the rules are, and promises nothing they do not hold."""

from __future__ import annotations

import re

from feedscript.safety.rules import RULES
from feedscript.safety.rules_page import CHAPTER, chapter_with_section


def text() -> str:
    return CHAPTER.read_text(encoding="utf-8")


def test_section_on_the_rules_is_fresh() -> None:
    """Stale? `python -m feedscript.safety.rules_page` writes it."""
    assert text() == chapter_with_section(text())


def test_every_rule_states_its_source_or_that_it_has_none() -> None:
    known = re.compile(
        r"ITF|profile|design value|common practice, no source|et al\.|J\. Sports|plan|model's own"
        r"|grid of the wire"
    )
    for rule in RULES:
        assert known.search(rule.source), rule.slug


def test_no_rule_that_refuses_rests_on_memory() -> None:
    for rule in RULES:
        if "from memory" in rule.source or "from memory" in rule.page.why:
            assert rule.guide, rule.slug


def test_conformity_is_not_claimed() -> None:
    whole = " ".join(text().split())
    assert "claims conformity with none" in whole
    assert not re.search(r"\b(complies|compliant|conforms|certified to)\b", whole)
