"""The pages of the diagnostics that tuning gives rise to."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.launcher.tuning.landings_file import BAD_LANDINGS
from feedscript.launcher.tuning.write import NOT_WRITTEN

UNDER_DETERMINED = Page(
    slug="under-determined",
    title="The landings do not tell what was asked of them",
    why=(
        "A factor that the measured balls hardly move could take nearly any value and still fit "
        "them. Writing it down would look like knowledge. Balls at other speeds, elevations and "
        "spins tell the factors apart; the message names the most telling ones."
    ),
)

CANNOT_TUNE = Page(
    slug="cannot-tune",
    title="Tuning cannot begin",
    why=(
        "Tuning needs a profile, landings measured in air and with balls that are known, and a "
        "launcher that has a setting whose landing can be measured. What cannot be read is refused."
    ),
)

NEEDS_TUNE = Page(
    slug="needs-tune",
    title="A command that needs the extra `tune`",
    why="Fits are made with scipy, which not everybody wants to install; it comes with `tune`.",
)

MISTAKEN_LANDINGS = Page(
    slug="mistaken-landings",
    title="The landings look as if something was taken for something else",
    why=(
        "Columns or wheels exchanged, left taken for right, a tape that began a metre off: such "
        "landings still give numbers, and a profile made of them aims wrong. Each of these is "
        "undone by way of trial; where that makes the landings fit far better, it is named and no "
        "profile is written. Where the landings are right after all, --as-measured believes them."
    ),
)

MODEL_MISSES = Page(
    slug="model-misses",
    title="No factor explains where the balls landed",
    why=(
        "Balls of one setting agree with one another but not with the best profile, by more than "
        "half a metre. Written down as scatter that would make a launcher look wild which is only "
        "misunderstood; left out, the checker would believe aims that are off. A wheel measured "
        "wrong, another ball or another height of the mouth does this. --as-measured writes the "
        "profile all the same."
    ),
)

PAGES = (
    BAD_LANDINGS,
    NOT_WRITTEN,
    UNDER_DETERMINED,
    CANNOT_TUNE,
    NEEDS_TUNE,
    MISTAKEN_LANDINGS,
    MODEL_MISSES,
)
