"""Documents of the commands that run a lesson, and of those for after it."""

from __future__ import annotations

import msgspec
from msgspec import UNSET, UnsetType

from feedscript.documents.common import Diagnostics, Moment, Pair
from feedscript.documents.review import RecordDocument
from feedscript.journal.retention import Forgotten
from feedscript.launcher.fault_log import FaultLog
from feedscript.launcher.tuning.improvement import Improvement
from feedscript.watch.found import Found
from feedscript.watch.listen import Listened


class Run(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript run` and `feedscript court-side`: how the lesson ended. A lesson that did not
    begin has no figures."""

    ok: bool  # it was finished
    ending: str | UnsetType = UNSET  # the phase in which it ended
    cause: str | UnsetType = UNSET  # why it was not finished
    lesson: int | UnsetType = UNSET  # its number in the journal
    left: int | UnsetType = UNSET  # balls that left
    not_sent: int | UnsetType = UNSET  # balls that did not
    unknown: int | UnsetType = UNSET  # balls of which nobody knows
    journal: str | UnsetType = UNSET  # the file
    diagnostics: Diagnostics


class ListedLesson(msgspec.Struct, frozen=True, kw_only=True):
    """One lesson of the journal."""

    lesson: int
    title: str
    begun: Moment
    ending: str | None  # null: it was not ended
    rehearsal: bool
    balls: int


class JournalList(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript journal list`: the lessons kept here, oldest first."""

    lessons: tuple[ListedLesson, ...]


class JournalBackUp(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript journal back-up`."""

    ok: bool  # true
    file: str  # the copy


class LessonClips(msgspec.Struct, frozen=True, kw_only=True):
    """Pictures that there are of a lesson."""

    lesson: int
    files: tuple[str, ...]


class JournalExport(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript journal export`: what was written."""

    ok: bool  # true
    file: str
    lessons: int
    clips: tuple[LessonClips, ...]


class JournalTables(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript journal tables`: what was written."""

    ok: bool  # true
    files: tuple[str, ...]
    rows: dict[str, int]  # how many, by the table's name


class JournalForget(Forgotten, frozen=True, kw_only=True):
    """`feedscript journal forget`: in what a name was that is taken out."""

    ok: bool  # true


class JournalDelete(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript journal delete`."""

    ok: bool  # true
    lessons: tuple[int, ...]  # that are gone
    balls: int  # that were in them


class SeasonPlayed(msgspec.Struct, frozen=True, kw_only=True):
    """A lesson of the journal that was played for a planned one."""

    lesson: int
    begun: Moment
    ended: Moment | None
    ending: str | None
    title: str | None  # null where one player's are shown
    players: tuple[str, ...]


class SeasonLessonHeld(msgspec.Struct, frozen=True, kw_only=True):
    """What became of a planned lesson."""

    number: int
    standing: str  # held, another program, not held, or to come
    lessons: tuple[SeasonPlayed, ...]


class SeasonHeldDocument(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript season --held`: which lessons were held."""

    title: str
    lessons: tuple[SeasonLessonHeld, ...]
    record: RecordDocument | None  # with `--player`


class WatchedCamera(msgspec.Struct, frozen=True, kw_only=True):
    """Where the camera stood, and its lens."""

    position_m: tuple[float, float, float]
    rotation: tuple[float, float, float]  # from court axes to the camera's: a vector, radians
    focal_px: float
    k1: float  # of the lens, along the radius


class WatchedClips(msgspec.Struct, frozen=True, kw_only=True):
    """Pictures of single balls that were written."""

    folder: str
    balls: int
    left_out: int  # balls of which there would have been too many


class Watch(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript watch`: what a film shows of the court, and of a lesson's balls."""

    ok: bool  # true
    width_px: int
    height_px: int
    rate_hz: float  # pictures a second
    steady: bool  # as many in each second
    tick_s: float  # to which times are told
    duration_s: float
    has_sound: bool
    court: str  # its kind
    camera: WatchedCamera
    lines_found: bool  # the camera is known by the court's own lines
    worst_sd_m: float  # of a place on the ground
    area_shown: float  # share of where balls land that is in the picture
    files: tuple[str, ...]  # that were written
    diagnostics: Diagnostics
    found: Found | UnsetType = UNSET  # the balls, where a lesson or a program was named
    recorded: bool | UnsetType = UNSET  # whether the journal has it now
    clips: WatchedClips | UnsetType | None = UNSET


class WatchSound(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript watch --by-sound`: what a film's sound tells."""

    ok: bool  # true
    heard: Listened
    files: tuple[str, ...]  # that were written


class TunedFactor(msgspec.Struct, frozen=True, kw_only=True):
    """One number of the profile."""

    key: str  # in the profile
    before: float
    value: float  # as it fits best
    interval: tuple[float | None, float | None]  # of the value; null where it has no end
    unit: str  # empty for a plain number
    determined: bool  # the landings say something of it


class TunedSpread(msgspec.Struct, frozen=True, kw_only=True):
    """Scatter, as a multiple of the profile's; null where too few balls tell."""

    scale: float | None
    interval: Pair | None


class TunedLack(msgspec.Struct, frozen=True, kw_only=True):
    """What the model itself misses by, apart from scatter."""

    found: bool
    chance: float  # that chance alone makes it look so
    bias_along_m: float  # root mean square
    bias_across_m: float  # root mean square


class TunedAgain(msgspec.Struct, frozen=True, kw_only=True):
    """Intervals by balls drawn again."""

    refits: int  # how often
    seed: int  # of the draws
    intervals: dict[str, Pair]  # of each factor that the balls tell, by its key


class Tune(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript tune`: a profile fitted to measured landings."""

    confidence: float  # of every interval
    factors: tuple[TunedFactor, ...]
    scatter_along: TunedSpread
    scatter_across: TunedSpread
    lack_of_fit: TunedLack | None
    balls: int
    set_aside_lines: tuple[int, ...]  # of the table: balls far outside of the others
    improvement: Improvement | None  # null where no profile was written
    file: str | None  # the new profile
    landings: str | None  # the table that a film was made into
    bootstrap: TunedAgain | None  # where it was asked for
    diagnostics: Diagnostics


class Proposal(msgspec.Struct, frozen=True, kw_only=True):
    """A setting to measure."""

    drives: tuple[float, ...]  # as the profile's kind names them
    tilt_deg: float
    pan_deg: float
    roll_deg: float
    jog: str  # the line for `feedscript jog`
    balls: int  # to be measured
    along_m: float  # where they will land, ahead of the mouth
    right_m: float  # and to the right


class TunePropose(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript tune --propose`: which balls to measure."""

    proposals: tuple[Proposal, ...]
    expected_half: dict[str, float]  # of the intervals, by the profile's key
    file: str | None  # the table to fill in


class Lean(msgspec.Struct, frozen=True, kw_only=True):
    """One factor that alone would explain what is seen."""

    key: str  # in the profile
    change: float
    half: float  # of the change's interval


class TuneCompare(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript tune --compare`: whether landings still fit a profile."""

    fits: bool
    moved: bool  # landings are elsewhere
    wider: bool  # they scatter more
    place_chance: float  # that chance alone moves them as much
    spread_chance: float  # that chance alone spreads them as much
    shift_along_m: float
    shift_right_m: float
    leans: tuple[Lean, ...]  # likeliest first
    balls: int
    set_aside_lines: tuple[int, ...]  # of the table: balls far outside of the others
    diagnostics: Diagnostics


class TuneRun(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript tune --run` that has more to come."""

    ok: bool  # false
    told: str  # how far it is, and what to type then
    diagnostics: Diagnostics


class Bundle(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript bundle`: what was packed."""

    file: str
    parts: tuple[str, ...]  # what is in it
    fault_log: FaultLog | None  # with `--on`


DOCUMENTS = {
    "run": Run,
    "journal-list": JournalList,
    "journal-back-up": JournalBackUp,
    "journal-export": JournalExport,
    "journal-tables": JournalTables,
    "journal-forget": JournalForget,
    "journal-delete": JournalDelete,
    "season-held": SeasonHeldDocument,
    "watch": Watch,
    "watch-sound": WatchSound,
    "tune": Tune,
    "tune-propose": TunePropose,
    "tune-compare": TuneCompare,
    "tune-run": TuneRun,
    "bundle": Bundle,
}
