"""Documents of the commands that judge and rehearse a program before it runs."""

from __future__ import annotations

import msgspec
from msgspec import UNSET, UnsetType

from feedscript.bench.baseline import Change
from feedscript.bench.differences import Difference
from feedscript.check.hour import OwnCollects, Part
from feedscript.documents.common import Day, Diagnostics, Moment, Pair
from feedscript.documents.files import CertificateFile
from feedscript.session.rehearsal.rehearse import Rehearsed


class WithEveryRepeat(msgspec.Struct, frozen=True, kw_only=True):
    """The most that a lesson can be where every exercise is begun again as often as it may be."""

    balls: int
    time_s: float


class CheckedBounds(msgspec.Struct, frozen=True, kw_only=True):
    """What any run of the lesson lies within; the time that people take is not counted."""

    balls: tuple[int, int]  # least and most
    time_s: Pair  # least and most
    fastest_mps: float  # the fastest ball of all runs
    with_every_repeat: WithEveryRepeat | None


class CheckedHour(msgspec.Struct, frozen=True, kw_only=True):
    """The lesson as long as it can be, in parts that add up."""

    planned_s: float | None  # the time meant for it
    play_s: float  # while balls fly
    change_overs_s: float  # from the last ball's landing to the first of the next turn
    collecting_s: float
    people_s: float  # arming, and watching speeds
    breaks_s: float
    spare_s: float  # of exercises' planned minutes that their balls do not fill
    exercises: tuple[Part, ...]
    own_collects: OwnCollects | None  # by which collecting is reckoned, where known
    whole_s: float  # all of it


class CheckedFeed(msgspec.Struct, frozen=True, kw_only=True):
    """A feed, aimed."""

    name: str
    landing_m: Pair
    speed_mps: float  # at the mouth
    spin_rpm: float  # in all; backspin is negative
    elevation_deg: float
    azimuth_deg: float
    net_clearance_m: float
    flight_s: float


class Expectation(msgspec.Struct, frozen=True, kw_only=True):
    """What a program expects of itself, and whether that is so."""

    expectation: str  # as it is written
    line: int
    standing: str  # passes, fails, inconclusive or untested
    figure: str  # on which that rests


class Surprise(msgspec.Struct, frozen=True, kw_only=True):
    """A run that did what the certificate says none does."""

    seed: int  # of the run
    what: str


class Outside(msgspec.Struct, frozen=True, kw_only=True):
    """Drawn balls outside of where the certificate says they land."""

    what: str
    count: int
    allowed_share: float  # as the certificate has it
    most: float  # of so many balls, by chance
    agrees: bool


class DrawnSample(msgspec.Struct, frozen=True, kw_only=True):
    """Whole lessons drawn at random (`--sample`)."""

    agrees: bool  # with the certificate
    runs: int
    balls: int
    surprises: tuple[Surprise, ...]
    outside: tuple[Outside, ...]


class Check(msgspec.Struct, frozen=True, kw_only=True, tag_field="document", tag="check"):
    """`feedscript check FILE`: the verdict on a program."""

    file: str | UnsetType = UNSET  # where several were checked
    ok: bool  # it passed, and nothing that it expects is known not to hold
    diagnostics: Diagnostics
    bounds: CheckedBounds | None  # null where nothing could be aimed
    hour: CheckedHour | None
    feeds: tuple[CheckedFeed, ...]
    expectations: tuple[Expectation, ...]
    certificate: CertificateFile | UnsetType | None = UNSET  # with `--certificate`
    sample: DrawnSample | UnsetType = UNSET  # with `--sample`


class SeasonLesson(msgspec.Struct, frozen=True, kw_only=True):
    """One planned lesson."""

    number: int
    week: int  # from 1
    begins: Moment  # ISO 8601, with its offset from UTC
    ends: Moment | None  # the same; null where its program says no length
    zone: str  # the time zone, by its name
    theme: str
    program: str  # its name
    file: str  # where that lies
    aim: str
    watch: str
    ok: bool  # its program passes


class SeasonProgram(msgspec.Struct, frozen=True, kw_only=True):
    """A program that a season names."""

    name: str
    file: str
    ok: bool
    diagnostics: Diagnostics


class SeasonVerdict(msgspec.Struct, frozen=True, kw_only=True, tag_field="document", tag="season"):
    """`feedscript season FILE`, and `feedscript check` of a season: lessons over weeks."""

    file: str | UnsetType = UNSET  # where several were checked
    ok: bool
    title: str | None
    first_day: Day | None  # ISO 8601
    lessons: tuple[SeasonLesson, ...]
    no_lesson_on: tuple[Day, ...]  # days, ISO 8601
    programs: tuple[SeasonProgram, ...]
    diagnostics: Diagnostics
    calendar: str | UnsetType | None = UNSET  # the file that was written


class CheckSeveral(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript check FILE FILE …`: a verdict for each."""

    ok: bool  # of all
    files: tuple[Check | SeasonVerdict, ...]  # each a document of its own, with its file


class RefusedSince(msgspec.Struct, frozen=True, kw_only=True):
    """An error for which a launcher may not play a program."""

    slug: str
    message: str  # what is wrong, with its number


class PlayableOn(msgspec.Struct, frozen=True, kw_only=True):
    """A program on one launcher."""

    launcher: str  # the profile's name
    ok: bool  # it may be played
    errors: tuple[RefusedSince, ...]  # why it may not


class PlayableProgram(msgspec.Struct, frozen=True, kw_only=True):
    """A program on every launcher."""

    program: str  # its name
    diagnostics: Diagnostics  # why it is no program
    verdicts: tuple[PlayableOn, ...]  # none of what is no program


class Playable(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript playable`: which programs which launchers may play."""

    ok: bool  # every program may be played on one launcher at least
    launchers: tuple[str, ...]  # the profiles' names
    programs: tuple[PlayableProgram, ...]


class Certify(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript certify`: the certified plan that was written, or why there is none."""

    ok: bool
    diagnostics: Diagnostics
    plan: str | None  # the file that was written
    sha256: str | None  # of that file


class Draw(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript draw`: the picture that was written, or why there is none."""

    ok: bool
    file: str | None  # the picture
    diagnostics: Diagnostics


class RehearsedCall(msgspec.Struct, frozen=True, kw_only=True):
    """What was called."""

    at_s: float  # from the first ball that left
    text: str  # the words


class RehearsedPhase(msgspec.Struct, frozen=True, kw_only=True):
    """The lesson went into a phase."""

    at_s: float  # from the first ball that left
    phase: str


class Rehearse(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript rehearse`: the whole lesson on a simulated launcher."""

    ok: bool  # it was finished
    ending: str  # the phase in which it ended
    lesson_s: float  # how long it took
    balls: tuple[Rehearsed, ...]
    calls: tuple[RehearsedCall, ...]
    phases: tuple[RehearsedPhase, ...]
    diagnostics: Diagnostics


class CounterExample(msgspec.Struct, frozen=True, kw_only=True):
    """A ball that shows that an expectation does not hold."""

    seed: int  # of the draws
    ball: int  # its place among them
    what: str


class TestedExpectation(Expectation, frozen=True, kw_only=True):
    """An expectation, tested by drawn balls where it speaks of a share."""

    interval: Pair | None  # of the share, 95 %
    counter_example: CounterExample | None


class TestedProgram(msgspec.Struct, frozen=True, kw_only=True):
    """One program."""

    file: str
    ok: bool
    diagnostics: Diagnostics
    expectations: tuple[TestedExpectation, ...]


class Test(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript test`: what programs expect of themselves."""

    ok: bool  # every program passed, and every expectation holds
    programs: tuple[TestedProgram, ...]


class Compared(msgspec.Struct, frozen=True, kw_only=True):
    """Two records of one lesson beside each other."""

    left: str  # which record
    right: str  # which other one
    same: bool  # nothing parts beyond the tolerances, and something was compared
    balls: int
    compared: tuple[str, ...]  # the fields that both know
    differences: tuple[Difference, ...]


class Compare(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript compare`: one lesson as planned, as rehearsed and as it was."""

    ok: bool  # all are the same
    comparisons: tuple[Compared, ...]


class BaselineKeep(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript baseline keep`."""

    ok: bool  # true
    written: dict[str, bool]  # each file, and whether it is new: one that was there is left


class HeldProgram(msgspec.Struct, frozen=True, kw_only=True):
    """One program beside what was kept of it."""

    program: str  # its name in the folder
    changes: tuple[Change, ...]
    made_with: tuple[Change, ...]  # versions and hashes that are not what they were


class BaselineHold(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript baseline hold`."""

    ok: bool  # nothing is other than it was kept
    programs: tuple[HeldProgram, ...]


class BaselineAccept(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript baseline accept`."""

    ok: bool  # true
    program: str  # its name in the folder
    taken: int  # changes taken over
    left: int  # changes that are left


class Withstood(msgspec.Struct, frozen=True, kw_only=True):
    """What was expected of a program under a fault."""

    expectation: str  # as it is written
    holds: bool  # it is so
    figure: str  # on which that rests


class UnderFault(msgspec.Struct, frozen=True, kw_only=True):
    """One program under one fault."""

    file: str
    fault: str  # its name
    where: str  # in the lesson it strikes
    what: str  # strikes
    ok: bool
    standing: str  # of all that is expected
    ending: str  # how the lesson ended
    expectations: tuple[Withstood, ...]


class RefusedProgram(msgspec.Struct, frozen=True, kw_only=True):
    """A program that did not pass, and was not rehearsed."""

    file: str
    diagnostics: Diagnostics


class Withstand(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript withstand`: what programs withstand."""

    ok: bool  # every expectation holds under every fault
    faults: tuple[UnderFault, ...]  # each program under each fault
    refused: tuple[RefusedProgram, ...]  # programs that did not pass


class TouchedKind(msgspec.Struct, frozen=True, kw_only=True):
    """Rules, phases, transitions, states or words: how many of a kind programs try."""

    kind: str  # of what
    share: float
    touched: tuple[str, ...]  # by name
    untouched: tuple[str, ...]  # by name


class Touched(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript touched`: what programs leave untried."""

    ok: bool  # as much is tried as was asked for
    programs: int
    touched: tuple[TouchedKind, ...]  # kind by kind


class PartedDecision(msgspec.Struct, frozen=True, kw_only=True):
    """The first decision of a launcher's host that is not the one of then."""

    launcher: int  # its place in the program, from 0
    decision: int  # its number, from 1
    at_s: float  # since the link was opened
    then: str  # in words
    now: str  # in words
    undecided: str  # why that says nothing of the host; empty where it does


class Relive(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript relive`: a capture lived through again."""

    ok: bool  # every decision is the one of then
    parted: tuple[PartedDecision, ...]  # launcher by launcher, where it is not


class Flight(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript flight`: where one ball lands. Heights are of its centre."""

    carry_m: float  # from the mouth along the azimuth thrown
    drift_m: float  # to the right of the throw
    flight_s: float  # to the first bounce
    apex_m: float
    speed_at_bounce_mps: float
    angle_at_bounce_deg: float  # below level
    landing_m: Pair
    warnings: Diagnostics
    ball: str  # kind
    wear: str
    model: str  # of drag and lift
    air_density_kgm3: float
    wind_mps: Pair


DOCUMENTS = {
    "check": Check,
    "check-several": CheckSeveral,
    "season": SeasonVerdict,
    "playable": Playable,
    "certify": Certify,
    "draw": Draw,
    "rehearse": Rehearse,
    "test": Test,
    "compare": Compare,
    "baseline-keep": BaselineKeep,
    "baseline-hold": BaselineHold,
    "baseline-accept": BaselineAccept,
    "flight": Flight,
    "withstand": Withstand,
    "touched": Touched,
    "relive": Relive,
}
