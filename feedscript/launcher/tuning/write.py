"""The tuned profile as a new file: the old text with the fitted numbers in their places."""

from __future__ import annotations

from pathlib import Path

from feedscript.diagnostics import Diagnostic, Page
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.profile.read_profile import ProfileReading, parse_profile
from feedscript.launcher.tuning.factors import BY_SPEED
from feedscript.launcher.tuning.fit import Fit
from feedscript.toml_places import key_places

_DISPERSION = ("speed_share", "spin_rpm", "elevation_deg", "azimuth_deg")
#: A key that a profile may leave out; tuning adds it after the slip.
_LEFT_OUT = ("drive", BY_SPEED)
_DIGITS = 5

NOT_WRITTEN = Page(
    slug="profile-not-written",
    title="The tuned profile could not be written",
    why=(
        "Tuning never writes over a profile: the new one goes beside the old, under a name that is "
        "still free. It is written by putting the fitted numbers into the old text, so that the "
        "comments stay; where a number does not stand on a line of its own that cannot be done."
    ),
)


def tuned_text(reading: ProfileReading, fit: Fit) -> str | Diagnostic:
    """The profile's text with the fitted numbers, or why it cannot be made."""
    numbers = _numbers(fit)
    places = key_places(reading.text, reading.source)
    lines = reading.text.split("\n")
    for path, value in numbers.items():
        place = places.get(path)
        if place is None and path == _LEFT_OUT:
            continue  # added below, after every number has found its line
        if place is None:
            return _by_hand(reading.source, path, numbers)
        span = place.value
        line = lines[span.line - 1]
        before, after = line[: span.column - 1], line[span.end_column - 1 :]
        # A comment stays in its column where there is room.
        room = max(span.end_column - span.column - len(value) + len(after) - len(after.lstrip()), 1)
        after = " " * room + after.lstrip() if after.lstrip() else ""
        lines[span.line - 1] = before + value + after
    if _LEFT_OUT in numbers and _LEFT_OUT not in places and ("drive", "slip") in places:
        beside = places["drive", "slip"].value.line
        lines.insert(beside, f"{_LEFT_OUT[1]} = {numbers[_LEFT_OUT]}")
    text = "\n".join(lines)
    again = parse_profile(text, reading.source)
    if again.profile is None or not _alike(again.profile, fit.profile):
        return _by_hand(reading.source, next(iter(numbers)), numbers)
    return text


def write_beside(
    old: Path, text: str, wanted: Path | None = None, *, mark: str = "tuned", ending: str = ""
) -> Path | Diagnostic:
    """Write a new file beside ``old`` (or at ``wanted``); a file that is there is never touched.

    Without a name of its own it gets the old one's with ``mark``, and ``ending`` if given.
    """
    tries = [wanted] if wanted else [_name(old, mark, ending, n) for n in range(1, 1000)]
    for path in tries:
        try:
            with path.open("x", encoding="utf-8", newline="\n") as out:
                out.write(text)
        except FileExistsError:
            continue
        except OSError as error:
            return NOT_WRITTEN.report(
                f"{path} cannot be written: {error.strerror}",
                help="give a place that can be with -o FILE",
                device=str(path),
            )
        return path
    return NOT_WRITTEN.report(
        f"{tries[-1]} is already there",
        help="give another name with -o FILE; tuning writes over nothing",
        device=str(tries[-1]),
    )


def _name(old: Path, mark: str, ending: str, number: int) -> Path:
    stem = old.stem.removesuffix(".tuned")
    further = "" if number == 1 else f"-{number}"
    return old.with_name(f"{stem}.{mark}{further}{ending or old.suffix}")


def _numbers(fit: Fit) -> dict[tuple[str, ...], str]:
    numbers: dict[tuple[str, ...], str] = {
        (one.factor.table, one.factor.key): _written(one.factor.of(fit.profile))
        for one in fit.factors
    }
    for key in _DISPERSION:
        numbers["dispersion", key] = _written(getattr(fit.profile.dispersion, key))
    return numbers


def _written(value: float) -> str:
    return repr(float(f"{value:.{_DIGITS}g}"))


def _alike(one: Profile, other: Profile) -> bool:
    """Whether two profiles say the same, to the digits that are written."""
    for table in ("drive", "calibration", "dispersion"):
        first, second = getattr(one, table), getattr(other, table)
        for key in first.__struct_fields__:
            a, b = getattr(first, key), getattr(second, key)
            near = isinstance(a, float) and abs(a - b) <= 1e-4 * max(abs(a), abs(b), 1e-6)
            if a != b and not near:
                return False
    return one.limits == other.limits and one.name == other.name


def _by_hand(source: str, path: tuple[str, ...], numbers: dict[tuple[str, ...], str]) -> Diagnostic:
    listed = ", ".join(f"{'.'.join(key)} = {value}" for key, value in numbers.items())
    return NOT_WRITTEN.report(
        f"{'.'.join(path)} does not stand on a line of its own in the profile",
        help=f"copy the profile and enter by hand: {listed}",
        device=source,
    )
