"""Files: what people write, and what one command hands to the next."""

from __future__ import annotations

from typing import Any, Literal

import msgspec

from feedscript.bench.tolerances import Tolerances
from feedscript.bench.trials.read_trials import Faults
from feedscript.building.build_file import Build
from feedscript.documents.common import Pair
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.setting import Setting
from feedscript.plan.certificate import Certificate, Standing
from feedscript.plan.model import Bounds, Ellipse, Plan
from feedscript.session.group.questions import OwnQuestions
from feedscript.settings import SettingsFile
from feedscript.watch.found import Found
from feedscript.watch.listen import Listened
from feedscript.watch.ruler.points import Points


class CertificateFile(Certificate, frozen=True, kw_only=True):
    """What `feedscript check -o FILE.json` writes, and `--certificate` shows: every rule with its
    worst case, and everything the proof depends on."""


class BaselineMadeWith(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What made the figures. A program that could not be judged has only the first."""

    feedscript: str  # its version
    rules: str = ""  # version of the safety rules
    model: str = ""  # of flight, and its version
    program: str = ""  # SHA-256 of the program
    profiles: tuple[str, ...] = ()  # SHA-256 of each launcher's profile


class BaselineFeed(msgspec.Struct, frozen=True, kw_only=True):
    """A feed as it was aimed."""

    launcher: str  # its name in the program
    setting: Setting
    landing_m: Pair
    scatter: Ellipse
    speed_mps: float  # at the mouth
    top_rpm: float
    side_rpm: float
    flight_s: float
    net_clearance_m: float
    apex_m: float


class BaselineRule(msgspec.Struct, frozen=True, kw_only=True):
    """A safety rule's worst case."""

    standing: Standing
    worst: float | None
    limit: float | None
    unit: str
    worst_case: str  # in words


class Baseline(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What `feedscript baseline keep` writes of a program. What is not known of one that is refused
    is left out."""

    baseline: Literal[1]  # the number of the format
    made_with: BaselineMadeWith
    verdict: Literal["passes", "refused"]
    errors: dict[str, bool]  # the slug of each kind of error, and true
    bounds: Bounds | None = None
    feeds: dict[str, BaselineFeed] = {}  # by name
    rules: dict[str, BaselineRule] = {}  # by name


class Landings(Found, frozen=True, kw_only=True):
    """What `feedscript watch -o FILE.json` writes: where a lesson's balls landed, by a film."""


class HeardBalls(Listened, frozen=True, kw_only=True):
    """What `feedscript watch --by-sound -o FILE.json` writes: a lesson's balls by their sounds."""


class Numbered(msgspec.Struct, frozen=True, kw_only=True):
    """A document that says the number of its format by itself: under which key, and which one."""

    kind: type[Any]
    key: str = "version"
    number: int = 1


#: What begins with ``document`` and ``format``.
DOCUMENTS = {"certificate": CertificateFile}
#: What has a number of its own, in the words of its file.
NUMBERED = {
    "plan": Numbered(kind=Plan),
    "profile": Numbered(kind=Profile, key="format"),
    "baseline": Numbered(kind=Baseline, key="baseline"),
    "landings": Numbered(kind=Landings),
    "heard": Numbered(kind=HeardBalls),
}
#: What may say the number of its format, and need not.
PLAIN = {
    "build": Build,
    "settings-file": SettingsFile,
    "tolerances": Tolerances,
    "faults": Faults,
    "questions": OwnQuestions,
    "points": Points,
}
