"""The launchers' profiles that the library has, by what they say: a court may run one under a name
of its own."""

from __future__ import annotations

from functools import lru_cache

import msgspec

from feedscript.club.library.shelf import Shelf
from feedscript.club_library import Version, current, is_profile, versions
from feedscript.launcher.profile.model import Profile, profile_hash
from feedscript.launcher.profile.read_profile import profile_in


class Shelved(msgspec.Struct, frozen=True, kw_only=True):
    """A version of a profile; ``used``: its name means this one now."""

    version: Version
    profile: Profile
    profile_hash: str
    used: bool


def shelved(shelf: Shelf) -> tuple[Shelved, ...]:
    """Every version of every profile that can be read here, in the order of adding."""
    changes = shelf.changes()
    means = {one.sha256 for one in current(changes).values() if not one.withdrawn}
    found = []
    for version in versions(changes).values():
        content = shelf.text(version.sha256) if is_profile(version.name) else None
        profile = None if content is None else _read(content)
        if profile is not None:
            one = Shelved(
                version=version,
                profile=profile,
                profile_hash=profile_hash(profile),
                used=version.sha256 in means,
            )
            found.append(one)
    return tuple(found)


@lru_cache(maxsize=256)
def _read(content: bytes) -> Profile | None:
    return profile_in(content, "profile").profile
