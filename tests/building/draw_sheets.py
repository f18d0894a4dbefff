"""The guide's drawings and its table of ratings, of the garage launcher.

``python -m tests.building.draw_sheets`` makes them anew.
"""

from __future__ import annotations

from feedscript.building.build_file import Build, example_file, read_build
from feedscript.building.parts import rated
from feedscript.building.sheets import sheets
from feedscript.diagnostics import Diagnostic
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.shipped import shipped_profiles
from tests.conftest import ROOT

FOLDER = ROOT / "drivers" / "building"


BEGIN = "<!-- ratings: python -m tests.building.draw_sheets -->\n"
END = "<!-- end of ratings -->\n"


def garage() -> tuple[Profile, Build]:
    profile = read_profile(shipped_profiles()["garage.toml"]).profile
    build = read_build(example_file()).value
    assert profile is not None
    assert build is not None
    return profile, build


def drawn() -> dict[str, str]:
    return sheets(*garage())


def table() -> str:
    """What is to be bought, a row each."""
    ratings = rated(*garage())
    assert not isinstance(ratings, Diagnostic)
    rows = [
        f"| {row.part} | {row.what}: {row.shown} | {row.choose} |\n"
        for row in ratings
        if row.choose
    ]
    head = "\n| part | must bear | take |\n|---|---|---|\n"
    return head + "".join([*rows, "\n"])


def with_table(page: str) -> str:
    before, _, rest = page.partition(BEGIN)
    return before + BEGIN + table() + END + rest.partition(END)[2]


def main() -> None:
    for name, svg in drawn().items():
        (FOLDER / name).write_text(svg, "utf-8")
    page = FOLDER / "README.md"
    page.write_text(with_table(page.read_text("utf-8")), "utf-8")


if __name__ == "__main__":
    main()
