"""Two records of one lesson: what parts is told with its field and ball, and nothing else is."""

from __future__ import annotations

import csv
import json
import math
import random
from collections.abc import Callable, Sequence
from functools import lru_cache
from pathlib import Path
from xml.etree import ElementTree

import msgspec
import pytest
from click.testing import CliRunner, Result

from feedscript.bench.differences import compare
from feedscript.bench.differences import told as words
from feedscript.bench.junit import junit
from feedscript.bench.record import Ball, Record
from feedscript.bench.sides import captured, planned, rehearsed
from feedscript.bench.tolerances import USUAL, Tolerances, read_tolerances
from feedscript.check.check_program import Verdict, check_program
from feedscript.cli import verbs
from feedscript.plan.model import Plan
from feedscript.session.rehearsal.rehearse import rehearse
from feedscript.session.rehearsal.tried import Tried

LESSON = """feedscript 1
court { surface hard }
balls { type 2 }
launcher { profile "garage"  stands on baseline, on centre line  turned ad 5 degrees }
group { players "Ash", "Bo" }
feed deep { land 2 m inside baseline, on centre line  speed 80 km/h }
feed wide { land 2.5 m inside baseline, 2 m ad of centre line  speed 75 km/h }
lesson {
    show speed of deep
    for each player { repeat 3 { send deep after 5 s  send wide after 6 s }  rest 8 s }
    collect
    repeat 2 { send wide after 5 s }
}
"""


@lru_cache(maxsize=1)
def checked() -> Verdict:
    verdict = check_program(Path("lesson.feed"), text=LESSON)
    assert verdict.plan is not None, verdict.diagnostics
    return verdict


def plan() -> Plan:
    found = checked().plan
    assert found is not None
    return found


def rehearsal(seed: int, **words: object) -> Record:
    return rehearsed(plan(), checked().profiles, "lesson.feed", seed=seed, **words)  # type: ignore[arg-type]


@lru_cache(maxsize=1)
def as_rehearsed() -> Record:
    return rehearsal(1)


def changed(record: Record, at: int, **fields: object) -> Record:
    balls = list(record.balls)
    balls[at] = msgspec.structs.replace(balls[at], **fields)
    return msgspec.structs.replace(record, balls=tuple(balls))


def turned(ball: Ball, **fields: object) -> dict[str, object]:
    assert ball.setting is not None
    return {"setting": msgspec.structs.replace(ball.setting, **fields)}


def _drive(ball: Ball, by: float) -> dict[str, object]:
    assert ball.setting is not None
    first, *rest = ball.setting.drives
    return turned(ball, drives=(first + 1.2 + by, *rest))


def _landing(ball: Ball, by: float) -> dict[str, object]:
    assert ball.landing_m is not None
    assert ball.scatter is not None
    x, y = ball.landing_m
    return {"landing_m": (x, y + (2**0.5 * 4.6 + by) * ball.scatter.major_m)}


#: For each field a way to spoil it by a little more than is allowed, and by that much again.
SPOILT: dict[str, Callable[[Ball, float], dict[str, object]]] = {
    "outcome": lambda ball, by: {"left": False, "why": "jam"},
    "feed": lambda ball, by: {"feed": "another"},
    "player": lambda ball, by: {"player": "Cy"},
    "drive": _drive,
    "pan": lambda ball, by: turned(ball, pan_deg=ball.setting.pan_deg + 0.03 + by),
    "tilt": lambda ball, by: turned(ball, tilt_deg=ball.setting.tilt_deg - 0.03 - by),
    "gap": lambda ball, by: {"gap_s": ball.gap_s - 0.06 - by},
    "landing": _landing,
    "speed": lambda ball, by: {"speed_mps": ball.speed_mps + 2.6 + by},
    "flight": lambda ball, by: {"flight_s": ball.flight_s + 0.27 + by},
}
#: What each of them is told as.
FIELD = {"drive": "setting", "pan": "setting", "tilt": "setting"}


@pytest.mark.parametrize("seed", range(30))
def test_each_seeded_difference_is_found_where_it_is_and_nothing_else(seed: int) -> None:
    dice = random.Random(seed)
    kind = [*SPOILT][seed % len(SPOILT)]
    at = dice.choice([n for n, ball in enumerate(as_rehearsed().balls) if n and ball.player])
    other = changed(as_rehearsed(), at, **SPOILT[kind](as_rehearsed().balls[at], dice.random()))
    found = compare(as_rehearsed(), other, USUAL)
    field = FIELD.get(kind, kind)
    assert [(one.field, one.ball) for one in found.differences] == [(field, at + 1)]
    assert not found.same
    assert [pair.left for pair in found.pairs if pair.parted] == [at]


@pytest.mark.parametrize("at", [0, 4, 12])
def test_a_ball_that_one_of_them_has_not_is_told_alone(at: int) -> None:
    whole = as_rehearsed()
    fewer = msgspec.structs.replace(whole, balls=whole.balls[:at] + whole.balls[at + 1 :])
    for left, right in ((whole, fewer), (fewer, whole)):
        (one,) = compare(left, right, USUAL).differences
        assert one.field == "ball"
        assert "no ball" in (one.left, one.right)


def test_a_ball_has_its_number_in_the_left_record_in_every_comparison() -> None:
    """Two balls more after the fourth shift no number, and nothing is told of two by one name."""
    whole = as_rehearsed()
    spoilt = changed(whole, 9, left=False, why="jam").balls
    strange = msgspec.structs.replace(whole.balls[4], feed="strange", player="Cy")
    other = msgspec.structs.replace(whole, balls=(*spoilt[:4], strange, strange, *spoilt[4:]))
    found = compare(whole, other, USUAL)
    tenth = f"ball 10 ({whole.balls[9].feed} for {whole.balls[9].player})"
    assert [words(one).split(": ")[0] for one in found.differences] == [
        *("after ball 4 (strange for Cy)", "after ball 4, number 2 (strange for Cy)", tenth)
    ]
    cases = [case.get("name") for case in ElementTree.fromstring(junit([found])).iter("testcase")]
    assert len(set(cases)) == len(cases) == len(whole.balls) + 3


def test_what_was_said_and_how_it_ended_are_compared_too() -> None:
    whole = as_rehearsed()
    assert whole.said
    other = msgspec.structs.replace(whole, said=("Hello", *whole.said), ending="broken-off")
    found = compare(whole, other, USUAL).differences
    assert [(one.field, one.right) for one in found] == [
        ("said", "Hello"),
        ("ending", "broken-off"),
    ]
    assert not compare(whole, other, Tolerances(said=False, ending=False)).differences


def equal(seeds: Sequence[int]) -> list[str]:
    """What is told of pairs that are one lesson: the plan beside each rehearsal of it."""
    asked = planned(plan(), "lesson.feed")
    return [
        f"{seed}: {one}"
        for seed in seeds
        for one in compare(asked, rehearsal(seed), USUAL).differences
    ]


def test_a_plan_and_its_rehearsals_do_not_part() -> None:
    assert equal(range(5)) == []
    assert compare(planned(plan(), "lesson.feed"), as_rehearsed(), USUAL).compared == (
        *("outcome", "feed", "player", "setting", "gap", "landing", "speed", "flight"),
    )


@pytest.mark.long
def test_none_is_told_of_a_hundred_equal_pairs() -> None:
    assert equal(range(100)) == []


def test_a_jam_in_the_rehearsal_is_told() -> None:
    found = compare(planned(plan(), "lesson.feed"), rehearsal(1, faults=("jam=3",)), USUAL)
    assert "outcome" in {one.field for one in found.differences}


def test_records_that_know_nothing_in_common_are_not_the_same() -> None:
    nothing = Record(what="nothing", balls=())
    found = compare(nothing, nothing, USUAL)
    assert (found.differences, found.same) == ((), False)


def test_a_capture_has_the_settings_and_times_of_the_plan(
    tmp_path: Path,
) -> None:
    path = tmp_path / "link.capture"
    rehearse(plan(), checked().profiles, "lesson.feed", tried=Tried((), capture=path))
    found = compare(planned(plan(), "lesson.feed"), captured([path], plan()), USUAL)
    assert found.differences == ()
    assert found.compared == ("outcome", "feed", "setting", "gap")
    # A ball whose setting on the wire is another's is told, whatever the driver meant to send.
    spoilt = path.read_text().replace(" FEED 4 ", " FEED 400 ")
    path.write_text(spoilt)
    assert compare(planned(plan(), "lesson.feed"), captured([path], plan()), USUAL).differences


# -- the command ----------------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "lesson.feed").write_text(LESSON)
    return tmp_path


def told(*words: object) -> Result:
    result = CliRunner().invoke(verbs, list(map(str, words)))
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def test_a_lesson_of_the_journal_is_held_to_the_plan_and_to_another_one(folder: Path) -> None:
    program, journal = folder / "lesson.feed", folder / "journal.sqlite"
    assert told("rehearse", program, "--journal", journal).exit_code == 0
    words = ("compare", program, "--lesson", 1, "--journal", journal)
    result = told(*words)
    assert result.exit_code == 0, result.output
    assert "the same in 15 balls" in result.output
    program.write_text(LESSON.replace("speed 75 km/h", "speed 74 km/h"))
    drawn, report = folder / "parts.svg", folder / "parts.xml"
    result = told(*words, "-o", drawn, "--junit", report, "--format", "json")
    assert result.exit_code == 1
    (one,) = json.loads(result.stdout)["comparisons"]
    parted = {part["ball"] for part in one["differences"]}
    assert {part["field"] for part in one["differences"]} == {"setting"}
    assert len(parted) == 8
    assert "8 of 15 balls part" in drawn.read_text()
    (suite,) = ElementTree.parse(report).getroot()
    assert (suite.get("tests"), suite.get("failures")) == ("16", "8")


def test_measured_landings_are_held_to_where_they_were_aimed(folder: Path) -> None:
    """The launcher is turned by 5 degrees: what is measured is along where it faces."""
    feed = plan().feeds[0]
    mouth = plan().launchers[0].mouth_m
    turn = math.radians(plan().launchers[0].heading_deg)
    assert turn == pytest.approx(math.radians(5.0))
    east, north = feed.landing_m[0] - mouth[0], feed.landing_m[1] - mouth[1]
    along = east * math.sin(turn) + north * math.cos(turn)
    right = east * math.cos(turn) - north * math.sin(turn)
    table = folder / "landings.csv"

    def measured(off_m: float) -> Result:
        top, bottom = feed.setting.drives
        rows = {
            "drive_1": top,
            "drive_2": bottom,
            "pan_deg": feed.setting.pan_deg,
            "tilt_deg": feed.setting.tilt_deg,
            "along_m": along + off_m,
            "right_m": right,
        }
        with table.open("w", newline="") as file:
            writer = csv.DictWriter(file, rows)
            writer.writeheader()
            writer.writerow({key: f"{value:.3f}" for key, value in rows.items()})
        return told("compare", folder / "lesson.feed", "--landings", table)

    near = measured(0.05)
    assert near.exit_code == 0, near.output
    assert "the same in 1 ball;" in near.output
    far = measured(5.0)
    assert far.exit_code == 1
    assert "landing" in far.output


def test_a_course_that_people_decide_is_compared_with_a_rehearsal_only(folder: Path) -> None:
    refused = told("compare", "thursday-juniors")
    assert refused.exit_code == 1
    assert "course-not-written" in refused.output
    assert "--against rehearsal" in refused.output


def test_tolerances_come_from_a_file_and_bad_ones_are_refused(folder: Path) -> None:
    path = folder / "strict.toml"
    path.write_text("landing_sigmas = 0\nlanding_m = 0.0\n")
    strict = told("compare", folder / "lesson.feed", "--tolerances", path)
    assert strict.exit_code == 1
    assert "landing" in strict.output
    for bad, mend in {
        "\ngab_s = 1\n": "did you mean `gap_s`",
        "\ngap_s = -1\n": "from 0 to 1e+06",
        "\ngap_s = 'a'\n": "a bare number",
        "\ngap_s =": "key = value",
    }.items():
        path.write_text(bad)
        (one,) = read_tolerances(path).diagnostics
        assert one.span is not None
        assert (one.span.line, mend in one.help) == (2, True), one
    path.write_bytes(b"\xff")
    refused = told("compare", folder / "lesson.feed", "--tolerances", path)
    assert (refused.exit_code, "bad-tolerances" in refused.output) == (1, True)


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("--lesson", "7"), 1, "journal"),
        (("-o", "parts.gif"), 2, ".svg"),
        (("--capture", "a", "--capture", "b"), 2, "1 launcher"),
        (("--capture", "no-such"), 3, "no capture"),
        (("--landings", "no-such"), 1, "no-such"),
        (("--fault", "no-such=1"), 3, "no-such"),
    ],
)
def test_what_is_not_there_is_told(
    folder: Path, words: tuple[str, ...], code: int, said: str
) -> None:
    journal = ("--journal", str(folder / "none.sqlite"))
    result = told("compare", folder / "lesson.feed", *words, *journal)
    assert (result.exit_code, said in result.output) == (code, True), result.output
