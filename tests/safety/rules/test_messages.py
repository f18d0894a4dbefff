"""Messages: the figure that is asked for is never told equal to the figure that was found."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.check.check_program import check_program
from feedscript.safety.examples import example, fed, two_stations
from feedscript.safety.rules import RULES
from feedscript.units import apart
from tests.plan.test_stations_without_launcher import EAST, WEST, text_of

FINITE = st.floats(-1e4, 1e4)


@given(FINITE, st.floats(1e-7, 1.0), st.integers(0, 3))
def test_two_figures_that_differ_read_differently(found: float, by: float, digits: int) -> None:
    for asked in (found + by, found - by):
        one, other = apart(found, asked, digits)
        assert one != other
        assert (float(one) < float(other)) == (found < asked)


@given(FINITE)
def test_equal_figures_stay_short(found: float) -> None:
    assert apart(found, found, 1) == (f"{found:.1f}", f"{found:.1f}")


#: Programs in which every rule that has a limit has something to judge.
JUDGED = {
    "one launcher": example(
        fed(also="receiver 1 m behind baseline, 1 m to ad of centre mark"),
        court="surface hard  roof 12 m  fence 4 m high, 6 m behind baseline  air 24 C  "
        "side room 3 m  neighbours ad",
        group="1 player  level club",
        more='keep out "bench" { area ad run-off }',
        steps="show speed of deep  repeat 6 { send deep after 6 s }",
    ),
    "two launchers": two_stations(
        fed("left", land="at -2.5 m, 9 m", speed="76 km/h", also="receiver at -2.5 m, 13 m"),
        fed("right", land="at 2.5 m, 9 m", speed="76 km/h", also="receiver at 2.5 m, 13 m"),
    ),
}


@pytest.mark.parametrize("text", JUDGED.values(), ids=JUDGED)
def test_a_limit_that_is_missed_by_a_hair_is_told_apart(text: str) -> None:
    """Every limit is moved to a hair past what was found; found and asked must differ as read."""
    verdict = check_program(Path("judged.feed"), text=text)
    assert verdict.plan is not None, [one.message for one in verdict.diagnostics if one.is_error]
    tried = 0
    for rule in RULES:
        clause = next(one for one in verdict.plan.certificate.clauses if one.rule == rule.slug)
        if rule.limit is None or clause.margin is None or clause.margin <= 0:
            continue
        higher = rule.limit.stricter.value == "higher"
        step = 60.0 if rule.slug == "long-lesson" else 1.0
        limit = step * (clause.limit + (1 if higher else -1) * (clause.margin + 0.0004))
        asked = f"require {rule.slug} {limit:.7f}{_UNITS[rule.limit.unit]}"
        again = check_program(Path("judged.feed"), text=f"{text}{asked}\n")
        told = [one.message for one in again.diagnostics if one.slug == rule.slug]
        assert told, (rule.slug, asked)
        figures = re.findall(r"\d+(?:\.\d+)?", told[0].split(";")[0])
        last = re.findall(r"\d+(?:\.\d+)?", told[0].split(";")[-1])
        assert not set(figures) & set(last), told[0]
        tried += 1
    assert tried >= 3


_UNITS = {"m": " m", "m/s": " m/s", "s": " s", "C": " C", "balls": "", "sigma": ""}


LESSON = """feedscript 1
court { surface hard }
balls { type 2LOAD }
launcher { profile "garage.toml"  stands 1 m behind centre markOWN }
group { 1 player  level club }
feed deep { land 3 m inside baseline, on centre line  speed 72 km/h  spin top 900 rpm }
feed quick = deep with { speed 95 km/h }
feed quicker = deep with { speed 100 km/h }
pattern many(n: count) { repeat n { send deep after 5 s } }
lesson {
    show speed of deep
    repeat 2 { send deep after 5 s }
    STEPS
}
"""


def told(slug: str, steps: str, *, load: str = "", own: str = "") -> tuple[str, str, str]:
    """Message, fix, and the words underlined."""
    text = LESSON.replace("STEPS", steps).replace("LOAD", load).replace("OWN", own)
    found = [x for x in check_program(Path("m.feed"), text=text).diagnostics if x.slug == slug]
    assert len(found) == 1, found
    (one,) = found
    assert one.span is not None
    line = text.split("\n")[one.span.line - 1]
    return one.message, one.help, line[one.span.column - 1 : one.span.end_column - 1]


def slugs(text: str) -> list[str]:
    return [one.slug for one in check_program(Path("m.feed"), text=text).diagnostics]


def test_a_load_error_points_at_the_words_that_load() -> None:
    short = "repeat 9 { send deep after 5 s }"
    assert told("short-of-balls", short, load="  load 8")[2] == "load 8"
    assert told("short-of-balls", short, own="  load 8")[2] == "load 8"
    assert told("hopper-overfull", short, own="  load 90")[2] == "load 90"


@pytest.mark.parametrize("own", ["", "  load 60"])
def test_more_balls_than_the_hopper_holds_name_the_exercise(own: str) -> None:
    message, fix, words = told("short-of-balls", "many(96)  send deep after 5 s", own=own)
    assert "up to 100 balls" in message
    assert words == "many(96)"
    assert fix == "add a collect: the hopper holds 80"


def test_a_long_series_points_at_the_series() -> None:
    assert told("long-series", "rest 20 s  many(40)")[2] == "many(40)"
    steps = "rest 20 s  repeat 40 { send deep after 5 s }"
    assert told("long-series", steps)[2] == "repeat 40 { send deep after 5 s }"


def test_a_missing_show_is_one_error() -> None:
    """The fix of the fastest is that of all."""
    steps = "send quick after 9 s  send quicker after 9 s  send quick after 9 s"
    _, fix, _ = told("faster-than-shown", steps)
    assert "`show speed of quicker`" in fix
    shown = "show speed of quicker  " + steps
    text = LESSON.replace("STEPS", shown).replace("LOAD", "").replace("OWN", "")
    assert "faster-than-shown" not in [
        x.slug for x in check_program(Path("m.feed"), text=text).diagnostics
    ]


def fixed(message: str, text: str, unit: str) -> str:
    """What the fix says to write, out of its backquotes."""
    found = [
        one for one in check_program(Path("m.feed"), text=text).diagnostics if one.slug == message
    ]
    offers = re.findall(r"`([^`]*)`", found[0].help)
    return next(offer for offer in offers if offer.startswith(unit))


@pytest.mark.parametrize("speed", ["86 km/h", "95 km/h", "75 km/h"])
def test_a_speed_that_is_offered_for_the_net_clears_it(speed: str) -> None:
    text = example(fed(land="2.4 m inside service line, on centre line", speed=speed, spin="flat"))
    offered = fixed("net-clearance", text, "speed")
    assert "net-clearance" not in slugs(text.replace(f"speed {speed}", offered))


def test_a_mouth_that_is_offered_for_the_net_clears_it() -> None:
    """A ball that is hardly too low can be let go from higher up."""
    low = fed(land="2.4 m inside service line, on centre line", speed="77 km/h", spin="flat")
    text = example(low)
    offered = fixed("net-clearance", text, "mouth")
    stands = "stands 1 m behind centre mark"
    assert "net-clearance" not in slugs(text.replace(stands, f"{stands}  {offered}"))


def test_a_speed_that_is_offered_to_a_group_is_slow_enough() -> None:
    text = example(fed(speed="112 km/h"), balls="stage red  load 60", group="2 players  stage red")
    offered = fixed("too-fast-for-group", text, "speed")
    assert "too-fast-for-group" not in slugs(text.replace("speed 112 km/h", offered))


def test_where_rounds_of_stations_follow_one_another_a_collect_between_is_offered() -> None:
    """And with those words written the load is enough."""
    text = text_of(4, [WEST, EAST]).replace(
        "to ad of centre mark }", "to ad of centre mark load 31 }"
    )
    (one,) = (
        found
        for found in check_program(Path("m.feed"), text=text).diagnostics
        if found.slug == "short-of-balls"
    )
    assert one.help is not None
    assert "load 61 balls, or add a collect" in one.help
    assert "`rotate stations every …, collect between { … }`" in one.help
    mended = text.replace("every 4 min", "every 4 min, collect between")
    assert "short-of-balls" not in slugs(mended)
