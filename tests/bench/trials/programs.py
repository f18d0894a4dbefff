"""A short invented lesson, and trials of it."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import msgspec

from feedscript.bench.trials.hold_trials import Asked, Held, hold
from feedscript.bench.trials.read_trials import read_trials
from feedscript.check.check_program import Verdict, check_program
from feedscript.launcher.trials.trial import Trial

LESSON = """feedscript 1
court { surface hard }
balls { type 2 }
launcher { profile "garage"  stands on baseline, on centre line }
group { players "Ash", "Bo" }
feed deep { land 2 m inside baseline, on centre line  speed 80 km/h }
feed wide { land 2.5 m inside baseline, 2 m ad of centre line  speed 75 km/h }
lesson {
    show speed of deep
    for each player { repeat 4 { send deep after 5 s  send wide after 6 s }  rest 8 s }
    collect
    repeat 3 { send wide after 5 s }
}
"""


@lru_cache(maxsize=1)
def checked() -> Verdict:
    verdict = check_program(Path("lesson.feed"), text=LESSON)
    assert verdict.plan is not None, verdict.diagnostics
    return verdict


@lru_cache(maxsize=1)
def shipped() -> dict[str, Trial]:
    return {trial.name: trial for trial in read_trials(None)}


def trial(**keys: object) -> Trial:
    """One that is written as in a file."""
    return msgspec.convert({"name": "it", "expect": ["nothing twice"], **keys}, Trial)


def held(one: Trial) -> Held:
    asked = Asked(trials=(one,), balls_after=5)
    return hold(Path("lesson.feed"), checked(), one, asked)
