"""Expectations with their worst case; and as drawn balls decide them, as the command does."""

from __future__ import annotations

import json
from pathlib import Path

import msgspec
import pytest
from click.testing import CliRunner

from feedscript.cli.prove.test import command
from feedscript.desk import tested as by_draws
from feedscript.desk.seen import seen
from feedscript.editor.document import open_document
from feedscript.plan.expect.outcome import About, WorstCase
from tests.desk.test_played import TWO

EXPECTED = """
let far = 2 m
expect {
    balls <= 20
    every feed clears net by 0.3 m
    wide arrives between 0.1 m and 4 m
    deep bounces inside backcourt
    95 % of deep within far
    no player waits longer than 10 min
    wide clears net by 2.5 m
}
"""
RECEIVER = "level club  receiver 1 m behind baseline, on centre line"
PROGRAM = TWO.replace("level club", RECEIVER) + EXPECTED


@pytest.fixture(scope="module")
def program(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("coach") / "two.feed"
    path.write_text(PROGRAM, "utf-8")
    return path


def test_the_worst_of_each_is_that_of_the_feed_or_player_it_is_about(program: Path) -> None:
    document = open_document(program, PROGRAM)
    plan, facts = document.verdict.plan, document.verdict.facts
    assert plan is not None
    assert facts is not None
    found = [one.worst for one in seen(document).expectations]
    assert [None if one is None else one.about for one in found] == [
        None, About.NET, About.ARRIVES, About.INSIDE, About.WITHIN, About.WAITS, About.NET,
    ]  # fmt: skip
    net, arrives, inside, within, waits, high = (one for one in found if one is not None)
    rooms = [one.net_room_m for one in facts.recomputed]
    assert net.feed == rooms.index(min(rooms))
    assert net.got_m == (min(rooms), min(rooms))
    assert names(plan, arrives, inside, within, high) == ["wide", "deep", "deep", "wide"]
    assert arrives.asked_m == (0.1, 4.0)
    assert arrives.got_m is not None
    assert 0.1 < arrives.got_m[0] < arrives.got_m[1] < 4.0
    assert within.asked_m == (0.0, 2.0)
    assert len(inside.outline_m) > 3
    assert waits.player is not None
    json.dumps(msgspec.to_builtins(found), allow_nan=False)


def names(plan: object, *worst: WorstCase) -> list[str]:
    return [plan.feeds[one.feed].name for one in worst]  # type: ignore[attr-defined]


def test_drawn_balls_say_what_the_command_says(program: Path) -> None:
    document = open_document(program, PROGRAM)
    found = by_draws.tested(document.verdict, "of today")
    told = CliRunner().invoke(command, [str(program), "--jobs", "1", "--format", "json"])
    (plain,) = json.loads(told.stdout)["programs"]
    assert [(one.written, one.standing, one.figure) for one in found.expectations] == [
        (one["expectation"], one["standing"], one["figure"]) for one in plain["expectations"]
    ]
    standings = [one.standing for one in found.expectations]
    assert standings == ["passes"] * 6 + ["fails"]
