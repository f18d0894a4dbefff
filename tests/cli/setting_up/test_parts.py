"""``feedscript parts``: what a builder is told, and what is wrong with what he wrote."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from feedscript.building.build_file import example_file
from feedscript.cli import verbs


def run(*words: str) -> Result:
    return CliRunner().invoke(verbs, ["parts", *words])


def test_the_example_is_rated_in_words() -> None:
    done = run()
    assert done.exit_code == 0
    assert "take: fuse of 30 A" in done.output
    assert "CAUTION: the felt gives 0.6" in done.output
    assert "a qualified person stand above them" in done.output


def test_own_numbers_and_drawings(tmp_path: Path) -> None:
    text = example_file().read_text("utf-8").replace("wheel_mass_kg = 0.8", "wheel_mass_kg = 1.6")
    (tmp_path / "build.toml").write_text(text, "utf-8")
    done = run(str(tmp_path / "build.toml"), "-o", str(tmp_path / "out"), "--format", "json")
    assert done.exit_code == 0
    told = json.loads(done.output)
    inertia = next(row for row in told["ratings"] if row["unit"] == "kg m²")
    assert inertia["figure"] == pytest.approx(0.6 * 1.6 * 0.1**2)
    assert told["drawings"] == sorted(file.name for file in (tmp_path / "out").iterdir())
    assert "guard.svg" in told["drawings"]


@pytest.mark.parametrize(
    ("words", "code", "slug"),
    [
        (("missing.toml",), 1, "build-file"),
        (("--launcher", "air-barrel"), 1, "parts-unrated"),
        (("--launcher", "nowhere.toml"), 1, "profile-unreadable"),
    ],
)
def test_what_cannot_be_rated_is_told(words: tuple[str, ...], code: int, slug: str) -> None:
    done = run(*words, "--format", "json")
    assert done.exit_code == code
    assert [one["slug"] for one in json.loads(done.output)["diagnostics"]] == [slug]


def test_a_folder_that_cannot_be_written_is_wrong_usage(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way", "utf-8")
    assert run("-o", str(tmp_path / "file" / "out")).exit_code == 2
