"""Which club this computer belongs to: its address and our key, in a file of our own."""

from __future__ import annotations

import os
from ipaddress import ip_address
from pathlib import Path
from urllib.parse import urlsplit

import msgspec
import platformdirs

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.host.private_file import write_private
from feedscript.plain_file import read_plain

#: A longer file is none of ours, with any certificate in it.
_MOST_BYTES = 1_000_000

CLUB_ADDRESS = Page(
    slug="club-address",
    title="The club's address cannot be used",
    why=(
        "What a court sends holds the names of children, and its key opens the club's door for it: "
        "both go over https only. Plain http is taken for a server on this very machine, to try "
        "one. A server whose certificate nobody has signed is believed when its certificate is "
        "named at joining."
    ),
)

NO_MEMBER = Page(
    slug="no-club-joined",
    title="This computer belongs to no club",
    why=(
        "A court's computer joins its club once, with a code that the club gives, and has a key of "
        "its own from then on. Alone, it needs no club, and nothing is sent anywhere."
    ),
)


class Membership(msgspec.Struct, frozen=True, kw_only=True):
    """The club that this computer joined, and the key that it was given."""

    url: str
    host: str
    key: str
    name: str
    certificate: str = ""  # PEM, where the server's is not signed by one that every system knows


def membership_path() -> Path:
    """Where it lies: the user's configuration folder."""
    return platformdirs.user_config_path("feedscript", appauthor=False) / "club.json"


def read_membership(path: Path | None = None) -> Membership | None:
    """The club that was joined, if any. Raises FeedscriptError for a file that is none of ours."""
    path = path or membership_path()
    try:
        return msgspec.json.decode(read_plain(path, _MOST_BYTES), type=Membership)
    except FileNotFoundError:
        return None
    except (OSError, msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as trouble:
        raise FeedscriptError(
            NO_MEMBER.report(
                f"the file that says which club this computer belongs to cannot be read: {trouble}",
                device=str(path),
                help="join again with a new code: feedscript club join",
            )
        ) from trouble


def joined(path: Path | None = None) -> Membership:
    """The club that was joined. Raises FeedscriptError where there is none."""
    found = read_membership(path)
    if found is None:
        raise FeedscriptError(
            NO_MEMBER.report(
                "no club was joined from this computer",
                help="ask the club for a code, then: feedscript club join ADDRESS",
            )
        )
    return found


def keep_membership(membership: Membership, path: Path | None = None) -> Path:
    """Write it for its owner alone, whole or not at all; where it lies. Raises OSError."""
    path = path or membership_path()
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f"{path.name}.new")
    write_private(beside, msgspec.json.encode(membership))
    os.replace(beside, path)
    return path


def server_address(told: str) -> str:
    """A club's address as it is kept: scheme, machine and port. Raises FeedscriptError."""
    parts = urlsplit(told if "//" in told else f"https://{told}")
    try:
        port = parts.port
    except ValueError:
        raise _no_address(told, "its port is no number") from None
    if parts.scheme not in ("https", "http") or not parts.hostname:
        raise _no_address(told, "it is none of https://MACHINE")
    if parts.scheme == "http" and not _is_here(parts.hostname):
        raise _no_address(told, "it would send children's names and the key readable by anyone")
    if parts.path not in ("", "/") or parts.query or parts.username:
        raise _no_address(told, "something stands behind or before the machine's name")
    machine = f"[{parts.hostname}]" if ":" in parts.hostname else parts.hostname
    return f"{parts.scheme}://{machine}" + (f":{port}" if port else "")


def _is_here(machine: str) -> bool:
    try:
        return machine == "localhost" or ip_address(machine).is_loopback
    except ValueError:
        return False


def _no_address(told: str, why: str) -> FeedscriptError:
    return FeedscriptError(
        CLUB_ADDRESS.report(
            f"{told!r} is no address of a club's server: {why}",
            help="give it as https://club.example or https://club.example:8443",
        )
    )
