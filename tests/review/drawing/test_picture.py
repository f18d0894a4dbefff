"""The court picture: to scale, whole, legible, and valid whatever the program is called."""

from __future__ import annotations

import itertools
import re
import xml.etree.ElementTree as ET

import msgspec
import numpy as np
import pytest

from feedscript.court.lines import COURTS
from feedscript.diagnostics import Diagnostic
from feedscript.plan.model import Collect
from feedscript.review.drawing import raster
from feedscript.review.drawing.drawn_flights import styled
from feedscript.review.drawing.feed_table import rows, spin_words
from feedscript.review.drawing.frame import Frame, reach_of
from feedscript.review.drawing.page import page
from feedscript.review.drawing.palette import COLOURS, INK, PAPER, SOFT_INK, letters, style
from feedscript.review.drawing.picture import picture
from feedscript.review.drawing.svg import number, width_of, write
from feedscript.review.drawing.timeline import Stop, longest_run
from tests.review.plans import MOUTH, plan_of

SVG = "{http://www.w3.org/2000/svg}"


def drawn(count: int, **changes) -> ET.Element:
    plan, flights = plan_of(count)
    plan = msgspec.structs.replace(plan, **changes)
    return ET.fromstring(write(picture(plan, flights, longest_run(plan))))


def frame_of(count: int) -> Frame:
    plan, flights = plan_of(count)
    return Frame(reach_of(COURTS["singles"], plan.launchers, flights, plan.keep_outs), 78.0)


@pytest.mark.parametrize("count", [1, 3, 10])
def test_every_feed_has_its_letter_on_the_court_in_the_air_in_the_table_and_in_time(count) -> None:
    words = [element.text for element in drawn(count).iter(f"{SVG}text")]
    for index in range(count):
        assert words.count(letters(index)) == 4


def test_the_court_is_drawn_to_scale() -> None:
    """Baseline to baseline 78 ft and sideline to sideline 36 ft, at one scale both ways."""
    frame = frame_of(3)
    left, top = frame.above(-18 * 0.3048, -39 * 0.3048)
    right, bottom = frame.above(18 * 0.3048, 39 * 0.3048)
    court = next(
        polygon for polygon in drawn(3).iter(f"{SVG}polygon") if polygon.get("fill") == "#ead3c0"
    )
    corners = {tuple(map(float, pair.split(","))) for pair in court.get("points", "").split()}
    assert (round(left, 2), round(top, 2)) in corners
    assert (round(right, 2), round(bottom, 2)) in corners
    assert (right - left) / (bottom - top) == pytest.approx(78 / 36)


def test_a_path_ends_at_its_landing_and_begins_at_the_mouth() -> None:
    _, (one,) = plan_of(1)
    assert one.path_m[0] == pytest.approx(MOUTH)
    assert one.path_m[-1][:2] == pytest.approx(one.feed.landing_m, abs=2e-3)


def test_the_ellipse_has_the_scatters_size_and_turn() -> None:
    """A feed to the ad corner strays mostly along its flight, which leans towards ad (down)."""
    _, (one,) = plan_of(1)
    frame = frame_of(1)
    three, single = list(drawn(1).iter(f"{SVG}ellipse"))
    assert float(single.get("rx", 0)) == pytest.approx(
        one.feed.scatter.major_m * frame.scale, abs=0.01
    )
    assert float(three.get("ry", 0)) == pytest.approx(
        3 * one.feed.scatter.minor_m * frame.scale, abs=0.01
    )
    turn = float(re.search(r"rotate\(([-\d.]+)", single.get("transform", ""))[1])
    assert turn == pytest.approx(one.feed.azimuth_deg, abs=1.5)


def test_the_time_line_shows_every_ball_of_the_run() -> None:
    plan, _ = plan_of(3)
    run = longest_run(plan)
    assert len(run.balls) == 1 + 4 * 3 + 1
    assert [ball.watched for ball in run.balls[:2]] == [True, False]
    assert [stop.words for stop in run.stops] == ["collect"]
    assert run.rests == ((48.0, 68.0),)
    assert run.end_s == 72.0


def test_the_time_line_shows_a_break_with_its_time_and_its_words() -> None:
    plan, _ = plan_of(1)
    pause = Collect(words="water", break_s=180.0, line=9)
    before = longest_run(plan)
    run = longest_run(msgspec.structs.replace(plan, steps=(*plan.steps, pause)))
    end_s = before.end_s + 180.0
    assert run.stops[-1] == Stop(before.end_s, end_s, "break 3 min: water", named=True)
    assert run.end_s == end_s


@pytest.mark.parametrize("title", ['<b> & "quotes" ]]>', "\x00\x07 bell", "", "ä" * 300])
def test_any_title_makes_a_valid_picture_and_page(title) -> None:
    drawn(1, title=title)
    plan, flights = plan_of(1)
    plan = msgspec.structs.replace(plan, title=title)
    text = page(title, picture(plan, flights, table=False), flights)
    assert "<b>" not in text


def test_the_page_fetches_nothing() -> None:
    plan, flights = plan_of(2)
    text = page("x", picture(plan, flights, longest_run(plan), table=False), flights)
    assert not re.search(r"""(?:src|href|url)\s*[=(]\s*["']?\s*(?:https?:|//)""", text)
    assert text.count("<tr>") == 3


def test_the_same_plan_gives_the_same_bytes() -> None:
    plan, flights = plan_of(3)
    assert write(picture(plan, flights)) == write(picture(plan, flights))


def test_words_are_dark_enough_on_the_ground() -> None:
    """Contrast by WCAG 2.1 (W3C, 2018), relative luminance; 4.5 is its AA, 7 its AAA figure."""

    def luminance(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        red, green, blue = (
            c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts
        )
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    def contrast(one: str, other: str) -> float:
        dark, light = sorted((luminance(one), luminance(other)))
        return (light + 0.05) / (dark + 0.05)

    assert contrast(INK, PAPER) > 7
    for ground in (PAPER, "#ead3c0", "#d3e4c8", "#d6e3ee", "#dcdae8"):
        assert contrast(SOFT_INK, ground) > 4.5


def test_feeds_differ_by_more_than_colour() -> None:
    looks = [style(index) for index in range(28)]
    assert len({(look.colour, look.mark) for look in looks}) == 28
    assert len({look.letter for look in looks}) == 28
    assert all(a.mark != b.mark and a.colour != b.colour for a, b in itertools.pairwise(looks))
    assert len(set(COLOURS)) == len(COLOURS)


def test_spin_reads_like_the_program() -> None:
    assert spin_words(1200, 0) == "top 1200 rpm"
    assert spin_words(-900, 300) == "back 900, side ad 300 rpm"
    assert spin_words(0, -300) == "side deuce 300 rpm"
    assert spin_words(0.2, 0) == "none"


@pytest.mark.parametrize(
    ("value", "text"), [(1.0, "1"), (-0.001, "0"), (2.346, "2.35"), (10, "10")]
)
def test_numbers_are_short(value, text) -> None:
    assert number(value) == text


def test_words_have_more_room_than_they_need() -> None:
    """Against DejaVu Sans's own advance widths, as matplotlib measures them."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath

    font = FontProperties(family="DejaVu Sans", size=100)
    for words in ("deep to the backhand", "collect", "change over", "Thursday juniors"):
        assert TextPath((0, 0), words, prop=font).get_extents().width < width_of(words, 100)


def test_png_is_drawn_at_the_width_asked_for() -> None:
    plan, flights = plan_of(1)
    raw = raster.png_of(write(picture(plan, flights)), 800)
    assert isinstance(raw, bytes)
    assert raw[:8] == b"\x89PNG\r\n\x1a\n"
    assert int.from_bytes(raw[16:20], "big") == 800


def test_without_the_extra_png_names_what_is_missing(monkeypatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "resvg_py", None)
    refused = raster.png_of("<svg/>")
    assert isinstance(refused, Diagnostic)
    assert "feedscript[plots]" in refused.help


@pytest.mark.parametrize("kind", list(COURTS))
def test_every_court_is_drawn_even_without_a_feed(kind) -> None:
    plan, _ = plan_of(1)
    court = msgspec.structs.replace(plan.court, kind=kind, surface=None)
    bare = msgspec.structs.replace(plan, court=court, feeds=(), steps=())
    root = ET.fromstring(write(picture(bare, (), longest_run(bare))))
    words = [element.text for element in root.iter(f"{SVG}text")]
    assert words.count("baseline") == 2
    assert "ad side" in words


def test_forms_of_one_feed_share_a_row_that_shows_their_range() -> None:
    _, flights = plan_of(2)
    forms = [
        msgspec.structs.replace(one.feed, wish="deep", name=f"deep {k}")
        for k, one in enumerate(flights)
    ]
    forms[1] = msgspec.structs.replace(forms[1], speed_mps=25.0, top_rpm=1500.0)
    ((lead, words),) = rows(styled(tuple(forms), [one.path_m for one in flights]))
    assert lead.style.letter == "A"
    assert words[0] == "deep (2 forms)"
    assert words[1] == "86\u201390 km/h"
    assert words[2] == "top 1200\u20131500 rpm"


def test_a_path_stops_where_it_leaves_the_frame() -> None:
    frame = frame_of(1)
    far = frame.reach.y_max_m
    path = np.array([[0, far - 2, 1], [0, far - 1, 1], [0, far + 1, 1], [0, far - 1, 1]], float)
    assert len(frame.while_inside(path)) == 2
