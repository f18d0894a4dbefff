"""A lesson as its journal has it, and a film of its balls as they really flew: not as asked."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import msgspec
import numpy as np

from feedscript.check.check_program import check_program
from feedscript.journal.store import BallIntent, BallOutcome, Journal, SessionStart, open_journal
from feedscript.launcher.port import Outcome
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.plan.canonical import canonical_bytes
from feedscript.plan.model import AimedFeed, Plan
from feedscript.shipped import shipped_folder
from tests.watch.scene.flying import Flight, Launch, drawn_ball, fly
from tests.watch.scene.practices import SCATTER, practice
from tests.watch.scene.recipe import Scene
from tests.watch.scene.recording import write
from tests.watch.scene.render import render

PROGRAM = """feedscript 1
court { surface hard }
balls { type 2  load 20 }
launcher { profile "garage"  stands on baseline, on centre line }
feed deep { land 2 m inside baseline, on centre line  speed 80 km/h }
feed wide { land 2.5 m inside baseline, 2 m ad of centre line  speed 75 km/h }
lesson { show speed of deep  send deep after 5 s  send wide after 5 s }
"""
#: The journal's time at the film's beginning.
UTC_S = 1_799_859_600.0
#: When balls leave, in the film: not at an even beat.
LEFT_S = (1.0, 4.2, 8.6, 11.5, 16.3)


def planned() -> tuple[Plan, Profile]:
    verdict = check_program(Path("lesson.feed"), text=PROGRAM)
    assert verdict.plan is not None, verdict.diagnostics
    profile = read_profile(shipped_folder() / "launchers" / "garage.toml").profile
    assert profile is not None
    return verdict.plan, profile


def write_journal(path: Path, plan: Plan, profile: Profile, left_s: Sequence[float]) -> None:
    """The lesson 1: its balls, of the feeds in turn, left when the film shows them leave."""
    journal = open_journal(path)
    number = journal.begin_session(
        SessionStart(
            token=1,
            begun_utc_s=UTC_S - 60,
            title="Filmed (invented)",
            source="lesson.feed",
            rehearsal=False,
            plan=canonical_bytes(plan),
            profiles=msgspec.json.encode((profile,)),
            group_json=msgspec.json.encode(plan.group).decode(),
        )
    )
    write_balls(journal, number, plan, left_s)
    journal.end_session(number, "finished", UTC_S + 60)
    journal.close()


def write_balls(journal: Journal, number: int, plan: Plan, left_s: Sequence[float]) -> None:
    """Balls of the plan's feeds in turn, each written down as one that left."""
    random = np.random.default_rng(3)
    for count, at_s in enumerate(left_s):
        index = count % len(plan.feeds)
        left_utc_s = UTC_S + at_s + float(random.normal(0, 0.01))
        journal.intend(
            number,
            BallIntent(
                feed_id=count + 1,
                ball_no=count + 1,
                launcher=0,
                feed=plan.feeds[index].name,
                feed_index=index,
                player=None,
                leave_at_device_s=at_s,
                intent_utc_s=left_utc_s - 2,
            ),
        )
        journal.settle(
            number,
            BallOutcome(
                feed_id=count + 1,
                outcome=Outcome.LEFT,
                outcome_utc_s=left_utc_s + 0.1,
                left_device_s=at_s,
                left_utc_s=left_utc_s,
            ),
        )


def flown(plan: Plan, left_s: Sequence[float], seed: int = 4) -> tuple[Flight, ...]:
    """Each ball as it really flies: strayed, another ball, other air than the model's."""
    random = np.random.default_rng(seed)
    return tuple(
        fly(_launch(plan, plan.feeds[count % len(plan.feeds)], at_s, random), drawn_ball(random))
        for count, at_s in enumerate(left_s)
    )


def _launch(plan: Plan, feed: AimedFeed, at_s: float, random: np.random.Generator) -> Launch:
    speed, up, turn, top, side = (0.6 * random.normal(0, SCATTER)).tolist()
    return Launch(
        at_s=at_s,
        place_m=plan.launchers[0].mouth_m,
        speed_mps=feed.speed_mps + speed,
        elevation_deg=feed.elevation_deg + up,
        azimuth_deg=feed.azimuth_deg + turn,
        top_rpm=feed.top_rpm + top,
        side_rpm=feed.side_rpm + side,
    )


def film(
    path: Path,
    flights: tuple[Flight, ...],
    length_s: float,
    *,
    with_sound: bool = True,
    **shooting: object,
) -> Scene:
    """Filmed from behind the receiver, at 60 pictures a second and (where nothing else is said)
    1280 by 720."""
    base = practice(2, balls=1, **shooting).scene
    scene = msgspec.structs.replace(base, flights=flights, duration_s=length_s, claps_s=())
    write(render(scene), path, with_sound=with_sound)
    return scene
