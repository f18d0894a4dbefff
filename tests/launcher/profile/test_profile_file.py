"""Reading a profile: what is right is read, and each mistake is named with place and fix."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.diagnostics import has_errors
from feedscript.launcher.profile import pages as profile_pages
from feedscript.launcher.profile.model import Kind, profile_hash
from feedscript.launcher.profile.read_profile import parse_profile, read_profile
from tests.launcher.examples import (
    GARAGE,
    PROFILES,
    garage,
    garage_text,
    garage_with,
    shipped_profiles,
    slugs,
)


@pytest.mark.parametrize("path", shipped_profiles(), ids=lambda path: path.stem)
def test_every_shipped_profile_reads_without_a_word(path) -> None:
    reading = read_profile(path)
    assert reading.diagnostics == ()
    assert reading.profile is not None
    assert "nvented" in reading.profile.note


def test_the_example_is_read_as_it_is_written() -> None:
    profile = garage()
    assert profile.kind is Kind.TWO_WHEELS
    assert (profile.limits.speed_mps.least, profile.limits.speed_mps.most) == (8.0, 33.0)
    assert profile.limits.hopper_balls == 80
    assert profile.mouth_height_m == 0.95


def test_every_key_is_needed() -> None:
    """Leaving out any one line of the profile is an error: nothing has a default."""
    lines = garage_text().split("\n")
    keys = [i for i, line in enumerate(lines) if re.match(r"\w+ = ", line)]
    assert len(keys) > 35
    for i in keys:
        text = "\n".join(lines[:i] + lines[i + 1 :])
        found = parse_profile(text, "p.toml")
        assert found.profile is None, lines[i]
        assert "profile-missing-key" in [d.slug for d in found.diagnostics], lines[i]


def test_a_missing_limit_points_at_its_table() -> None:
    text = re.sub(r"^least_interval_s.*\n", "", garage_text(), flags=re.M)
    (found,) = parse_profile(text, "p.toml").diagnostics
    assert found.span is not None
    assert text.split("\n")[found.span.line - 1].startswith("[limits]")
    assert "least_interval_s" in found.message
    assert "least_interval_s = ..." in found.help


@pytest.mark.parametrize(
    ("key", "value", "slug", "said"),
    [
        ("mouth_height_m", '"0.95 m"', "profile-wrong-type", "bare"),
        ("mouth_height_m", "true", "profile-wrong-type", "bare"),
        ("mouth_height_m", "95", "profile-implausible", "unit"),
        ("mouth_height_m", "nan", "profile-implausible", "unit"),
        ("mouth_height_m", "-inf", "profile-implausible", "unit"),
        ("mouth_height_m", "1" + "0" * 400, "profile-implausible", "unit"),
        ("speed_mps", "[30.0, 120.0]", "profile-implausible", "unit"),
        ("speed_mps", "[33.0, 8.0]", "profile-range-order", "[8, 33]"),
        ("speed_mps", "33.0", "profile-wrong-type", "[least, most]"),
        ("speed_mps", "[8.0, 20.0, 33.0]", "profile-wrong-type", "[least, most]"),
        ("hopper_balls", "80.0", "profile-wrong-type", "whole number"),
        ("hopper_balls", "0", "profile-implausible", "unit"),
        ("watchdog_s", "30.0", "profile-implausible", "between"),
        ("kind", '"three wheels"', "profile-wrong-type", '"two-wheels"'),
        ("by", '"guess"', "profile-wrong-type", '"measured"'),
        ("name", '""', "profile-implausible", "characters"),
        ("resets_on_open", '"yes"', "profile-wrong-type", "true or false"),
        ("format", "2", "profile-wrong-type", "format 1"),
    ],
)
def test_a_wrong_value_is_named_where_it_stands(key, value, slug, said) -> None:
    text = garage_with(key, value)
    found = parse_profile(text, "p.toml")
    assert found.profile is None
    assert slug in [d.slug for d in found.diagnostics]
    first = next(d for d in found.diagnostics if d.slug == slug)
    assert said in first.help
    assert first.span is not None
    line = text.split("\n")[first.span.line - 1]
    assert line.startswith(f"{key} = ")
    assert line[first.span.column - 1 : first.span.end_column - 1] == value


@pytest.mark.parametrize(
    ("value", "slug", "said"),
    [
        ("1200", "profile-wrong-type", "write them rising"),
        ("[]", "profile-wrong-type", "write them rising"),
        ('["fast"]', "profile-wrong-type", "bare"),
        ("[1200, 1700.5]", "profile-implausible", "whole numbers"),
        ("[1200, 99000]", "profile-implausible", "between"),
        ("[2000, 1200, 1200]", "profile-range-order", "`[1200, 2000]`"),
    ],
)
def test_steps_are_whole_numbers_that_rise(value, slug, said) -> None:
    text = garage_text().replace("roll_deg = ", f"steps = {value}\nroll_deg = ")
    found = parse_profile(text, "p.toml")
    assert found.profile is None
    assert [(d.slug, said in d.help) for d in found.diagnostics] == [(slug, True)]


@pytest.mark.parametrize(
    ("value", "slug", "said"),
    [
        ("3", "profile-wrong-type", "pairs of numbers"),
        ("[30, 10.4]", "profile-wrong-type", "pairs of numbers"),
        ("[[30, 10.4, 1], [45, 14.2]]", "profile-wrong-type", "pairs of numbers"),
        ("[[30, 10.4]]", "profile-implausible", "measure 2 to 40"),
        ("[[30.5, 10.4], [45, 14.2]]", "profile-implausible", "whole numbers"),
        ("[[30, 10.4], [4500, 14.2]]", "profile-implausible", "between 1 and 1400"),
        ("[[30, 10.4], [45, 142.0]]", "profile-implausible", "between 0.5 and 70"),
        ("[[30, 10.4], [45, nan]]", "profile-implausible", "between 0.5 and 70"),
        ("[[45, 10.4], [30, 14.2]]", "profile-range-order", "`[30, 45]`"),
        ("[[30, 10.4], [45, 10.4]]", "profile-range-order", "more balls each"),
    ],
)
def test_a_measured_table_has_pairs_that_rise(value, slug, said) -> None:
    """Two openings of one speed too: which one a ball would be thrown with, nobody could say."""
    text = (PROFILES / "timed-valve.toml").read_text(encoding="utf-8")
    before, table, after = re.split(r"(?s)(table = \[.*?\n\])", text, maxsplit=1)
    assert table
    found = parse_profile(f"{before}table = {value}{after}", "p.toml")
    assert found.profile is None
    assert [(d.slug, said in d.help) for d in found.diagnostics] == [(slug, True)]


def test_an_unknown_key_suggests_the_one_meant() -> None:
    text = garage_text().replace("speed_mps =", "speed_kmh =")
    found = {d.slug: d for d in parse_profile(text, "p.toml").diagnostics}
    assert set(found) == {"profile-unknown-key", "profile-missing-key"}
    assert "speed_mps" in found["profile-unknown-key"].help


def test_all_mistakes_are_reported_at_once() -> None:
    text = garage_with("slip", "9.0").replace("[guard]", "[gaurd]")
    text = text.replace("spin_rpm = [-2500.0, 3000.0]", "spin_rpm = [3000.0, -2500.0]")
    assert sorted(slugs(text)) == [
        "profile-implausible",
        "profile-missing-key",
        "profile-range-order",
        "profile-unknown-key",
    ]


@pytest.mark.parametrize(
    ("text", "line"),
    [("format = 1\nname = \n", 2), ("format 1", 1), ("[limits", 1), ('name = "open', 1)],
)
def test_text_that_is_not_toml_is_pointed_at(text, line) -> None:
    (found,) = parse_profile(text, "p.toml").diagnostics
    assert found.slug == "profile-syntax"
    assert found.span is not None
    assert found.span.line == line


def test_a_file_that_is_not_there_says_so(tmp_path) -> None:
    reading = read_profile(tmp_path / "none.toml")
    assert [d.slug for d in reading.diagnostics] == ["profile-unreadable"]
    (tmp_path / "b.toml").write_bytes(b"\xff\xfe\x00")
    assert [d.slug for d in read_profile(tmp_path / "b.toml").diagnostics] == ["profile-unreadable"]
    assert [d.slug for d in read_profile(tmp_path).diagnostics] == ["profile-unreadable"]


def test_comments_the_note_and_line_ends_do_not_change_the_hash() -> None:
    plain = "\n".join(line.split("#")[0] for line in garage_text().split("\n"))
    for text in (plain, garage_text().replace("\n", "\r\n"), garage_with("note", '"another"')):
        profile = parse_profile(text, "p.toml").profile
        assert profile is not None
        assert profile_hash(profile) == profile_hash(garage())


def test_any_changed_number_changes_the_hash() -> None:
    for key, value in [("slip", "0.921"), ("watchdog_s", "0.9"), ("side_rpm", "[0.0, 1.0]")]:
        profile = parse_profile(garage_with(key, value), "p.toml").profile
        assert profile is not None
        assert profile_hash(profile) != profile_hash(garage())


@given(st.text(max_size=200))
def test_any_text_is_a_profile_or_a_diagnostic(text) -> None:
    reading = parse_profile(text, "p.toml")
    assert (reading.profile is None) == has_errors(reading.diagnostics)


@given(st.data())
def test_a_spoilt_example_never_raises(data) -> None:
    """Cuts, doubled stretches and foreign characters anywhere in the example."""
    text = garage_text()
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text)))
        cut = data.draw(st.integers(0, 40))
        text = text[:at] + data.draw(st.text(max_size=12)) + text[at + cut :]
    reading = parse_profile(text, "p.toml")
    assert (reading.profile is None) == has_errors(reading.diagnostics)


@given(st.binary(max_size=300))
def test_any_bytes_in_a_file_are_answered(tmp_path_factory, raw) -> None:
    path = tmp_path_factory.mktemp("profile") / "p.toml"
    path.write_bytes(raw)
    reading = read_profile(path)
    assert (reading.profile is None) == has_errors(reading.diagnostics)


def test_the_example_lies_where_programs_look_for_it() -> None:
    assert GARAGE.is_file()


PAGES_WITH_LINES = [page for page in profile_pages.PAGES if page.wrong]


@pytest.mark.parametrize("page", PAGES_WITH_LINES, ids=lambda page: page.slug)
def test_a_pages_wrong_line_gives_its_diagnostic_and_the_corrected_one_none(page) -> None:
    """The lines stand in place of the example's line of the same key."""
    key = page.corrected.split(" = ")[0]
    whole = re.compile(rf"^{key} = .*$", re.M)
    assert page.slug in slugs(whole.sub(page.wrong, garage_text(), count=1))
    assert slugs(whole.sub(page.corrected, garage_text(), count=1)) == []
