"""Launchers with one wheel and with three, from one core: a lesson through engine and driver."""

from __future__ import annotations

from pathlib import Path

import pytest
from feedscript_drivers.wire.limits import stored_numbers

from feedscript.launcher.profile.model import Profile, profile_hash
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.session.operator.phases import Phase
from feedscript.shipped import shipped_folder
from tests.firmware.far_end import BUILD, FarEnd, make
from tests.firmware.plain_host import PlainHost
from tests.firmware.test_programs import conduct
from tests.firmware.virtual_link import BOARD_NUMBERS, in_virtual_time

GATE_MS = 66
#: No feed says a spin, so each launcher gives the one it has.
SEVEN = """feedscript 1
title "Seven balls"
court {{ surface hard }}
balls {{ type 2  load 30 }}
launcher {{ profile "launchers/{profile}.toml"  stands 1 m behind centre mark }}
group {{ 1 player  level club  receiver 1 m behind baseline, on centre line }}
feed straight {{ land 3 m inside baseline, on centre line  speed 85 km/h }}
feed to_ad {{ land 3 m inside baseline, 2 m to ad of centre line  apex 3 m }}
feed to_deuce {{ land 3 m inside baseline, 2 m to deuce of centre line  flight 1.4 s }}
lesson {{
    show speed of straight
    repeat 2 {{ send straight after 8 s  send to_ad after 8 s  send to_deuce after 8 s }}
}}
"""


def shipped(name: str) -> Profile:
    profile = read_profile(shipped_folder() / "launchers" / f"{name}.toml").profile
    assert profile is not None
    return profile


@pytest.fixture(scope="module")
def built(images: str) -> dict[int, Path]:
    make("build/launcher-wheels-1", "build/launcher-wheels-3")
    return {wheels: BUILD / f"launcher-wheels-{wheels}" for wheels in (1, 3)}


def set_up(profile: Profile, image: Path, memory: Path) -> None:
    numbers = {int(which): value for which, value in stored_numbers(profile).items()}
    with FarEnd("posix", built=image) as far, PlainHost(far) as host:
        host.configure({**numbers, **BOARD_NUMBERS, GATE_MS: 200}, profile_hash(profile))
        far.save(memory)


@pytest.mark.parametrize(("wheels", "name"), [(1, "single-wheel"), (3, "three-wheels")])
def test_a_lesson_on_a_launcher_with_another_number_of_wheels(
    wheels: int, name: str, built: dict[int, Path], tmp_path: Path
) -> None:
    profile, memory = shipped(name), tmp_path / "memory"
    set_up(profile, built[wheels], memory)
    with FarEnd("posix", built=built[wheels], memory=memory) as far:
        far.set("travel_s", profile.feeder.gate_lead_s)
        ending, balls = in_virtual_time(conduct, SEVEN.format(profile=name), far, profile)
        leaves = far.leaves()
    assert ending.phase is Phase.FINISHED
    left = [ball for ball in balls if ball["outcome"] == "left"]
    assert len(left) == len(leaves) == 7
    for leave in leaves:
        turning = [rpm > 300 for rpm in leave["rpm"]]
        assert turning == [w < wheels for w in range(3)], leave


@pytest.mark.parametrize(("wheels", "third"), [(1, False), (3, True)])
def test_it_says_what_it_has_and_refuses_what_it_lacks(
    wheels: int, third: bool, built: dict[int, Path], tmp_path: Path
) -> None:
    profile, memory = shipped({1: "single-wheel", 3: "three-wheels"}[wheels]), tmp_path / "memory"
    set_up(profile, built[wheels], memory)
    with FarEnd("posix", built=built[wheels], memory=memory) as far, PlainHost(far) as host:
        capabilities = int(host.must("HELLO 2 2")[3], 16)
        assert bool(capabilities & 0x080) is third
        host.open()
        host.arm("4000 4000 4000")
        driven = " ".join("1000" if w < wheels else "0" for w in range(3))
        assert host.command(f"PREP {driven} 0 1000 0") == "OK"
        host.run(3000)
        drives = [int(rpm) for rpm in host.must("STAT")[7:10]]
        assert [abs(rpm - 1000) < 60 for rpm in drives] == [w < wheels for w in range(3)]
        if not third:
            assert host.command("PREP 1000 1000 0 0 1000 0") == "NO 8 2"
