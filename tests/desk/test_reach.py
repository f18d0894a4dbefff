"""What the sliders show is what the whole check says of the program with those words."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from feedscript.check.check_program import Verdict, check_program
from feedscript.desk.offsets import BrowserOffsets
from feedscript.desk.open_text import OpenText
from feedscript.desk.under_way.gaps import GapReach
from feedscript.desk.under_way.reach import FigureReach, Reach, reach
from feedscript.editor.document import Document, open_document
from feedscript.editor.figures import Figure, FigureWanted, figured
from feedscript.memo import GivenUpError
from tests.editor.test_moves import changed

TEXT = """feedscript 1
court {{ surface hard  fence 3 m high, 6 m behind baseline }}
balls {{ type 2  load 30 }}
launcher {{ profile "{profile}"  stands 1 m behind centre mark }}
group {{ 2 players  level {level}  receiver 1 m behind baseline, on centre line }}
{more}
feed one {{ land {land}  {settled} }}
lesson {{
    show speed of one
    for each player {{ repeat 3 {{ send one after 5 s {then} }}  rest {rest} }}
    send one after 6 s
}}
"""
FAST = "land 2 m inside baseline, on centre line  speed 115 km/h  spin top 2200 rpm"
PROGRAMS = {
    "plain": {},
    "low": {"land": "1 m in front of service line, on centre line", "settled": "speed 60 km/h"},
    "beginners": {"level": "beginner"},
    "past a coach": {"more": "coach { walks deuce half }"},
    "by its apex": {"settled": "apex 3 m"},
    "little rest": {"rest": "0.5 s"},
    "after a fast one": {
        "more": f"feed fast {{ {FAST} }}",
        "then": "send fast after 6 s",
    },
    "shown for a faster one": {
        "more": f"feed fast {{ {FAST.replace('115', '90')} }}",
        "then": "send fast after 6 s",
    },
    "in miles": {"settled": "speed 50 mph  spin top 900 rpm"},
    "three wheels": {"profile": "three-wheels.toml"},
    "one wheel": {"profile": "single-wheel.toml"},
}
STATIONS = """feedscript 1
court { surface hard }
balls { type 2  load 60 }
group { 6 players  level club }
launcher left { profile "garage.toml"  stands 1 m behind baseline, 2.6 m deuce of centre mark }
launcher right { profile "garage.toml"  stands 1 m behind baseline, 2.6 m ad of centre mark }
feed one { land at LANDS, 8.5 m  speed 76 km/h  receiver at 2.6 m, 12 m }
feed other { land at -2.6 m, 8.5 m  speed 76 km/h  receiver at -2.6 m, 12 m }
lesson {
    show speed of one  show speed of other
    STEPS
}
"""
BESIDE = """together {
        station "left" on launcher left { repeat 4 { send one after 6 s } }
        station "right" on launcher right { repeat 4 { send other after 6 s } }
    }"""
ONE_BY_ONE = """together {
        station "left" on launcher left { send one after 6 s }
        station "right" on launcher right { rest 2 s }
    }
    together {
        station "left" on launcher left { rest 2 s }
        station "right" on launcher right { send other after 1 s }
    }"""


def text_of(**said: str) -> str:
    usual = {
        "profile": "garage.toml",
        "level": "club",
        "rest": "10 s",
        "then": "",
        "more": "",
        "land": "3 m inside baseline, on centre line",
        "settled": "speed 80 km/h",
    }
    return TEXT.format(**(usual | said))


def opened(text: str) -> Document:
    return open_document(Path("/nowhere/x.feed"), text)


def reach_of(document: Document, name: str = "one") -> Reach:
    text = OpenText(document.scope.source, BrowserOffsets(document.text))
    return reach(document, text, name)


def with_figure(document: Document, figure: Figure, value: float, unit: str) -> Verdict:
    wanted = FigureWanted(figure=figure, name="one", value=value, unit=unit)
    (choice,) = figured(document, wanted).choices
    text = changed(document.text, choice)
    return check_program(Path("/nowhere/x.feed"), text=text)


#: What the check says, and on which line.
Errors = set[tuple[str, int]]


def errors(verdict: Verdict, before: Errors = frozenset(), name: str = "one") -> Errors:  # type: ignore[assignment]
    """What the check has against this feed's ball, or has only since its words are these."""
    found = {
        (one.slug, 0 if one.span is None else one.span.line, one.message)
        for one in verdict.diagnostics
        if one.is_error
    }
    return {
        (slug, line)
        for slug, line, message in found
        if (slug, line) not in before or name in message.split()
    }


def some(slider: FigureReach) -> list[int]:
    """Tries to look at: wherever something changes, and a few beside."""
    states = [(one.ball.can, bool(one.ball.why)) for one in slider.tries]
    edges = {at for at in range(1, len(states)) if states[at] != states[at - 1]}
    return sorted({0, len(states) // 2, len(states) - 1, *edges, *(at - 1 for at in edges)})


def held(document: Document, slider: FigureReach, tries: list[int]) -> None:
    before = errors(document.verdict)
    for at in tries:
        one = slider.tries[at]
        found = errors(with_figure(document, slider.figure, one.value, slider.unit), before)
        assert bool(one.ball.why) == bool(found), (slider.figure, one.value, one.ball.why, found)
        if not one.ball.can:
            slugs = {slug for slug, _ in found}
            assert slugs & {"out-of-reach", "spin-not-given"} or any("past-" in s for s in slugs)


@pytest.mark.parametrize("named", ["low", "past a coach"])
def test_the_band_is_what_the_check_allows(named: str) -> None:
    document = opened(text_of(**PROGRAMS[named]))
    (speed, *_) = reach_of(document).figures
    held(document, speed, some(speed)[1:5])
    assert {one.ball.can for one in speed.tries} == {True, False}


@pytest.mark.parametrize(
    ("named", "against"),
    [("little rest", "on next"), ("shown for a faster one", "shown before")],
)
def test_the_band_is_what_the_balls_before_and_after_allow(named: str, against: str) -> None:
    """A slow ball comes down late for whoever is on next; a ball that was shown slowly is no
    warning of a fast one."""
    document = opened(text_of(**PROGRAMS[named]))
    (speed, *_) = reach_of(document).figures
    told = [at for at, one in enumerate(speed.tries) if against in one.ball.why]
    assert told
    held(document, speed, [told[0], told[-1]])
    assert not all(one.ball.why for one in speed.tries)


def test_the_band_is_what_the_balls_of_another_station_allow() -> None:
    document = opened(STATIONS.replace("LANDS", "-0.4 m").replace("STEPS", BESIDE))
    *_, top = reach_of(document).figures
    told = [at for at, one in enumerate(top.tries) if "other" in one.ball.why]
    free = [at for at, one in enumerate(top.tries) if not one.ball.why]
    held(document, top, [told[0], told[-1], free[0], free[-1]])


@pytest.mark.long
@pytest.mark.timeout(3600)
@pytest.mark.parametrize("lands", ["0.2 m", "-0.4 m"])
@pytest.mark.parametrize("steps", [BESIDE, ONE_BY_ONE], ids=["beside", "one by one"])
def test_every_band_is_what_the_balls_of_another_station_allow(lands: str, steps: str) -> None:
    document = opened(STATIONS.replace("LANDS", lands).replace("STEPS", steps))
    for slider in reach_of(document).figures:
        held(document, slider, list(range(len(slider.tries))))


@pytest.mark.long
@pytest.mark.timeout(3600)  # a busy machine takes its time
@pytest.mark.parametrize("named", PROGRAMS)
def test_every_band_is_what_the_check_allows(named: str) -> None:
    document = opened(text_of(**PROGRAMS[named]))
    for slider in reach_of(document).figures:
        held(document, slider, list(range(len(slider.tries))))


@pytest.mark.parametrize(
    "settled", ["speed 84.3 km/h  spin top 870 rpm", "apex 3 m", "flight 1.4 s"]
)
def test_where_a_slider_stands_it_says_what_the_picture_says(settled: str) -> None:
    document = opened(text_of(settled=settled))
    plan = document.verdict.plan or document.verdict.draft
    assert plan is not None
    for slider in reach_of(document).figures:
        (here,) = (one.ball for one in slider.tries if one.value == slider.value)
        assert here.net_m == round(plan.feeds[0].net_clearance_m, 2)


def test_a_spin_that_follows_from_the_speed_has_no_slider() -> None:
    figures = reach_of(opened(text_of(**PROGRAMS["one wheel"]))).figures
    assert [one.figure for one in figures] == [Figure.SPEED]


def test_a_slider_speaks_the_units_of_the_words() -> None:
    (speed, *_) = reach_of(opened(text_of(**PROGRAMS["in miles"]))).figures
    assert (speed.unit, speed.value) == ("mph", 50.0)
    (speed, *_) = reach_of(opened(text_of(**PROGRAMS["by its apex"]))).figures
    assert "says its speed" in speed.note


def test_what_the_receiver_meets_is_what_an_expectation_knows() -> None:
    """The ball that stands in the words: its height where it is met, by the language's own
    `arrives between`, which flies it with the rules' tracks."""
    document = opened(text_of())
    (speed, *_) = reach_of(document).figures
    here = next(one.ball for one in speed.tries if abs(one.value - 79) < 3)
    assert here.meets is not None
    assert here.meets.at_receiver
    met = with_figure(document, Figure.SPEED, next(
        one.value for one in speed.tries if one.ball is here
    ), "km/h")  # fmt: skip
    assert met.facts is not None
    arrival = met.facts.arrivals[0]
    assert here.meets.time_s == pytest.approx(arrival.time_s, abs=0.04)
    assert here.net_m == pytest.approx(met.facts.recomputed[0].net_clearance_m, abs=0.006)


def gap_errors(text: str, line: int) -> set[str]:
    """What the check has against the time before the ball of this line."""
    verdict = check_program(Path("/nowhere/x.feed"), text=text)
    slugs = {"too-soon", "least-interval", "short-change-over"}
    here = [one for one in verdict.diagnostics if one.span is not None and one.span.line == line]
    return {one.slug for one in here} & slugs


def gap_words(document: Document, gap: GapReach, seconds: float) -> str:
    wanted = FigureWanted(
        figure=Figure.GAP, name="one", part=gap.part, value=round(seconds, 1), unit="s"
    )
    (choice,) = figured(document, wanted).choices
    return changed(document.text, choice)


@pytest.mark.parametrize("named", ["plain", "little rest", "after a fast one"])
def test_the_soonest_is_what_the_check_allows(named: str) -> None:
    document = opened(text_of(**PROGRAMS[named]))
    gaps = reach_of(document).gaps
    assert [one.value for one in gaps] == [5.0, 6.0]
    for gap in gaps:
        assert not gap_errors(gap_words(document, gap, gap.least_s), gap.line)
        if gap.least_s > gap.ends[0]:
            assert gap_errors(gap_words(document, gap, gap.least_s - 0.1), gap.line)
            assert gap.why
    assert ("on next" in gaps[0].why) == (named == "little rest")


def test_nothing_is_shown_of_a_program_that_cannot_be_read() -> None:
    assert reach_of(opened(text_of(settled="speed 80 apples"))).refused
    assert reach_of(opened(text_of()), "gone").refused


def test_an_aim_is_given_up_between_its_throws() -> None:
    """What a slider asked for must not fly on beside the check of newer words."""
    document, asked = opened(text_of(settled="speed 80 km/h")), 0

    def stands() -> bool:
        nonlocal asked
        asked += 1
        return asked < 5

    kept, memo = document.memo.kept, document.memo.as_long_as(stands)
    with pytest.raises(GivenUpError):
        reach_of(msgspec.structs.replace(document, memo=memo))
    assert document.memo.kept == kept, "not even the first balls were aimed to the end"
