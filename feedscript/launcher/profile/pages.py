"""The pages of the diagnostics that reading a profile gives rise to.

Their examples are lines of a profile, not whole programs.
"""

from __future__ import annotations

from feedscript.diagnostics import Page, Severity

PROFILE_UNREADABLE = Page(
    slug="profile-unreadable",
    title="A launcher profile that cannot be opened",
    why="""Without its profile nothing is known of the launcher, and nothing is assumed: the file
must be there, readable, text in UTF-8, and smaller than a megabyte.""",
)

PROFILE_SYNTAX = Page(
    slug="profile-syntax",
    title="A launcher profile that is not TOML",
    why="""A profile is a TOML file (TOML 1.0): tables in square brackets, `key = value` lines,
text in double quotes, `#` before a comment. The reader stops at the first place that is none of
these.""",
    wrong="mouth_height_m 0.95",
    corrected="mouth_height_m = 0.95",
)

PROFILE_UNKNOWN_KEY = Page(
    slug="profile-unknown-key",
    title="A key that a profile does not have",
    why="""A key that nobody reads is nearly always a misspelt one, and then the real one is
missing or keeps another value. Each key carries its unit in its name (`speed_mps`, `gap_m`), so a
key with another unit is unknown too.""",
    wrong="wheel_diameter_mm = 200",
    corrected="wheel_diameter_m = 0.200",
)

PROFILE_MISSING_KEY = Page(
    slug="profile-missing-key",
    title="A key that a profile must have",
    why="""Every limit of the launcher must be stated. A limit that is not written down is unknown,
and an unknown limit is never taken to mean that there is none.""",
    wrong="# least_interval_s = 1.8",
    corrected="least_interval_s = 1.8",
)

PROFILE_WRONG_TYPE = Page(
    slug="profile-wrong-type",
    title="A value of the wrong kind",
    why="""Numbers are written bare (`0.95`), ranges as two numbers (`[8.0, 34.0]`), words in
double quotes, yes and no as `true` and `false`. The unit is in the key's name, never in the
value.""",
    wrong='mouth_height_m = "0.95 m"',
    corrected="mouth_height_m = 0.95",
)

PROFILE_IMPLAUSIBLE = Page(
    slug="profile-implausible",
    title="A number that no such launcher has",
    why="""The reader holds every number against wide bounds of our own (common sense, no source)
that catch a wrong unit: kilometres an hour written as metres a second, millimetres as metres. A
watchdog time above two seconds is refused here too: a launcher that goes on feeding for longer
after its host fell silent is not one that people should stand in front of.""",
    wrong="speed_mps = [29.0, 119.0]    # these are kilometres an hour",
    corrected="speed_mps = [8.0, 33.0]",
)

PROFILE_RANGE_ORDER = Page(
    slug="profile-range-order",
    title="A range whose ends are the wrong way round",
    why="""A range is written with the least first and the most second. The wrong way round it
allows nothing, or was meant differently; neither is guessed.""",
    wrong="spin_rpm = [3000.0, -2500.0]",
    corrected="spin_rpm = [-2500.0, 3000.0]",
)

PROFILE_CONTRADICTION = Page(
    slug="profile-contradiction",
    title="A profile that promises what its drive cannot give",
    why="""The limits allow a speed or a spin that the drive, at the edges of its own range, does
not reach. Feeds there are refused one by one; the profile is better fixed once.""",
    severity=Severity.WARNING,
    wrong="speed_mps = [8.0, 45.0]",
    corrected="speed_mps = [8.0, 33.0]",
)

PAGES = (
    PROFILE_UNREADABLE,
    PROFILE_SYNTAX,
    PROFILE_UNKNOWN_KEY,
    PROFILE_MISSING_KEY,
    PROFILE_WRONG_TYPE,
    PROFILE_IMPLAUSIBLE,
    PROFILE_RANGE_ORDER,
    PROFILE_CONTRADICTION,
)
