"""The pages of the diagnostics that reading a video gives rise to."""

from __future__ import annotations

from feedscript.diagnostics import Page, Severity

NEEDS_VIDEO = Page(
    slug="needs-video",
    title="A command that needs the extra `video`",
    why="Videos are read with PyAV and OpenCV, which are large; both come with the extra `video`.",
)

VIDEO_UNUSABLE = Page(
    slug="video-unusable",
    title="The video cannot be read",
    why=(
        "A video must be one whole file with moving pictures, as a phone or a camera saves it. "
        "A file that was cut before the camera had finished it has no table of its pictures, and "
        "nothing can be read without one. Lists that name other files or addresses are not opened: "
        "only the file itself is read."
    ),
)

VIDEO_DAMAGED = Page(
    slug="video-damaged",
    title="Parts of the video cannot be read",
    why=(
        "Pictures that were damaged on the way or on the card are left out, and so is what comes "
        "after the end of a file that was cut. What is read keeps its right times; balls in "
        "the missing parts are not seen."
    ),
    severity=Severity.WARNING,
)

NO_SOUND = Page(
    slug="video-silent",
    title="The video has no sound",
    why=(
        "Balls and the launcher's tone are heard in a video's sound. Some cameras save none at "
        "high rates; then pictures and lesson are brought together in another way."
    ),
)

STOPPED = Page(
    slug="watch-stopped",
    title="Looking over a film was stopped",
    why=(
        "Each ball is kept beside the output as soon as it is done, in numbers only. The same "
        "command goes on from there, and ends with the same output as one that was never stopped. "
        "If the film, the lesson or the court that was found has changed, it begins anew."
    ),
)

PAGES = (NEEDS_VIDEO, VIDEO_UNUSABLE, VIDEO_DAMAGED, NO_SOUND, STOPPED)
