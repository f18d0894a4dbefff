"""The pages of the diagnostics that finding the camera gives rise to."""

from __future__ import annotations

from feedscript.diagnostics import Page, Severity

NO_COURT = Page(
    slug="no-court-seen",
    title="The court's lines are not found in the picture",
    why=(
        "Distances are measured by the court's own lines. At least two lines along the court and "
        "two across it must be seen, as white on ground that is darker, from a camera that stands "
        "higher than a person's waist. Where they are not found without help, a few points of the "
        "court, named and with their places in the picture, show where to begin."
    ),
)

UPSIDE_DOWN = Page(
    slug="upside-down",
    title="The film stands on its head",
    why=(
        "A camera that hung from a fence, or a phone that was turned while it began to film, saves "
        "pictures upside down and says nothing of it in the file. The court is looked for with the "
        "sky above."
    ),
)

COURT_UNSURE = Page(
    slug="court-unsure",
    title="The court could lie in the picture in more than one way",
    why=(
        "Lines of several courts on one ground, or too few lines of one, can be read in more than "
        "one way, each with other distances. None is chosen by chance."
    ),
)

WHICH_END = Page(
    slug="which-end",
    title="Which end of the court the camera stands at is not known",
    why=(
        "Both halves of a court look the same. Which of them is the receiver's must be said, or "
        "every ball would be looked for on the wrong side of the net."
    ),
)

GROUND_UNSURE = Page(
    slug="ground-unsure",
    title="Places on the ground are not known as surely as asked",
    why=(
        "How surely a pixel's place on the ground is known follows from where lines are seen and "
        "how sharply. A camera that stands low, or that sees one corner of the court only, cannot "
        "tell places far away from it. What was found is not used then, since every landing would "
        "have an error of its own and another that all share."
    ),
)

BAD_POINTS = Page(
    slug="bad-points",
    title="The file of points cannot be used",
    why=(
        "A file of points is TOML with one table, `points`: the name of a place on the court, and "
        "its pixel, across and down from the top left corner. Four points on the ground are the "
        "least, no three of them on one line; more of them, far apart, are better."
    ),
)

CAMERA_MOVED = Page(
    slug="camera-moved",
    title="The camera was moved while it filmed",
    why=(
        "The court's lines are no longer where they were, so from that moment on the camera's "
        "place is another one. It is measured anew there; where that cannot be done, balls of that "
        "time are not measured. A tripod that settles slowly is followed, and is no move."
    ),
    severity=Severity.WARNING,
)

PAGES = (NO_COURT, UPSIDE_DOWN, COURT_UNSURE, WHICH_END, GROUND_UNSURE, BAD_POINTS, CAMERA_MOVED)
