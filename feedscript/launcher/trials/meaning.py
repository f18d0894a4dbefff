"""Which faults there are, what each needs, and whether one that was written means something."""

from __future__ import annotations

import msgspec

from feedscript.launcher.faults import KINDS
from feedscript.launcher.port import LauncherState
from feedscript.launcher.trials.trial import Trial, What, Where


class Facts(msgspec.Struct, frozen=True):
    """What belongs to one kind of fault: where it lies, keys it must have, keys it may have.

    ``begins``: it is there from the beginning, and has no moment.
    """

    where: Where
    needs: tuple[str, ...] = ()
    may: tuple[str, ...] = ()
    begins: bool = False


#: What a launcher may find wrong with itself while it runs; the others are told of a start.
FOUND = tuple(sorted(KINDS - {"reset", "brown-out", "watchdog"}))

_LINES = ("word", "times")

#: Every fault there is.
FACTS: dict[What, Facts] = {
    What.JAM: Facts(Where.LAUNCHER),
    What.UNSEEN: Facts(Where.LAUNCHER),
    What.LATE_BALL: Facts(Where.LAUNCHER, ("by_s",)),
    What.TWO_AT_ONCE: Facts(Where.LAUNCHER),
    What.OFF_SPEED: Facts(Where.LAUNCHER, ("share",)),
    What.RUNS_EMPTY: Facts(Where.LAUNCHER),
    What.POWER_CUT: Facts(Where.LAUNCHER, ("lasts_s",)),
    What.FINDS: Facts(Where.LAUNCHER, ("kind",)),
    What.CLOCK_OFF: Facts(Where.LAUNCHER, ("ppm",), begins=True),
    What.DEAD: Facts(Where.LINK, (), ("lasts_s", "way")),
    What.LOST: Facts(Where.LINK, ("of",), _LINES),
    What.DOUBLED: Facts(Where.LINK, ("of",), _LINES),
    What.LATE: Facts(Where.LINK, ("of", "by_s"), _LINES),
    What.SPOILT: Facts(Where.LINK, ("of",), _LINES),
    What.EMERGENCY_STOP: Facts(Where.PERSON, (), ("lasts_s",)),
    What.SWITCH_OFF: Facts(Where.PERSON),
    What.ARMS_LATE: Facts(Where.PERSON, ("by_s",), begins=True),
    What.NEVER_ARMS: Facts(Where.PERSON, begins=True),
    What.FILLS_FEW: Facts(Where.PERSON, ("balls",), begins=True),
    What.COMES_LATE: Facts(Where.PERSON),
    What.HOLDS: Facts(Where.PERSON),
    What.STOPS: Facts(Where.PERSON),
    What.STOPS_AT_ONCE: Facts(Where.PERSON, (), ("lasts_s",)),
}

#: What befalls a ball itself: its moment is the next ball's, or that of the ball it names.
BEFALLS_A_BALL = (What.JAM, What.UNSEEN, What.LATE_BALL, What.TWO_AT_ONCE, What.OFF_SPEED)
#: What coach and players do, and no launcher hears of but by the link.
BY_THE_COURT = (What.COMES_LATE, What.HOLDS, What.STOPS, What.STOPS_AT_ONCE)

#: The launcher looks for a jam 1.5 s after the gate opened (``shared/protocol.md``): a ball that
#: is later than that is one that nobody asked for.
LATEST_BALL_S = 1.2

#: The keys that say when.
MOMENTS = ("ball", "at_s", "state")
#: The keys that say more of some faults.
DETAILS = ("by_s", "lasts_s", "share", "ppm", "balls", "kind", "of", "word", "times", "way")


def amiss(trial: Trial) -> str:
    """What keeps a trial from meaning something, in words; "" where nothing does."""
    facts = FACTS[trial.what]
    said = {key for key in (*MOMENTS, *DETAILS) if getattr(trial, key) is not None}
    when = said & set(MOMENTS)
    if trial.where is not facts.where:
        return f"{trial.what.value!r} befalls the {facts.where.value}, not the {trial.where.value}"
    if missing := [key for key in facts.needs if key not in said]:
        return f"{trial.what.value!r} needs {' and '.join(missing)}"
    if idle := sorted(said - when - set(facts.needs) - set(facts.may)):
        return f"{' and '.join(idle)} means nothing for {trial.what.value!r}"
    if facts.begins:
        return f"{trial.what.value!r} is there from the beginning: no {min(when)}" if when else ""
    if len(when) != 1:
        return f"say once when: one of {', '.join(MOMENTS)}"
    if trial.state is not None and trial.state not in tuple(LauncherState):
        return f"{trial.state!r} is no state: it is one of {', '.join(LauncherState)}"
    if trial.kind is not None and trial.kind not in FOUND:
        return f"{trial.kind!r} is nothing that a launcher finds: one of {', '.join(FOUND)}"
    if trial.what is What.LATE_BALL and (trial.by_s or 0.0) > LATEST_BALL_S:
        return f"a ball may be {LATEST_BALL_S:g} s late at most: after that it is a jam"
    if trial.what in BY_THE_COURT and trial.ball is None:
        return f"{trial.what.value!r} comes after a ball: say which"
    return ""
