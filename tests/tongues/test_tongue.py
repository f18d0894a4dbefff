"""The languages that there are, and which one a browser is given."""

from __future__ import annotations

import pytest
from babel import Locale
from babel.plural import to_python

from feedscript.tongues.tongue import IN_ENGLISH, Tongues

TONGUES = Tongues()


def test_english_and_a_catalogue_each() -> None:
    assert TONGUES.languages == ("en", "de", "es", "fr")
    assert {TONGUES.named(one).catalogue.name for one in TONGUES.languages} == {
        "English",
        "Deutsch",
        "Español",
        "Français",
    }
    assert TONGUES.named("../de") is TONGUES.named("xx") is None


@pytest.mark.parametrize("language", ["en", "de", "es", "fr"])
def test_plural_forms_are_those_of_the_language(language: str) -> None:
    """CLDR's rules, as Babel has them; its "many" (from a million on) is beyond what is counted."""
    category = to_python(Locale(language).plural_form)
    for number in range(100_000 if language == "fr" else 5_000):
        assert TONGUES.named(language).form(number) == (0 if category(number) == "one" else 1)


@pytest.mark.parametrize(
    ("header", "language"),
    [
        ("de-AT,de;q=0.9,en;q=0.8", "de"),
        ("nl, fr-CH;q=0.7, en;q=0.3", "fr"),
        ("en-GB,de;q=0.9", "en"),
        ("en;q=0.2, es;q=0.9", "es"),
        ("de;q=0, fr", "fr"),
        ("*", None),
        ("", None),
        ("de;q=high", None),
    ],
)
def test_a_browser_is_given_the_first_it_asks_for(header: str, language: str | None) -> None:
    found = TONGUES.wanted(header)
    assert (found and found.language) == language


def test_english_needs_no_catalogue() -> None:
    assert TONGUES.named("en") is IN_ENGLISH
