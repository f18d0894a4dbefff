"""The shipped example profiles, for tests, and ways to change one fact of a profile's text."""

from __future__ import annotations

import re
from pathlib import Path

from feedscript.launcher.profile.model import Profile
from feedscript.launcher.profile.read_profile import parse_profile, read_profile
from feedscript.shipped import shipped_folder

PROFILES = shipped_folder() / "launchers"
GARAGE = PROFILES / "garage.toml"


def shipped_profiles() -> list[Path]:
    return sorted(PROFILES.glob("*.toml"))


def profile_at(path: Path) -> Profile:
    reading = read_profile(path)
    assert reading.profile is not None, reading.diagnostics
    return reading.profile


def garage() -> Profile:
    return profile_at(GARAGE)


def garage_text() -> str:
    return GARAGE.read_text(encoding="utf-8")


def garage_with(key: str, value: str) -> str:
    """The garage profile's text with the first ``key = ...`` set to ``value``."""
    changed, count = re.subn(
        rf"^{re.escape(key)} = [^#\n]*", f"{key} = {value} ", garage_text(), count=1, flags=re.M
    )
    assert count == 1, key
    return changed


def slugs(text: str) -> list[str]:
    return [found.slug for found in parse_profile(text, "p.toml").diagnostics]
