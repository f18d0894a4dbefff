"""The plan: a small tree of steps over a table of aimed feeds.

The engine interprets this tree (``feedscript.plan.interpreter.interpret``) and never aims again.
Serialised as canonical JSON (``feedscript.plan.canonical``), the same program, profile and seed
give the same bytes everywhere.

Time in a plan is counted in whole milliseconds. Every station has a cursor. A ``Send`` leaves
``after_s`` past the cursor and moves the cursor there; a ``Rest`` moves it on. What a person takes
(``Collect``, ``ShowSpeed``) is not counted: the cursor goes on from the moment the person is done.
Only a break's own time is.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TypeAlias

import msgspec

from feedscript.club_library import Pin
from feedscript.launcher.setting import Setting
from feedscript.plan.certificate import Certificate, Requirement, Waiver
from feedscript.plan.scene import Area, Balls, Court, Group, PlacedLauncher
from feedscript.plan.times import milliseconds

PLAN_VERSION = 1


class Ellipse(msgspec.Struct, frozen=True, kw_only=True):
    """One-sigma landing scatter: half axes, and the turn of the major one from x towards y."""

    major_m: float
    minor_m: float
    turn_deg: float


class AimedFeed(msgspec.Struct, frozen=True, kw_only=True):
    """One feed, aimed: what is asked of the launcher and what the ball then does.

    ``name`` is unique in a plan. ``wish`` is the name in the program; the wish of a varied,
    mirrored or several launchers' feed has several aimed feeds.
    """

    name: str
    wish: str = ""
    launcher: int  # index into Plan.launchers
    landing_m: tuple[float, float]
    speed_mps: float
    top_rpm: float  # about the horizontal axis; backspin is negative
    side_rpm: float  # about the vertical; positive curves to the ad side (+x)
    elevation_deg: float
    azimuth_deg: float
    setting: Setting
    net_clearance_m: float
    flight_s: float
    apex_m: float
    speed_at_bounce_mps: float
    scatter: Ellipse
    line: int  # where the program defines it
    within_m: float | None = None  # how near its place the program wants it
    receiver_m: tuple[float, float] | None = None  # where the player waits for it


class Result(StrEnum):
    """What became of a player's shot: in the exercise's target, in court, or one of the trade's
    four errors. What is in the target is in court too."""

    TARGET = "target"
    IN = "in"
    NET = "net"
    LONG = "long"
    LEFT = "left"
    RIGHT = "right"

    @property
    def good(self) -> bool:
        """Whether it came down in court."""
        return self in GOOD


#: What is in court.
GOOD = (Result.TARGET, Result.IN)


class Condition(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """At least ``at_least`` of the last ``window`` recorded balls (null: of all) were ``results``.

    "5 in a row in" is 5 of the last 5. A ball that nobody recorded neither counts nor breaks a row.
    With ``feeds`` only balls of those feeds are looked at; with ``player`` all balls that this one
    has had in the lesson, wherever the question stands.
    """

    results: tuple[Result, ...]
    at_least: int
    window: int | None = None
    negated: bool = False
    feeds: tuple[int, ...] | None = None
    player: int | None = None  # index into Group.players


class Progression(msgspec.Struct, frozen=True, kw_only=True):
    """Feeds from the easiest to the hardest, its rungs, by the names the program has for them."""

    name: str
    rungs: tuple[str, ...]


class Target(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What players aim at with their own shots: ground on the launcher's side, in court.

    ``outlines_m`` are its pieces in court axes; ``left_outlines_m`` those of a left-hander, where
    its sides are the player's own. ``marked``: with what it is laid out.
    """

    name: str
    outlines_m: tuple[tuple[tuple[float, float], ...], ...]
    left_outlines_m: tuple[tuple[tuple[float, float], ...], ...] = ()
    marked: str = ""

    def outlines_for(self, *, left: bool) -> tuple[tuple[tuple[float, float], ...], ...]:
        """The pieces that a player of this hand aims at."""
        return self.left_outlines_m if left and self.left_outlines_m else self.outlines_m

    def holds(self, point_m: tuple[float, float], *, left: bool) -> bool:
        """Whether a shot that came down there is in the target; on its edge is in."""
        x_m, y_m = point_m
        for outline in self.outlines_for(left=left):
            xs, ys = zip(*outline, strict=True)
            if min(xs) <= x_m <= max(xs) and min(ys) <= y_m <= max(ys):
                return True
        return False


class Goal(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """At least ``at_least`` of a player's last ``of`` recorded balls (null: of all) in the target,
    or in court. Written ``in_a_row``, as a ``share``, or as a number ``of`` so many."""

    at_least: int
    of: int | None = None
    in_target: bool = False
    in_a_row: bool = False
    share: float | None = None

    @property
    def condition(self) -> Condition:
        """The same as a question to a player's record."""
        results = (Result.TARGET,) if self.in_target else GOOD
        return Condition(results=results, at_least=self.at_least, window=self.of)


class Score(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What a ball gives by its result: ``points`` to its player, ``against`` to the launcher.

    With ``pairs`` two players who follow each other in the group have one score together. The
    game is over when somebody has ``to``.
    """

    points: dict[Result, int]
    against: dict[Result, int] = {}
    to: int | None = None
    pairs: bool = False


class Node(msgspec.Struct, frozen=True, kw_only=True, tag_field="step"):
    """What every step has: the line of the program it stands on."""

    line: int


class Fed(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What players of these kinds get instead; those who stand on this rung of a progression."""

    kinds: tuple[int, ...]
    feeds: tuple[int, ...]
    left_feeds: tuple[int, ...] = ()
    rung: int = 0


class Send(Node, frozen=True, kw_only=True, omit_defaults=True, tag="send"):
    """One ball, ``after_s`` past the cursor, as [least, most] (equal unless the gap is varied).

    ``feeds`` are the variants of one wish, each as likely; a left-hander gets one of
    ``left_feeds``, when there are any. ``own`` has what players of some kinds get instead, by
    their level or by where they wait, and what is sent on each further rung of a ``progression``
    (index into Plan.progressions) that has so many ``rungs``.
    """

    feeds: tuple[int, ...]
    after_s: tuple[float, float]
    left_feeds: tuple[int, ...] = ()
    own: tuple[Fed, ...] = ()
    progression: int | None = None
    rungs: int = 1

    def feeds_of(self, kind: int, *, left: bool, rung: int = 0) -> tuple[int, ...]:
        """The feeds of which a player of this kind and hand gets one on this rung."""
        its: Send | Fed = self
        if self.own:
            there = [one for one in self.own if one.rung == rung]
            its = next((one for one in there if kind in one.kinds), there[0] if rung else self)
        return its.left_feeds if left and its.left_feeds else its.feeds

    def feeds_on_any_rung(self, kind: int, *, left: bool) -> tuple[int, ...]:
        """The feeds of which a player of this kind and hand gets one, whatever rung it is."""
        found: dict[int, None] = {}
        for rung in range(self.rungs):
            found.update(dict.fromkeys(self.feeds_of(kind, left=left, rung=rung)))
        return tuple(found)

    def all_feeds(self) -> tuple[int, ...]:
        """Every feed that anybody may get."""
        found = (*self.feeds, *self.left_feeds)
        for one in self.own:
            found += (*one.feeds, *one.left_feeds)
        return found


class OnRequest(Node, frozen=True, kw_only=True, omit_defaults=True, tag="on-request"):
    """Up to ``at_most`` balls, each when a person asks for it; a person may say enough before.

    Each is the ``send``, whose gap is the least. With ``lasts_s`` they are over so long after they
    began at the latest, and what a person takes is counted: so they stand in a station, and in
    whatever else has a time of its own. Without it how long a person takes beyond the least gaps is
    not counted.
    """

    at_most: int
    send: Send
    lasts_s: float | None = None

    @property
    def gap_ms(self) -> int:
        """The least from one of them to the next, and to the first."""
        return milliseconds(self.send.after_s[0])


class ShowSpeed(Node, frozen=True, kw_only=True, tag="show-speed"):
    """One ball watched from the side with nobody in front; a person confirms what was seen."""

    feed: int


class Rest(Node, frozen=True, kw_only=True, tag="rest"):
    """Nothing leaves for this long."""

    seconds: float


class Say(Node, frozen=True, kw_only=True, tag="say"):
    """Words for the players; takes no time of the cursor.

    ``players`` (indices into Group.players): whose work it is, at a station without a launcher.
    """

    text: str
    players: tuple[int, ...] = ()


class Collect(Node, frozen=True, kw_only=True, omit_defaults=True, tag="collect"):
    """The launcher is made safe, balls are picked up, a person arms it again.

    A break has its time, ``break_s``, which moves the cursor on; what people take beyond it does
    not. A break and a wait for the coach have ``words`` for everyone.
    """

    words: str = ""
    break_s: float | None = None

    @property
    def break_ms(self) -> int:
        """The time of its own that it has: a break's."""
        return milliseconds(self.break_s or 0.0)


class Repeat(Node, frozen=True, kw_only=True, tag="repeat"):
    """The body, so many times (none is allowed)."""

    times: int
    body: tuple[Step, ...]


class Option(msgspec.Struct, frozen=True, kw_only=True):
    """One branch of a choice; its odds are its weight over the sum of the weights."""

    weight: int
    body: tuple[Step, ...]


class Choose(Node, frozen=True, kw_only=True, tag="choose"):
    """One of the options, by chance. A seed of its own makes its draws independent of others."""

    options: tuple[Option, ...]
    seed: int | None = None


class Shuffle(Node, frozen=True, kw_only=True, tag="shuffle"):
    """Every item once, in an order drawn by chance."""

    items: tuple[tuple[Step, ...], ...]
    seed: int | None = None


class Until(Node, frozen=True, kw_only=True, tag="until"):
    """Passes of the body until the condition has held since the block began, or ``at_most``.

    The condition sees only balls sent by this block, and is looked at after each pass.
    """

    condition: Condition
    at_most: int
    body: tuple[Step, ...]


class When(Node, frozen=True, kw_only=True, tag="when"):
    """One body if the condition holds now, else the other.

    The condition sees the balls of the turn so far, or of the station or lesson outside a turn.
    """

    condition: Condition
    then: tuple[Step, ...]
    otherwise: tuple[Step, ...] = ()


class Move(Node, frozen=True, kw_only=True, tag="move"):
    """A player goes one rung up or down a progression, and stays on its last and its first.

    ``progression`` is an index into Plan.progressions. None: whoever is on turn.
    """

    progression: int
    up: bool
    player: int | None = None


class Turns(Node, frozen=True, kw_only=True, tag="turns"):
    """A turn for each player here: the body ``passes`` times.

    With ``every_s`` a turn takes exactly that long: what is left after the passes is spent
    changing over. ``slots`` is the number of turns, the players there are as the program says.
    With ``players`` (indices into Group.players) each of these has one turn, and those who are
    ``named`` nobody else; else whoever comes late has one too.
    """

    slots: int
    passes: int
    body: tuple[Step, ...]
    every_s: float | None = None
    players: tuple[int, ...] | None = None
    named: bool = False


class Station(msgspec.Struct, frozen=True, kw_only=True):
    """One of several bodies that run side by side, each on a launcher of its own.

    Without one, nothing is sent there: all its players work by themselves, and nobody has a turn.
    """

    name: str
    launcher: int | None
    players: tuple[int, ...]  # indices into Group.players
    body: tuple[Step, ...]
    line: int

    @property
    def counted(self) -> int:
        """The launcher whose balls count there; any will do where nothing is sent."""
        return self.launcher or 0


class Together(Node, frozen=True, kw_only=True, tag="together"):
    """All stations begin at once; the step ends ``for_s`` later, when the slowest is surely done.

    Collect, ShowSpeed and another Together may not stand inside.
    """

    stations: tuple[Station, ...]
    for_s: float


class Exercise(Node, frozen=True, kw_only=True, omit_defaults=True, tag="exercise"):
    """A named part of the lesson; stands among the plan's own steps only.

    A person may leave it, begin it again (``repeats`` times at most) or jump to it. Such a jump
    goes over a collect: the launcher is made safe, balls are picked up, a person arms it again.
    """

    title: str
    aim: str = ""
    watch: str = ""
    easier: str = ""
    harder: str = ""
    planned_s: float | None = None
    repeats: int
    target: Target | None = None
    goals: tuple[Goal, ...] = ()
    score: Score | None = None
    body: tuple[Step, ...]


Step: TypeAlias = (
    Send
    | OnRequest
    | ShowSpeed
    | Rest
    | Say
    | Collect
    | Repeat
    | Choose
    | Shuffle
    | Until
    | When
    | Move
    | Turns
    | Together
    | Exercise
)


class Bounds(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What any run of the plan lies within; the time that people take is not counted.

    Those of a run as written; ``repeated_balls`` and ``repeated_s`` are the most with every repeat
    of its exercises used, where there are any.
    """

    balls: tuple[int, int]
    time_s: tuple[float, float]
    fastest_mps: float  # of all runs
    fastest_least_mps: float = 0.0  # the fastest ball of the gentlest run
    repeated_balls: int | None = None
    repeated_s: float | None = None

    @property
    def most_balls(self) -> int:
        """The most balls of any run, every repeat used."""
        return self.balls[1] if self.repeated_balls is None else self.repeated_balls


class Plan(msgspec.Struct, frozen=True, kw_only=True):
    """Everything the engine needs, and nothing it must work out."""

    version: int
    title: str
    program_hash: str
    seed: int
    flight_model: str
    court: Court
    balls: Balls
    group: Group
    launchers: tuple[PlacedLauncher, ...]
    keep_outs: tuple[Area, ...] = ()
    waivers: tuple[Waiver, ...] = ()
    requirements: tuple[Requirement, ...] = ()
    feeds: tuple[AimedFeed, ...]
    steps: tuple[Step, ...]
    bounds: Bounds
    planned_s: float | None = None  # the time meant for the whole lesson
    progressions: tuple[Progression, ...] = ()
    from_club: tuple[Pin, ...] = ()  # the texts of the club's library it was made from, by hash
    certificate: Certificate | None = None
