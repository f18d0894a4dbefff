"""`feedscript check` from the outside: its JSON, its text, its pages, its exit codes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.check.check_program import check_program
from feedscript.cli import verbs
from feedscript.safety.examples import example, fed
from feedscript.shipped import shipped_folder, shipped_programs

GOOD = example()
BAD = example(steps="send deep after 6 s")


def check(*arguments: str) -> Result:
    return CliRunner().invoke(verbs, ["check", *arguments])


@pytest.fixture
def good(tmp_path: Path) -> str:
    path = tmp_path / "good.feed"
    path.write_text(GOOD, encoding="utf-8")
    return str(path)


@pytest.fixture
def bad(tmp_path: Path) -> str:
    path = tmp_path / "bad.feed"
    path.write_text(BAD, encoding="utf-8")
    return str(path)


def test_json_of_one_file_has_its_head_and_exactly_six_parts(good: str) -> None:
    result = check(good, "--format", "json")
    assert result.exit_code == 0
    found = json.loads(result.stdout)
    assert (found.pop("document"), found.pop("format")) == ("check", 1)
    assert found.keys() == {"ok", "diagnostics", "bounds", "hour", "feeds", "expectations"}
    assert found["ok"] is True
    # 600 rpm is less than the flight model was published for; that warns and refuses nothing.
    assert [one["slug"] for one in found["diagnostics"]] == ["beyond-model"]
    assert found["bounds"] == {
        "balls": [2, 2],
        "time_s": [6.0, 6.0],
        "fastest_mps": pytest.approx(80 / 3.6, abs=1e-5),
        "with_every_repeat": None,
    }
    assert found["hour"] is None
    (feed,) = found["feeds"]
    assert feed["name"] == "deep"
    assert feed["landing_m"] == pytest.approx([0.0, 11.8872 - 2.0], abs=0.002)
    assert feed["speed_mps"] == pytest.approx(80 / 3.6, abs=1e-5)
    assert feed["spin_rpm"] == 600
    assert feed["azimuth_deg"] == pytest.approx(0.0, abs=0.01)
    assert feed["net_clearance_m"] > 0.5
    assert feed["flight_s"] > 1
    assert feed.keys() == {
        "name", "landing_m", "speed_mps", "spin_rpm", "elevation_deg", "azimuth_deg",
        "net_clearance_m", "flight_s",
    }  # fmt: skip


def test_json_of_a_diagnostic_points_at_the_words(bad: str) -> None:
    result = check(bad, "--format", "json")
    assert result.exit_code == 1
    found = json.loads(result.stdout)
    assert found["ok"] is False
    (wrong,) = [one for one in found["diagnostics"] if one["severity"] == "error"]
    wanted = {"slug", "severity", "line", "column", "end_line", "end_column", "message", "help"}
    assert wanted <= wrong.keys()
    assert (wrong["slug"], wrong["severity"]) == ("speed-not-shown", "error")
    line = BAD.splitlines()[wrong["line"] - 1]
    assert line[wrong["column"] - 1 : wrong["end_column"] - 1] == "send deep after 6 s"
    assert found["feeds"], "what could be aimed is shown although it is refused"


def test_spin_is_negative_where_backspin_prevails(tmp_path: Path) -> None:
    path = tmp_path / "slice.feed"
    path.write_text(example(fed(spin="back 900 rpm")), encoding="utf-8")
    found = json.loads(check(str(path), "--format", "json").stdout)
    assert found["feeds"][0]["spin_rpm"] == -900


def test_several_files_are_one_object(good: str, bad: str) -> None:
    result = check(good, bad, "--format", "json")
    assert result.exit_code == 1
    found = json.loads(result.stdout)
    assert found["ok"] is False
    assert [(one["file"], one["ok"]) for one in found["files"]] == [(good, True), (bad, False)]


def test_a_folder_means_what_lies_in_it_but_nothing_hidden(tmp_path: Path) -> None:
    for name, text in {"b/good": GOOD, "a": BAD, "z": GOOD, ".kept/old": BAD}.items():
        path = tmp_path / f"{name}.feed"
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
    (tmp_path / "notes.txt").write_text("nothing to check", encoding="utf-8")
    (tmp_path / "round").symlink_to(tmp_path, target_is_directory=True)
    found = json.loads(check(str(tmp_path), "--format", "json").stdout)
    names = [Path(one["file"]).relative_to(tmp_path).as_posix() for one in found["files"]]
    assert names == ["a.feed", "b/good.feed", "z.feed"]
    assert [one["ok"] for one in found["files"]] == [False, True, True]
    told = check(str(tmp_path))
    assert told.exit_code == 1
    assert told.stdout.splitlines()[-1] == f"1 of 3 are not fine: {tmp_path / 'a.feed'}"
    assert check(str(tmp_path / "b")).stdout.splitlines()[-1] == "1 checked, all are fine."


def test_an_empty_folder_is_no_pass(tmp_path: Path) -> None:
    result = check(str(tmp_path))
    assert result.exit_code == 2
    assert f"{tmp_path} holds no program and no season" in result.stderr


def test_text_shows_bounds_feeds_and_nearest_limits(good: str) -> None:
    result = check(good)
    assert result.exit_code == 0
    assert "passed. 2 balls" in result.stdout
    assert "nearest to their limits" in result.stdout
    assert "limit 33 m/s, margin" in check(good, "--certificate").stdout


@pytest.mark.parametrize(
    ("ending", "start"), [(".html", "<!doctype html>"), (".json", "{"), (".txt", "Certificate")]
)
def test_certificate_is_written_by_its_ending(
    good: str, tmp_path: Path, ending: str, start: str
) -> None:
    out = tmp_path / f"page{ending}"
    assert check(good, "-o", str(out)).exit_code == 0
    assert out.read_text(encoding="utf-8").startswith(start)


def test_page_escapes_what_a_program_says(tmp_path: Path) -> None:
    path, out = tmp_path / "p.feed", tmp_path / "p.html"
    path.write_text(GOOD.replace("One feed", "<script>alert(1)</script>"), encoding="utf-8")
    check(str(path), "-o", str(out))
    assert "<script>" not in out.read_text(encoding="utf-8")


def test_wrong_usage_exits_2(good: str, bad: str, tmp_path: Path) -> None:
    assert check().exit_code == 2
    assert check(good, "-o", "page.pdf").exit_code == 2
    assert check(good, bad, "-o", "page.html").exit_code == 2
    assert check(good, "-o", str(tmp_path / "no" / "such" / "folder.html")).exit_code == 2
    assert check(good, "--sample", "0").exit_code == 2


def test_a_missing_file_and_a_missing_profile_are_diagnostics(good: str) -> None:
    for arguments in (["nowhere.feed"], [good, "--launcher", "nowhere.toml"]):
        result = check(*arguments, "--format", "json")
        assert result.exit_code == 1
        assert json.loads(result.stdout)["diagnostics"][0]["help"]


@pytest.mark.parametrize("name", ["/dev/zero", "nul\0byte.feed"])
def test_endless_and_impossible_files_are_diagnostics(name: str) -> None:
    assert [one.slug for one in check_program(Path(name)).diagnostics] == ["unreadable-file"]


def test_another_profile_may_stand_in(good: str, root: Path) -> None:
    other = str(root / "programs/launchers/turning-head.toml")
    assert check(good, "--launcher", other).exit_code == 0


def test_drawn_runs_agree_with_the_certificate(good: str) -> None:
    result = check(good, "--sample", "200", "--format", "json")
    assert result.exit_code == 0
    drawn = json.loads(result.stdout)["sample"]
    assert (drawn["agrees"], drawn["runs"], drawn["balls"]) == (True, 200, 400)
    assert drawn["surprises"] == []
    assert "200 drawn runs, 400 balls: they agree" in check(good, "--sample", "200").stdout


def test_every_shipped_program_passes() -> None:
    for name in (one for one in shipped_programs() if "/" not in one):  # else tests/programs
        assert check(name).exit_code == 0, check(name).output


@settings(max_examples=60)
@given(st.binary(max_size=300))
def test_random_bytes_are_a_diagnostic_and_never_a_traceback(noise: bytes) -> None:
    text = noise.decode("utf-8", errors="replace")
    verdict = check_program(Path("noise.feed"), text=text)
    assert "check-failed" not in {one.slug for one in verdict.diagnostics}
    assert verdict.ok or verdict.diagnostics


def test_what_a_program_expects_and_is_not_so_is_no_pass(tmp_path: Path) -> None:
    path = tmp_path / "lesson.feed"
    path.write_text(GOOD + "expect { balls <= 1  95 % of deep within 1 m }\n", encoding="utf-8")
    done = check(str(path))
    assert done.exit_code == 1
    assert ": passed" not in done.output
    assert "safe, but 1 of 2 expectations not met" in done.output
    assert "Warning: `balls <= 1` is not so: 2 balls" in done.output
    assert "for `feedscript test`: 95 % of deep within 1 m" in done.output
    assert json.loads(check(str(path), "--format", "json").stdout)["ok"] is False
    path.write_text(GOOD + "expect { balls <= 2 }\n", encoding="utf-8")
    done = check(str(path))
    assert done.exit_code == 0
    assert ": passed" in done.output


def test_what_files_have_in_common_does_not_make_one_of_another(tmp_path: Path) -> None:
    """They share a memo: each is told as it is alone, though profiles of one name differ."""
    profile = (shipped_folder() / "launchers" / "garage.toml").read_text(encoding="utf-8")
    own = {"strong": profile, "weak": profile.replace("[8.0, 33.0]", "[8.0, 20.0]")}
    assert own["strong"] != own["weak"]
    files = []
    for name, text in own.items():
        folder = tmp_path / name
        folder.mkdir()
        (folder / "mine.toml").write_text(text, encoding="utf-8")
        files.append(folder / "same.feed")
        files[-1].write_text(GOOD.replace("garage.toml", "mine.toml"), encoding="utf-8")
    alone = [json.loads(check(str(file), "--format", "json").stdout) for file in files]
    found = json.loads(check(*map(str, files), "--format", "json").stdout)
    assert [one["ok"] for one in alone] == [True, False]
    for one, apart in zip(found["files"], alone, strict=True):
        assert {**apart, **one} == {**apart, "file": one["file"]}
