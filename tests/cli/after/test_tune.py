"""``feedscript tune`` as a person meets it: plan, fill in, fit, compare."""

from __future__ import annotations

import csv
import io
import json
import shutil
from pathlib import Path

import msgspec
import numpy as np
import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from feedscript.check import bootstrap as again
from feedscript.check.bootstrap import bootstrap
from feedscript.check.in_pieces import refits
from feedscript.cli.after.tune import command
from feedscript.launcher.profile.read_profile import parse_profile, read_profile
from feedscript.launcher.setting import Setting
from feedscript.launcher.tuning.factors import factors_of
from feedscript.launcher.tuning.fit import Fit, Fitted
from feedscript.launcher.tuning.landings_file import columns_of, parse_landings
from feedscript.launcher.tuning.spread import Spread
from feedscript.launcher.tuning.write import tuned_text, write_beside
from feedscript.session.operator.jog import Wish, first_wish, read_line, setting_of
from feedscript.shipped import shipped_folder
from tests.launcher.tuning.synthetic import changed, profile_named, thrown

GARAGE = profile_named("garage")


def tune(*words: object) -> Result:
    result = CliRunner().invoke(command, [str(word) for word in words])
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result


@pytest.fixture
def bench(filled_in: Path, tmp_path: Path) -> Path:
    """A folder with a profile and a filled-in file of landings."""
    copied = shutil.copytree(filled_in, tmp_path, dirs_exist_ok=True)
    return Path(copied)


@pytest.fixture(scope="module")
def filled_in(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same, made once."""
    tmp_path = tmp_path_factory.mktemp("filled-in")
    text = (shipped_folder() / "launchers" / "garage.toml").read_text()
    (tmp_path / "mine.toml").write_text(text)
    sheet = tmp_path / "sheet.csv"
    assert tune(tmp_path / "mine.toml", "--propose", "-o", sheet).exit_code == 0
    reading = [line for line in sheet.read_text().splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(io.StringIO("\n".join(reading))))
    random = np.random.default_rng(4)
    blank = parse_landings(sheet.read_text().replace(",,,,", ",1,1,,"), "sheet", GARAGE).shots
    assert blank is not None
    shots = thrown(changed(GARAGE, random), blank.settings, 1, random, strays=1)
    for row, seen in zip(rows, shots.seen, strict=True):
        row["along_m"], row["right_m"] = f"{seen[0]:.2f}", f"{seen[1]:.2f}"
    with (tmp_path / "landings.csv").open("w", newline="") as out:
        writer = csv.DictWriter(out, columns_of(GARAGE))
        writer.writeheader()
        writer.writerows(rows)
    return tmp_path


def test_fitting_writes_a_new_profile_beside_the_old_one(bench: Path) -> None:
    old = (bench / "mine.toml").read_text()
    picture = bench / "residuals.svg"
    result = tune(
        bench / "mine.toml", "--landings", bench / "landings.csv", "--picture", picture,
        "--format", "json",
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    found = json.loads(result.stdout)
    assert (bench / "mine.toml").read_text() == old
    assert found["file"] == str(bench / "mine.tuned.toml")
    tuned = read_profile(bench / "mine.tuned.toml")
    assert tuned.profile is not None
    by_key = {one["key"]: one for one in found["factors"]}
    assert tuned.profile.calibration.drag_factor == pytest.approx(
        by_key["drag_factor"]["value"], rel=1e-4
    )
    assert "# This launcher is invented." in tuned.text
    assert picture.read_text().count("<circle") > 40
    assert write_beside(bench / "mine.toml", "again") == bench / "mine.tuned-2.toml"


def test_the_old_profile_no_longer_fits_and_the_tuned_one_does(bench: Path) -> None:
    landings = ("--landings", bench / "landings.csv")
    assert tune(bench / "mine.toml", *landings).exit_code == 0
    old = tune(bench / "mine.toml", *landings, "--compare")
    assert old.exit_code == 1
    assert "no longer fits" in old.stdout
    new = tune(bench / "mine.tuned.toml", *landings, "--compare", "--format", "json")
    assert new.exit_code == 0
    assert json.loads(new.stdout)["fits"] is True


def test_too_few_balls_are_refused_with_what_to_measure_next(bench: Path) -> None:
    lines = (bench / "landings.csv").read_text().splitlines()[:6]
    (bench / "few.csv").write_text("\n".join(lines))
    result = tune(bench / "mine.toml", "--landings", bench / "few.csv")
    assert result.exit_code == 1
    assert "under-determined" in result.stderr
    assert "measure next" in result.stderr
    assert "pan 8" in result.stderr
    assert not (bench / "mine.tuned.toml").exists()


def test_a_tape_that_began_elsewhere_is_refused_by_name_unless_it_is_believed(bench: Path) -> None:
    lines = list(csv.DictReader((bench / "landings.csv").open()))
    with (bench / "moved.csv").open("w", newline="") as out:
        writer = csv.DictWriter(out, columns_of(GARAGE))
        writer.writeheader()
        writer.writerows(row | {"along_m": str(float(row["along_m"]) - 1.0)} for row in lines)
    asked = (bench / "mine.toml", "--landings", bench / "moved.csv")
    result = tune(*asked)
    assert result.exit_code == 1
    assert "mistaken-landings" in result.stderr
    assert "too short" in result.stderr
    assert not (bench / "mine.tuned.toml").exists()
    believed = tune(*asked, "--as-measured")
    assert "mistaken-landings" not in believed.stderr


def test_comparing_names_a_mistake_that_looks_like_another_launcher(bench: Path) -> None:
    swapped = bench / "swapped.csv"
    text = (bench / "landings.csv").read_text()
    swapped.write_text(text.replace("along_m,right_m", "right_m,along_m"))
    result = tune(bench / "mine.toml", "--landings", swapped, "--compare", "--format", "json")
    assert result.exit_code == 1
    (told,) = json.loads(result.stdout)["diagnostics"]
    assert told["slug"] == "mistaken-landings"
    assert "along_m and right_m seem to have been taken for one another" in told["message"]


def test_every_proposed_ball_can_be_sent_by_jog(bench: Path) -> None:
    found = json.loads(tune(bench / "mine.toml", "--propose", "--format", "json").stdout)
    for one in found["proposals"]:
        wish = read_line(one["jog"], first_wish(GARAGE))
        assert isinstance(wish, Wish)
        setting = setting_of(GARAGE, wish)
        assert isinstance(setting, Setting)
        assert [*setting.drives, setting.tilt_deg] == [*one["drives"], one["tilt_deg"]]
        assert setting.pan_deg == one["pan_deg"]


def test_slip_by_speed_is_added_after_the_slip_where_the_profile_had_none() -> None:
    text = (shipped_folder() / "launchers" / "garage.toml").read_text()
    reading = parse_profile(text, "mine.toml")
    assert reading.profile is not None
    drive = msgspec.structs.replace(reading.profile.drive, slip_power=-0.12)
    tuned = msgspec.structs.replace(reading.profile, drive=drive)
    told = tuple(
        Fitted(one, one.of(reading.profile), one.of(tuned), 0.01)
        for one in factors_of(reading.profile, by_speed=True)
    )
    still = Spread.unknown()
    found = Fit(tuned, told, still, still, np.zeros((0, 4)), (), None, (), 1.0)
    written = tuned_text(reading, found)
    assert isinstance(written, str)
    lines = written.splitlines()
    assert lines[[line.startswith("slip =") for line in lines].index(True) + 1] == (
        "slip_power = -0.12"
    )
    assert parse_profile(written, "mine.toml").profile == tuned


def test_nothing_is_ever_written_over(bench: Path) -> None:
    out = bench / "there.toml"
    out.write_text("mine")
    result = tune(bench / "mine.toml", "--landings", bench / "landings.csv", "-o", out)
    assert result.exit_code == 1
    assert out.read_text() == "mine"
    assert tune(bench / "mine.toml", "--propose", "-o", out).exit_code == 2
    assert out.read_text() == "mine"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no header"),
        ("drive_1,drive_2,tilt_deg,along_m,right_m\n", "no ball"),
        ("drive_1,drive_2,tilt_deg,along_ft,right_m\n1,2,3,4,5\n", "along_ft"),
        ("drive_1,tilt_deg,along_m,right_m\n1,2,3,4\n", "drive_2"),
        ("drive_1,drive_2,tilt_deg,along_m,right_m\n2000,2000,5,far,0\n", "'far'"),
        ("drive_1,drive_2,tilt_deg,along_m,right_m\n2000,2000,5,1800,0\n", "1800"),
        ("drive_1,drive_2,tilt_deg,along_m,right_m\n2000,,5,18,0\n", "not complete"),
        ("drive_1,drive_2,tilt_deg,along_m,right_m\n2000,2000,5,,\n", "nothing was measured"),
        ("drive_1,drive_2,tilt_deg,along_m,right_m\n2000,2000,5,18\n", "4 cells"),
        ('drive_1,drive_2,tilt_deg,along_m,right_m\n2000,"2000,5,18,0\n', "CSV"),
    ],
)
def test_a_bad_file_is_refused_at_its_line(bench: Path, text: str, said: str) -> None:
    (bench / "bad.csv").write_text(text)
    result = tune(bench / "mine.toml", "--landings", bench / "bad.csv")
    assert result.exit_code == 1
    assert "bad-landings" in result.stderr
    assert said in result.stderr


@given(st.text(max_size=300) | st.binary(max_size=200).map(lambda b: b.decode("latin-1")))
def test_random_text_is_never_a_traceback(text: str) -> None:
    reading = parse_landings(text, "random", GARAGE)
    assert reading.shots is not None or reading.diagnostics
    headed = parse_landings("drive_1,drive_2,tilt_deg,along_m,right_m\n" + text, "r", GARAGE)
    assert headed.shots is not None or headed.diagnostics


def test_wrong_usage(bench: Path) -> None:
    mine = bench / "mine.toml"
    assert tune(mine).exit_code == 2
    assert tune(mine, "--propose", "--landings", bench / "landings.csv").exit_code == 2
    assert tune(mine, "--propose", "--keep", "hope").exit_code == 2
    assert tune(mine, "--propose", "--tape", "4 kg").exit_code == 2
    assert tune(bench / "nothing.toml", "--propose").exit_code == 1
    assert tune(mine, "--landings", bench / "nothing.csv").exit_code == 1


@pytest.mark.parametrize(
    ("words", "slug"),
    [
        (("nothing.toml", "--propose"), "profile-unreadable"),
        (("mine.toml", "--propose", "--keep", "hope"), "cannot-tune"),
        (("mine.toml", "--landings", "nothing.csv"), "bad-landings"),
    ],
)
def test_a_refusal_is_json_where_json_was_asked_for(
    words: tuple[str, ...], slug: str, bench: Path
) -> None:
    paths = [bench / word if "." in word else word for word in words]
    done = tune(*paths, "--format", "json")
    assert done.exit_code in (1, 2)
    assert [one["slug"] for one in json.loads(done.stdout)["diagnostics"]] == [slug]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--cluster", "local"], "--cluster is for --bootstrap"),
        (["--draw-seed", "1"], "--draw-seed is for --bootstrap"),
        (["--compare", "--bootstrap", "100"], "--bootstrap is for a fit"),
        (["--bootstrap", "99"], "99 is not in the range"),
    ],
)
def test_refits_that_would_do_nothing_are_wrong_usage(bench: Path, words, said) -> None:
    done = tune(bench / "mine.toml", "--landings", bench / "landings.csv", *words)
    assert (done.exit_code, said in done.output) == (2, True)


def test_refits_are_told_beside_the_fit(bench: Path, monkeypatch) -> None:
    drawn = []

    def few(measured, found, refits, seed, workers, watch):
        drawn.append((refits, seed))
        return bootstrap(measured, found, 12, seed, workers, watch)

    monkeypatch.setattr(again, "bootstrap", few)
    words = (bench / "mine.toml", "--landings", bench / "landings.csv", "--bootstrap", "500")
    told = tune(*words, "--draw-seed", "7", "-o", bench / "one.toml")
    assert "95% of 12 fits to balls drawn again (seed 7):" in told.output
    assert "times as wide as above" in told.output
    plain = json.loads(tune(*words, "--format", "json", "-o", bench / "two.toml").stdout)
    assert drawn == [(500, 7), (500, 1)]
    assert set(plain["bootstrap"]["intervals"]) == {one["key"] for one in plain["factors"]}
    assert (bench / "one.toml").read_text() == (bench / "two.toml").read_text()


def test_too_few_balls_that_agree_by_chance_tell_no_interval(bench: Path, monkeypatch) -> None:
    monkeypatch.setattr(refits, "redrawn", lambda _problem, values, *_: values)
    two = bench / "two.csv"
    two.write_text("".join((bench / "landings.csv").read_text().splitlines(keepends=True)[:3]))
    words = (bench / "mine.toml", "--landings", two, "--bootstrap", "100")
    told = tune(*words)
    assert told.output.count("?   these balls do not tell") == 2 * 5  # the fit, and the refits
    assert "times as wide" not in told.output
    plain = json.loads(tune(*words, "--format", "json").stdout)
    assert plain["bootstrap"]["intervals"] == {}
