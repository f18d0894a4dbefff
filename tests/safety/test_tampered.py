"""A certified plan in which one field was changed is refused, whoever seals it again."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import msgspec
import pytest

from feedscript.launcher.profile.model import Profile
from feedscript.plan.canonical import body_hash
from feedscript.plan.certificate import Waiver
from feedscript.plan.model import Collect, Plan, Repeat, Send, ShowSpeed
from feedscript.plan.scene import Area
from feedscript.safety.certificate import covers, verify
from feedscript.safety.certify import certify, court_hash, seal_of
from tests.safety.plan_cases import bench
from tests.safety.scenes import PROFILE, Wish, launcher, scene

Edit = Callable[[dict[str, Any]], None]


def certified() -> Plan:
    steps = (
        ShowSpeed(feed=1, line=9),
        Send(feeds=(0,), after_s=(6.0, 6.0), line=10),
        Repeat(times=4, body=(Send(feeds=(1,), after_s=(5.0, 5.0), line=12),), line=11),
        Collect(line=13),
    )
    plan = scene(
        Wish(),
        Wish("wide", (-2.0, 9.5), speed_mps=23.0),
        steps=steps,
        launchers=(launcher(load=10),),
        keep_outs=(bench(4.0, y_m=12.0),),
        waivers=(),
    )
    trial = certify(plan, (PROFILE,))
    assert trial.plan is not None, [one.message for one in trial.diagnostics]
    return trial.plan


def at(*path: str | int) -> Callable[[Any], Edit]:
    """An edit that puts a value, or what a function makes of the old one, at a path."""

    def put(value: Any) -> Edit:
        def edit(plain: dict[str, Any]) -> None:
            *way, last = path
            where: Any = plain
            for key in way:
                where = where[key]
            where[last] = value(where[last]) if callable(value) else value

        return edit

    return put


def more(amount: float) -> Callable[[float], float]:
    return lambda old: old + amount


EDITS: dict[str, Edit] = {
    "title": at("title")("Another lesson"),
    "program hash": at("program_hash")("1" * 64),
    "seed": at("seed")(2),
    "club's text": at("from_club")([{"name": "deep", "sha256": "0" * 64}]),
    "flight model": at("flight_model")("vacuum/1"),
    "version": at("version")(2),
    "court lines": at("court", "kind")("doubles"),
    "surface": at("court", "surface")("clay"),
    "altitude": at("court", "altitude_m")(2000.0),
    "air": at("court", "air_c")(35.0),
    "wind": at("court", "wind_mps")([0.0, 4.0]),
    "roof": at("court", "roof_m")(6.0),
    "ball kind": at("balls", "kind")("stage red"),
    "ball wear": at("balls", "wear")(0.9),
    "group level": at("group", "level")("touring"),
    "left-hander": at("group", "players", 0, "left_handed")(True),
    "launcher's place": at("launchers", 0, "mouth_m")([0.5, -12.0, 0.95]),
    "launcher's height": at("launchers", 0, "mouth_m")([0.0, -12.0, 1.4]),
    "launcher's heading": at("launchers", 0, "heading_deg")(4.0),
    "launcher's profile": at("launchers", 0, "profile_hash")("0" * 64),
    "load": at("launchers", 0, "load")(60),
    "keep-out gone": at("keep_outs")([]),
    "keep-out's height": at("keep_outs", 0, "height_m")(0.2),
    "keep-out's name": at("keep_outs", 0, "name")("nothing"),
    "feed's landing": at("feeds", 0, "landing_m")([1.0, 11.0]),
    "feed's speed": at("feeds", 0, "speed_mps")(more(3.0)),
    "feed's spin": at("feeds", 0, "top_rpm")(0.0),
    "feed's elevation": at("feeds", 0, "elevation_deg")(more(-2.0)),
    "feed's azimuth": at("feeds", 0, "azimuth_deg")(more(3.0)),
    "feed's wheels": at("feeds", 0, "setting", "drives")([2900.0, 2900.0]),
    "feed's tilt": at("feeds", 0, "setting", "tilt_deg")(more(1.0)),
    "feed's pan": at("feeds", 0, "setting", "pan_deg")(more(-5.0)),
    "feed's clearance": at("feeds", 0, "net_clearance_m")(3.0),
    "feed's scatter": at("feeds", 0, "scatter", "major_m")(0.01),
    "feed's receiver": at("feeds", 0, "receiver_m")([0.0, 12.0]),
    "shown feed": at("steps", 0, "feed")(0),
    "sent feed": at("steps", 1, "feeds")([1]),
    "gap": at("steps", 1, "after_s")([1.0, 1.0]),
    "repeats": at("steps", 2, "times")(40),
    "collect gone": at("steps")(lambda steps: steps[:-1]),
    "shown ball gone": at("steps")(lambda steps: steps[1:]),
    "bounds on balls": at("bounds", "balls")([1, 100]),
    "bounds on time": at("bounds", "time_s")([0.0, 5.0]),
    "fastest ball": at("bounds", "fastest_mps")(40.0),
    "rules' version": at("certificate", "rules_version")("0"),
    "certificate's body": at("certificate", "body")("0" * 64),
    "certificate's profile": at("certificate", "profile_hashes")(["0" * 64]),
    "certificate's court": at("certificate", "court_hash")("0" * 64),
    "certificate's sigma": at("certificate", "sigma")(2.0),
    "certificate's margin": at("certificate", "clauses", 15, "margin")(9.0),
    "certificate's standing": at("certificate", "clauses", 15, "standing")("waived"),
    "certificate's set-up list": at("certificate", "set_up")([]),
    "certificate's seal": at("certificate", "seal")("0" * 64),
    "certificate gone": at("certificate")(None),
}
assert len(EDITS) >= 30

#: Edits that leave nothing which the rules could see: only the seal stands against them.
HARMLESS = {"title", "program hash", "seed", "club's text", "left-hander", "collect gone"}


def edited(name: str) -> Plan:
    plain = copy.deepcopy(msgspec.to_builtins(certified()))
    EDITS[name](plain)
    return msgspec.convert(plain, Plan)


@pytest.mark.parametrize("name", EDITS)
def test_plan_with_one_field_changed_is_refused(name: str) -> None:
    assert verify(edited(name), (PROFILE,)) != ()


def sealed_again(plan: Plan) -> Plan:
    """What somebody who knows how to seal would do."""
    old = plan.certificate
    assert old is not None
    new = msgspec.structs.replace(
        old,
        body=body_hash(plan),
        court_hash=court_hash(plan),
        program_hash=plan.program_hash,
        profile_hashes=tuple(one.profile_hash for one in plan.launchers),
        seal="",
    )
    return msgspec.structs.replace(
        plan, certificate=msgspec.structs.replace(new, seal=seal_of(new))
    )


@pytest.mark.parametrize("name", sorted(EDITS.keys() - HARMLESS - {"certificate gone"}))
def test_sealing_it_again_does_not_help(name: str) -> None:
    plan = edited(name)
    if name in ("certificate's body", "certificate's court", "certificate's profile"):
        plan = edited("gap")
    if name == "certificate's seal":
        plan = edited("certificate's margin")
    assert verify(sealed_again(plan), (PROFILE,)) != ()


@pytest.mark.parametrize("name", sorted(HARMLESS))
def test_what_the_rules_cannot_see_is_refused_by_the_seal_alone(name: str) -> None:
    assert verify(edited(name), (PROFILE,)) != ()
    assert verify(sealed_again(edited(name)), (PROFILE,)) == ()


def test_untouched_plan_may_run() -> None:
    assert verify(certified(), (PROFILE,)) == ()


def test_plan_for_another_profile_is_refused() -> None:
    other: Profile = msgspec.structs.replace(PROFILE, mouth_height_m=1.0)
    assert [one.slug for one in verify(certified(), (other,))] == ["other-profile"]
    assert [one.slug for one in verify(certified(), ())] == ["other-profile"]


def test_only_settings_of_certified_feeds_are_covered() -> None:
    plan = certified()
    setting = plan.feeds[0].setting
    assert covers(plan, 0, setting)
    assert not covers(plan, 1, setting)
    nudged = msgspec.structs.replace(setting, tilt_deg=setting.tilt_deg + 0.01)
    assert not covers(plan, 0, nudged)


def test_waiver_that_was_smuggled_in_is_refused() -> None:
    plan = certified()
    waiver = Waiver(rule="net-clearance", because="because I say so", line=1)
    smuggled = msgspec.structs.replace(plan, waivers=(waiver,))
    assert verify(smuggled, (PROFILE,)) != ()


def test_area_is_part_of_the_court() -> None:
    plan = certified()
    moved = Area(name="the bench", outline_m=((5, 0), (6, 0), (6, 1)), height_m=1.0, line=5)
    assert court_hash(plan) != court_hash(msgspec.structs.replace(plan, keep_outs=(moved,)))


#: Edits of the court, of what is declared to be on it, and of the certificate's word about both.
ON_COURT = {
    "court lines",
    "surface",
    "altitude",
    "air",
    "wind",
    "roof",
    "launcher's place",
    "launcher's height",
    "launcher's heading",
    "keep-out gone",
    "keep-out's height",
    "keep-out's name",
    "certificate's court",
}


@pytest.mark.parametrize("name", sorted(EDITS.keys() - {"certificate gone"}))
def test_another_court_is_named_as_such_and_nothing_else_is(name: str) -> None:
    """The court's own hash says so, beside the hash of the whole plan."""
    found = {one.slug for one in verify(edited(name), (PROFILE,))}
    assert ("other-court" in found) == (name in ON_COURT)
