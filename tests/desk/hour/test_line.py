"""The hour as it is drawn, against what the check says of the same hour."""

from __future__ import annotations

from pathlib import Path

import pytest

from feedscript.desk.hour.line import HourLine, hour_line
from feedscript.editor.document import Document, open_document
from feedscript.plan.expect.waits import longest_wait_s
from feedscript.shipped import shipped_folder

SHIPPED = sorted(shipped_folder().glob("*.feed"))

TWO = """feedscript 1
title "\U0001f3be Two"
court { surface hard  fence 3 m high, 6 m behind baseline }
balls { type 2  load 60 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { players "Ash", "Beech"  level club }
feed deep { land 3 m inside baseline, on centre line  speed 80 km/h }
pattern drill(balls: count = 4) {
    say "Twice."
    exercise "Called" { for each player { repeat balls { send deep after 5 s }  rest 12 s } }
}
lesson of 15 min {
    show speed of deep
    exercise "Depth" for 5 min {
        for each player { repeat 4 { send deep after 5 s }  rest 12 s }
    }
    break 2 min "water"
    drill()
    for "Beech" { repeat 3 { send deep after 6 s } }
}
"""


def opened(path: Path, text: str | None = None) -> Document:
    return open_document(path.resolve(), path.read_text("utf-8") if text is None else text)


def line_of(document: Document) -> HourLine:
    line = hour_line(document)
    assert line is not None
    return line


@pytest.fixture(scope="module")
def two() -> tuple[Document, HourLine]:
    document = opened(shipped_folder() / "two.feed", TWO)
    return document, line_of(document)


def test_the_steps_are_those_of_the_words(two: tuple[Document, HourLine]) -> None:
    document, line = two
    units = document.text.encode("utf-16-le")
    words = [units[2 * one.start : 2 * one.end].decode("utf-16-le") for one in line.blocks]
    assert [one.split("{")[0].strip() for one in words] == [
        "show speed of deep",
        'exercise "Depth" for 5 min',
        'break 2 min "water"',
        "drill()",
        'for "Beech"',
    ]
    assert [one.title for one in line.blocks] == [
        "show speed of deep", "Depth", 'break 2 min "water"', "Called", 'for "Beech"',
    ]  # fmt: skip
    assert [one.exercise for one in line.blocks] == [False, True, False, True, False]
    assert [one.step for one in line.blocks] == [0, 1, 2, 3, 4]


def test_steps_follow_one_another_and_an_exercise_keeps_its_minutes(
    two: tuple[Document, HourLine],
) -> None:
    _, line = two
    ends = [one.end_s for one in line.blocks]
    assert [one.begin_s for one in line.blocks[1:]] == ends[:-1]
    depth = line.blocks[1]
    assert depth.end_s - depth.begin_s == pytest.approx(300.0)
    # Four balls 5 s apart and 12 s of rest for each of two, counted by hand.
    assert depth.filled_s == pytest.approx(2 * (4 * 5 + 12))


def test_what_each_does_and_waits_adds_up_to_the_hour(two: tuple[Document, HourLine]) -> None:
    _, line = two
    assert [(one.name, one.balls) for one in line.children] == [("Ash", 8), ("Beech", 11)]
    off_s = sum(one.end_s - one.begin_s for one in line.stops)
    for child in line.children:
        whole_s = child.plays_s + child.works_s + child.waits_s + off_s
        assert whole_s == pytest.approx(line.whole_s)
        begin_s, end_s = child.longest
        assert 0.0 <= begin_s < end_s <= line.whole_s


@pytest.mark.parametrize("path", SHIPPED, ids=lambda one: one.stem)
def test_a_shipped_hour_is_that_of_the_check(path: Path) -> None:
    document = opened(path)
    line = line_of(document)
    as_long_as_the_check_says(document, line)
    nobody_is_on_while_the_launcher_is_off(line)
    nobody_waits_longer_than_the_plan_allows_for(document, line)
    tight_moments_are_worst_cases_of_the_certificate(document, line)


def as_long_as_the_check_says(document: Document, line: HourLine) -> None:
    plan, hour = document.verdict.plan, document.verdict.hour
    assert plan is not None
    if hour is not None:
        # The check takes the longest run there can be, the line draws one.
        least_s, most_s = plan.bounds.time_s
        assert hour.whole_s - (most_s - least_s) - 0.1 <= line.whole_s <= hour.whole_s + 0.1
        titles = [one.title for one in hour.exercises]
        assert ", ".join(one.title for one in line.blocks if one.exercise) == ", ".join(titles)
    shown = sum(one.kind == "watch" for one in line.stops)
    if line.children and all(mark.child is not None for row in line.rows for mark in row.marks):
        least, most = plan.bounds.balls
        assert least <= sum(one.balls for one in line.children) + shown <= most


def nobody_is_on_while_the_launcher_is_off(line: HourLine) -> None:
    stops = [one for one in line.stops if one.kind in ("collect", "break")]
    for mark in (mark for row in line.rows for mark in row.marks):
        for stop in stops:
            assert mark.end_s <= stop.begin_s + 1e-6 or mark.begin_s >= stop.end_s - 1e-6


def nobody_waits_longer_than_the_plan_allows_for(document: Document, line: HourLine) -> None:
    """The bound of the expectations is over every run; it counts breaks as waiting, and not the
    time that people take. Both are cut out of the line, so it may only be shorter."""
    plan = document.verdict.plan
    assert plan is not None
    for number, child in enumerate(line.children):
        begin_s, end_s = child.longest
        assert end_s - begin_s <= longest_wait_s(plan, number) + 1e-6


def tight_moments_are_worst_cases_of_the_certificate(document: Document, line: HourLine) -> None:
    certificate = document.verdict.certificate
    assert certificate is not None
    clauses = {one.rule: one for one in certificate.clauses}
    assert {"least-interval", "short-of-balls"} <= {one.rule for one in line.tight}
    for one in line.tight:
        clause = clauses[one.rule]
        assert one.words == clause.worst_case
        assert clause.margin is not None
        assert one.over == (clause.margin < 0.0) == (one.near > 1.0)


def test_the_fullest_series_is_where_the_hopper_runs_low(two: tuple[Document, HourLine]) -> None:
    document, line = two
    hopper = next(one for one in line.tight if one.rule == "short-of-balls")
    assert "up to 11 balls" in hopper.words  # after the break: two turns of four, and three
    assert hopper.at_s is not None
    assert line.blocks[3].begin_s < hopper.at_s[0] < hopper.at_s[1] <= line.blocks[4].end_s
    assert hopper.start is not None
    assert document.text.encode("utf-16-le")[2 * hopper.start :].decode("utf-16-le").lstrip()
    assert hopper.near == pytest.approx(11 / 60)


def test_words_that_mean_no_lesson_have_no_line() -> None:
    assert hour_line(opened(shipped_folder() / "two.feed", 'feedscript 1\ntitle "x"\n')) is None
    assert hour_line(opened(shipped_folder() / "two.feed", TWO.replace("4", "$"))) is None


def test_what_a_rule_refuses_still_has_its_line() -> None:
    """So that what was put elsewhere can be put back by hand."""
    document = opened(shipped_folder() / "two.feed", TWO.replace("    show speed of deep\n", ""))
    assert not document.verdict.ok
    assert [one.title for one in line_of(document).blocks][:2] == ["Depth", 'break 2 min "water"']
