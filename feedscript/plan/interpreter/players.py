"""Players who are drawn, where nobody plays: how good each is, and what becomes of their shots.

The model is as plain as can be, and says nothing about real players: each has a skill, drawn evenly
from 0 to 1 and the same for a whole run. With that chance a shot is in court; of those in court the
same share is in the target, where there is one; the four errors are as likely as one another.
Design values, no source.
"""

from __future__ import annotations

from feedscript.plan.interpreter.chance import stream
from feedscript.plan.model import Result

_ERRORS = (Result.NET, Result.LONG, Result.LEFT, Result.RIGHT)


class DrawnPlayer:
    """One player under a seed; the same seed and words make the same shots."""

    def __init__(self, seed: int, *words: str | int) -> None:
        self._chance = stream(seed, "players", *words)
        self._aim = stream(seed, "players", "aim", *words)  # a target changes no other draw
        self.skill = self._chance.fraction()

    def shot(self, *, target: bool = False) -> Result:
        """What becomes of the next one; ``target``: whether there is one to hit."""
        if self._chance.fraction() >= self.skill:
            return _ERRORS[self._chance.below(len(_ERRORS))]
        hits = target and self._aim.fraction() < self.skill
        return Result.TARGET if hits else Result.IN
