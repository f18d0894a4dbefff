"""Figures for a person are told in the units that are set; what machines read is not."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from feedscript.cli import verbs
from feedscript.shipped import shipped_programs
from feedscript.told_units import METRIC, SYSTEMS, told_units

#: Exact by definition: NIST SP 811 (2008), appendix B.8, international foot and mile.
KMH_PER_MPH, METRES_PER_FOOT = 1.609344, 0.3048
PROGRAM = str(shipped_programs()["thursday-juniors"])


def check(*words: str, **variables: str) -> Result:
    done = CliRunner(env=variables).invoke(verbs, ["check", PROGRAM, *words])
    assert told_units() == METRIC, "one command's units are not the next one's"
    return done


def rows(told: str, speed: str, length: str) -> list[tuple[float, ...]]:
    """What a check's table says of every feed: where it lands, how fast it is, how high over."""
    pattern = rf"([-+][\d.]+), ([\d.]+) {length} +(\d+) {speed} .* ([\d.]+) {length}"
    return [tuple(map(float, found)) for found in re.findall(pattern, told)]


def test_the_same_figures_are_told_in_other_units() -> None:
    metric = rows(check().stdout, "km/h", "m")
    imperial = rows(check("--units", "imperial").stdout, "mph", "ft")
    assert len(metric) == len(imperial) == 5
    for here, there in zip(metric, imperial, strict=True):
        for number, factor, rounded in (
            (0, METRES_PER_FOOT, 0.1),
            (1, METRES_PER_FOOT, 0.1),
            (2, KMH_PER_MPH, 1.0),
            (3, METRES_PER_FOOT, 0.1),
        ):
            off = there[number] * factor - here[number]
            assert abs(off) <= (rounded * factor + rounded * 0.1 + 0.9 * (number == 2)) / 2


def test_machines_are_told_the_same_whatever_is_set() -> None:
    told = [json.loads(check("--format", "json", "--units", one).stdout) for one in SYSTEMS]
    assert told[0] == told[1]


def test_an_option_counts_before_the_environment_and_that_before_a_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    (tmp_path / "feedscript.toml").write_text('units = "imperial"\n')
    assert rows(check().stdout, "mph", "ft")
    assert rows(check(FEEDSCRIPT_UNITS="metric").stdout, "km/h", "m")
    assert rows(check("--units", "imperial", FEEDSCRIPT_UNITS="metric").stdout, "mph", "ft")
    shown = CliRunner().invoke(verbs, ["settings"]).stdout
    assert f"units     imperial  ({tmp_path / 'feedscript.toml'}" in shown


def test_units_that_nobody_knows_are_told_by_those_that_there_are() -> None:
    done = check(FEEDSCRIPT_UNITS="cubits")
    assert done.exit_code == 2
    assert "units is 'cubits'\n  at FEEDSCRIPT_UNITS\n" in done.stderr
    assert "fix: set units to one of metric, imperial" in done.stderr
