"""A lesson lived through again: its captures played back to the present driver, at their own pace.

The lesson runs through engine and driver as it does on court; the far end is the capture. Whoever
decides otherwise than then, is told where. People are played as in a rehearsal.
"""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path

import msgspec

from feedscript.launcher.profile.model import Profile
from feedscript.launcher.tools import tool
from feedscript.launcher.trials.trial import Trial
from feedscript.plan.model import Plan
from feedscript.session.rehearsal.rehearse import rehearse
from feedscript.session.rehearsal.tried import Tried


class Parted(msgspec.Struct, frozen=True, kw_only=True):
    """The first decision that is not the one of then: its number, from 1, and its moment."""

    launcher: int
    decision: int
    at_s: float  # since the link was opened
    then: str
    now: str
    undecided: str = ""  # why that says nothing of the host; empty where it does


def relive(
    plan: Plan,
    profiles: Sequence[Profile],
    source: str,
    captures: Sequence[Path],
    trials: tuple[Trial, ...] = (),
) -> tuple[Parted, ...]:
    """Where each launcher's host decides otherwise than in its capture; nothing where it does not.

    ``trials``: named faults that are the coach's or players', as they were in the capture. Raises
    LauncherError for a file that is no capture, and FeedscriptError (the journal).
    """
    found = []
    with tempfile.TemporaryDirectory() as folder:
        now = Path(folder) / "now.capture"
        tried = Tried(trials, capture=now, replays=tuple(captures))
        rehearse(plan, profiles, source, tried=tried)
        for launcher, then in enumerate(captures):
            number = f"-{launcher + 1}" if launcher else ""
            parting = tool("first-parting")(
                then, now.with_stem(f"{now.stem}{number}"), hands_known=bool(trials)
            )
            if parting is not None:
                found.append(
                    Parted(
                        launcher=launcher,
                        decision=parting.number,
                        at_s=parting.at_s,
                        then=parting.then,
                        now=parting.now,
                        undecided=parting.undecided,
                    )
                )
    return tuple(found)
