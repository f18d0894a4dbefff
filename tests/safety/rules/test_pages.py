"""Every rule has a page with true examples: the wrong one is refused, the corrected one passes."""

from __future__ import annotations

import importlib
import pkgutil
from pathlib import Path

import pytest

import feedscript.safety
from feedscript.check.check_program import check_program
from feedscript.diagnostics import Page, Severity
from feedscript.safety.rules import RULES


def pages() -> dict[str, Page]:
    """Every page of this floor."""
    found = {}
    for module in pkgutil.walk_packages(feedscript.safety.__path__, "feedscript.safety."):
        for value in vars(importlib.import_module(module.name)).values():
            if isinstance(value, Page) and value.slug not in found:
                found[value.slug] = value
    return found


PAGES = pages()
SHOWN = sorted(slug for slug, page in PAGES.items() if page.wrong)
#: What no program can bring about: only a plan that was changed, or trouble outside the program.
UNSHOWN = {
    "bounds-differ",
    "broken-seal",
    "certificate-differs",
    "check-failed",
    "collect-while-feeding",
    "flight-differs",
    "group-beyond",
    "no-certificate",
    "older-rules",
    "other-court",
    "other-profile",
    "part-of-sweep",
    "past-drive",
    "past-elevation",
    "past-roll",
    "plan-changed",
    "setting-differs",
    "sound-plan",
    "unreadable-file",
}


def slugs(text: str, folder: Path) -> list[tuple[str, Severity]]:
    """What is reported. How well the flight model is known is no slip of an example: the examples
    are short, and few give a spin that anybody measured."""
    found = check_program(folder / "p.feed", text=text).diagnostics
    return [(one.slug, one.severity) for one in found if one.slug != "beyond-model"]


@pytest.mark.parametrize("slug", SHOWN)
def test_wrong_example_is_reported_for_this_alone(slug: str, tmp_path: Path) -> None:
    assert slugs(PAGES[slug].wrong, tmp_path) == [(slug, PAGES[slug].severity)]


@pytest.mark.parametrize("slug", SHOWN)
def test_corrected_example_is_not_reported_at_all(slug: str, tmp_path: Path) -> None:
    assert slugs(PAGES[slug].corrected, tmp_path) == []


def test_every_rule_has_a_page_with_its_reason_and_source() -> None:
    for rule in RULES:
        assert rule.slug in PAGES
        assert len(rule.page.why.split()) > 15
        assert rule.source
        assert rule.guide == (rule.page.severity is Severity.WARNING)


def test_only_what_no_program_can_do_goes_without_examples() -> None:
    assert PAGES.keys() - set(SHOWN) <= UNSHOWN


def test_waivable_rules_and_those_that_never_are_say_so() -> None:
    for rule in RULES:
        if not rule.guide:
            assert ("never waived" in rule.page.why.lower()) == (not rule.waivable), rule.slug
