"""What is advised for a launcher, in words, with what to do."""

from __future__ import annotations

from feedscript.club.launchers.sheets import Advice, Sheet
from feedscript.tongues.text import Text, _

#: What was seen.
SEEN = {
    Advice.MEND: _("More has gone wrong lately than before, for as many balls."),
    Advice.TUNE: _("Its balls land to one side of their aims, under the profile that it has now."),
    Advice.LOOK_WORN: _("Its balls scatter more widely than its profile says."),
    Advice.ONE_PROFILE: _("Courts run it with different profiles."),
    Advice.MEASURE: _("Nobody has measured for long where its balls land."),
}
#: What to do about it.
_DO = {
    Advice.TUNE: _("Tune it anew, and add the tuned profile to the library:"),
    Advice.LOOK_WORN: _(
        "Power off, then look at wheels, belts and play in the head as its maker says, and at the "
        "balls. When nothing is loose or worn, tune it anew: the profile then tells the scatter."
    ),
    Advice.ONE_PROFILE: _(
        "Put the right one into the library and name it in programs as club/NAME.toml: then every "
        "court has the same."
    ),
    Advice.MEASURE: _(
        "Mark where eight balls or more land, and see whether the profile still fits:"
    ),
}
#: What to type for it, at the court's computer.
COMMANDS = {
    Advice.TUNE: "feedscript tune PROFILE.toml --run --on ADDRESS",
    Advice.MEASURE: "feedscript tune PROFILE.toml --landings FILE.csv --compare",
}


def to_do(advice: Advice, sheet: Sheet) -> Text:
    """In one launcher's case."""
    if advice is not Advice.MEND:
        return _DO[advice]
    return _(
        "Power off, then look it over as its maker says, first where the faults point: {faults}.",
        faults=faults(sheet),
    )


def faults(sheet: Sheet) -> str:
    """The kinds of faults, the most frequent first."""
    most = sorted(sheet.faults.items(), key=lambda one: (-one[1], one[0]))
    named = ", ".join(f"{kind} ({count})" for kind, count in most)
    return named or _("balls of which nobody knows whether they left")
