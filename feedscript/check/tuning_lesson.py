"""The balls that tuning wants to see, as a lesson that passes the check.

A launcher's most telling settings are chosen among those that may be sent over this court: each is
written as a feed, and what breaks a rule is no candidate. The lesson that comes out is a program
like any other: checked, certified, set up, armed and stopped as such. Nobody receives; the rules
are those for a group all the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import msgspec

from feedscript.check.check_program import Options, Verdict, check_program
from feedscript.diagnostics import Diagnostic
from feedscript.flight.motion.conditions import Conditions
from feedscript.launcher.kinematics import natural_spin
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.setting import Setting
from feedscript.launcher.throw import Throw
from feedscript.launcher.tuning.design import Design, Proposal, design, measurable, to_the_side
from feedscript.launcher.tuning.pages import CANNOT_TUNE
from feedscript.launcher.tuning.shots import Tape, predicted, throws

SETTINGS, BALLS = 8, 3
#: Balls that may be sent of one setting: those that are wanted, and some anew.
MOST_BALLS = 6
#: The launcher stands 1 m behind the centre mark, its baseline 11.885 m from the net (ITF, Rules
#: of Tennis, rule 1), and faces straight over the net.
STANDS, STANDS_Y_M = "1 m behind centre mark", -12.885
#: Where a ball may be asked to land: past the net and within the singles court.
_LEAST_Y_M, _MOST_Y_M, _MOST_X_M = 1.0, 11.885, 4.115
_FINER = 2
_FEWEST, _TRIES = 3, 6
#: Between two balls: time to see where one landed. Design value.
_GAP_S = 6
#: Between two settings: the guide of the rule against long series.
_REST_S = 10
_AT_THE_END = "Is every landing marked?"


class TuningLesson(msgspec.Struct, frozen=True, kw_only=True):
    """The lesson's text and verdict, and what its balls should tell."""

    text: str
    design: Design
    verdict: Verdict


class _Ball(msgspec.Struct, frozen=True):
    """One setting as a feed, on a line of its own."""

    setting: Setting
    name: str
    line: str


def title_of(profile: Profile) -> str:
    """The title by which the lesson is found again in the journal."""
    return f"Tuning of {profile.name}".replace('"', "'")


def tuning_lesson(
    path: Path,
    profile: Profile,
    base: Conditions,
    tape: Tape,
    *,
    items: Sequence[str] = (),
    held: Sequence[str] = (),
) -> TuningLesson | Diagnostic:
    """The lesson for the profile at ``path``; ``items`` are the program's lines on court and balls,
    and ``base`` is what they say."""
    able = _able(path, profile, base, items)
    for _ in range(_TRIES):
        found = design(profile, base, tape, settings=SETTINGS, balls=BALLS, held=held, among=able)
        if found is None or len(found.proposals) < _FEWEST:
            break
        fastest_first = sorted(found.proposals, key=lambda one: -one.throw.speed_mps)
        balls = _balls(profile, [one.setting for one in fastest_first], base)
        text = _text(profile, items, balls, _steps(profile, balls))
        verdict = check_program(path, Options(launcher=path), text=text)
        refused = {one.setting for one in _refused(verdict, text, balls)}
        if verdict.ok or not refused:
            return TuningLesson(text=text, design=found, verdict=verdict)
        able = [one for one in able if not {*_both(profile, one.setting)} & refused]
    return CANNOT_TUNE.report(
        f"fewer than {_FEWEST} settings of this launcher may be sent over a court by the rules",
        help="measure by hand: feedscript tune PROFILE --propose, and feedscript jog",
        device=profile.name,
    )


def _able(path: Path, profile: Profile, base: Conditions, items: Sequence[str]) -> list[Proposal]:
    """The settings that pass every rule that looks at a ball alone, straight on and to the side."""
    wide = measurable(profile, base, _FINER)
    settings = [setting for one in wide for setting in _both(profile, one.setting)]
    balls = _balls(profile, settings, base)
    text = _text(profile, items, balls, [f"show speed of {one.name}" for one in balls])
    verdict = check_program(path, Options(launcher=path), text=text)
    left = {one.setting for one in balls}
    left -= {one.setting for one in _refused(verdict, text, balls)}
    return [one for one in wide if left >= {*_both(profile, one.setting)}]


def _both(profile: Profile, setting: Setting) -> tuple[Setting, Setting]:
    return setting, to_the_side(profile, setting)


def _balls(profile: Profile, settings: Sequence[Setting], base: Conditions) -> list[_Ball]:
    """Each setting whose ball lands where a feed may, as a feed that asks for that ball."""
    balls: list[_Ball] = []
    landings = predicted(profile, settings, base)
    for setting, throw, seen in zip(settings, throws(profile, settings), landings, strict=True):
        x_m, y_m = float(seen[1]), STANDS_Y_M + float(seen[0])
        if abs(x_m) <= _MOST_X_M and _LEAST_Y_M <= y_m <= _MOST_Y_M:
            name = f"setting_{len(balls) + 1}"
            line = (
                f"feed {name} {{ land at {x_m:.3f} m, {y_m:.3f} m  "
                f"speed {throw.speed_mps:.3f} m/s{_spin(profile, throw)} }}"
            )
            balls.append(_Ball(setting, name, line))
    return balls


def _spin(profile: Profile, throw: Throw) -> str:
    """Nothing for a launcher whose spin comes by itself."""
    if natural_spin(profile.drive, throw.speed_mps) is not None:
        return ""
    way = "top" if throw.top_rpm >= 0 else "back"
    return f"  spin {way} {abs(throw.top_rpm):.1f} rpm"


def _steps(profile: Profile, balls: Sequence[_Ball]) -> list[str]:
    """The fastest is shown first; a collect wherever the hopper may be empty; at the end time to
    mark what is not marked yet."""
    steps = [f"show speed of {balls[0].name}"]
    left = profile.limits.hopper_balls - 1
    for number, ball in enumerate(balls):
        most = min(MOST_BALLS, profile.limits.hopper_balls)
        if left < most:
            steps.append("collect")
            left = profile.limits.hopper_balls
        elif number:
            steps.append(f"rest {_REST_S} s")
        steps.append(f"send {ball.name} when coach taps, at most {most}, not before {_GAP_S} s")
        left -= most
    return [*steps, f'wait for coach "{_AT_THE_END}"']


def _text(
    profile: Profile, items: Sequence[str], balls: Sequence[_Ball], steps: Sequence[str]
) -> str:
    lines = [
        "feedscript 1",
        f'title "{title_of(profile)}"',
        *items,
        f"launcher {{ stands {STANDS}  load {profile.limits.hopper_balls} }}",
        *(one.line for one in balls),
        "lesson {",
        *(f"    {step}" for step in steps),
        "}",
    ]
    return "\n".join(lines) + "\n"


def _refused(verdict: Verdict, text: str, balls: Sequence[_Ball]) -> list[_Ball]:
    """The balls on whose line an error stands."""
    at = {line: number for number, line in enumerate(text.splitlines(), start=1)}
    wrong = {one.span.line for one in verdict.diagnostics if one.is_error and one.span is not None}
    return [one for one in balls if at[one.line] in wrong]
