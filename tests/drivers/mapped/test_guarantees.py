"""What a described device does not promise: named, told before each lesson, bounded."""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import pytest
from feedscript_drivers.mapped.guarantees import ALWAYS, lost

from feedscript.check.check_program import Options, check_program
from feedscript.launcher import guarantees
from feedscript.launcher.profile.model import profile_hash
from feedscript.launcher.profile.read_profile import parse_profile
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.phases import Phase
from feedscript.shipped import shipped_folder
from tests.drivers.mapped.foreign_sessions import ForeignStream, foreign_lesson, wrongs
from tests.drivers.mapped.mappings import ROOT, text_of
from tests.drivers.mapped.test_foreign import FAST, SLOW
from tests.drivers.mapped.test_frames import mapping_of
from tests.session.rehearsing import GARAGE

STATED = json.loads((ROOT / "shared/guarantees.json").read_text("utf-8"))
NO_BALL = ('ball = "0B"', ""), ("watchdog_s", 'accepts_no_ball_told = "invented"\nwatchdog_s')
NO_STOP = (
    ('stop = "04 00"\nemergency = "04 FF"\n', ""),
    ('stop = "0604"\nemergency = "0604"\n', ""),
    ("watchdog_s", 'accepts_no_stop = "invented"\nwatchdog_s'),
)
NO_CHECK = (('[frame.check]\nkind = "crc8-autosar"\n', ""),)


def test_every_name_is_one_of_the_projects_and_has_words() -> None:
    assert set(guarantees.WITHOUT) == {*ALWAYS, *STATED["mapped"]}
    assert set(guarantees.WITHOUT) <= set(STATED["guarantees"])
    assert set(STATED["drivers"]["mapped"]) == set(ALWAYS)


@pytest.mark.parametrize(
    ("name", "changes", "lacking"),
    [
        ("crc-frames", (), ()),
        ("crc-frames", NO_BALL, ("ball-told",)),
        ("crc-frames", NO_STOP, ("stops",)),
        ("crc-frames", NO_CHECK, ("spoilt-noticed",)),
        ("numbered", (), ("watchdog",)),
        ("plain-words", (), ("watchdog", "spoilt-noticed")),
        ("by-radio", (), ("keyed-link",)),
    ],
)
def test_the_mapping_decides(name: str, changes, lacking: tuple[str, ...]) -> None:
    assert lost(mapping_of(name, *changes)) == (*ALWAYS, *lacking)


def test_a_device_that_promises_less_than_its_profile_says_is_refused() -> None:
    session, stream = foreign_lesson("numbered", [SLOW], [0], profile=GARAGE)
    assert session.ending.phase is Phase.BROKEN_OFF
    (refused,) = session.ending.diagnostics
    assert refused.slug == "lacks-more"
    assert f"lacks = {json.dumps(lost(mapping_of('numbered')))}" in refused.help
    assert stream.device.hardware.thrown == 0


def garage(lacks: str) -> str:
    text = (shipped_folder() / "launchers" / "garage.toml").read_text("utf-8")
    return text.replace("[guard]", f"[guard]\nlacks = {lacks}")


PROGRAM = """feedscript 1
title "On a described device (invented)"
court { surface hard }
balls { type 2  load 60 }
launcher { profile "device.toml"  stands 1 m behind centre mark }
feed deep { land 2 m inside baseline, on centre line  speed 80 km/h  spin top 600 rpm }
lesson { show speed of deep  send deep after 6 s }
"""


def test_it_stands_in_the_certificate_and_is_confirmed_before_each_lesson(tmp_path: Path) -> None:
    (tmp_path / "device.toml").write_text(garage('["watchdog", "ball-told"]'), "utf-8")
    program = tmp_path / "lesson.feed"
    program.write_text(PROGRAM, "utf-8")
    plan = check_program(program, Options()).plan
    assert plan is not None
    assert plan.certificate is not None
    assert (
        "the launcher does not promise watchdog, ball-told: people do what the set-up list says in "
        "its place" in plan.certificate.assumptions
    )
    words = {item.key: item.words for item in plan.certificate.set_up}["lacks-0"]
    assert words.startswith("The launcher promises less than others: It goes on when this computer")
    assert "a person says of each what became of it" in words


def test_a_profile_names_them_and_a_name_that_there_is_not_is_told() -> None:
    reading = parse_profile(garage('["watchdogs"]'), "garage.toml")
    assert reading.profile is None
    (wrong,) = reading.diagnostics
    assert 'did you mean "watchdog"?' in wrong.help
    whole = parse_profile(garage("[]"), "garage.toml").profile
    assert whole is not None
    assert profile_hash(whole) == profile_hash(GARAGE)
    less = parse_profile(garage('["watchdog"]'), "garage.toml").profile
    assert less is not None
    assert profile_hash(less) != profile_hash(GARAGE)


def changed(tmp_path: Path, changes) -> Path:
    text = text_of("crc-frames")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    file = tmp_path / "device.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_a_device_that_tells_no_ball_gives_single_balls(tmp_path: Path) -> None:
    """After each a person says what became of it, and arms it again."""
    heard: list[int] = []

    async def listen(_engine: Engine, stream: ForeignStream) -> None:
        obey = stream.device.obey

        def noted(payload: bytes, now_s: float) -> bytes:
            heard.append(payload[0])
            return obey(payload, now_s)

        stream.device.obey = noted

    file = changed(tmp_path, NO_BALL)
    session, _ = foreign_lesson("crc-frames", [SLOW, FAST], [1, 0], file=file, script=listen)
    assert session.ending.phase is Phase.FINISHED
    assert wrongs(session) == []
    assert [ball["outcome"] for ball in session.balls] == ["left"] * 3
    feeds = [place for place, word in enumerate(heard) if word == 3]
    assert len(feeds) == 3
    assert all(4 in heard[one:other] for one, other in itertools.pairwise(feeds))


def test_a_device_that_takes_no_stop_gives_one_ball_and_is_switched_off(tmp_path: Path) -> None:
    file = changed(tmp_path, NO_STOP)
    session, stream = foreign_lesson("crc-frames", [SLOW], [0, 0], file=file)
    assert session.ending.phase is Phase.BROKEN_OFF
    assert "a person switches it off now" in session.ending.cause
    assert len(stream.device.hardware.left) == 1
    assert wrongs(session) == []
