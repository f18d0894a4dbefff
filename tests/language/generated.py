"""Programs made up at random, with random blanks and comments: every construct of the language."""

from __future__ import annotations

import random

UNITS = {
    "length": ("m", "cm", "ft", "in", "yd"),
    "speed": ("km/h", "m/s", "mph"),
    "spin": ("rpm", "rev/s"),
    "time": ("s", "min", "ms"),
    "angle": ("degrees", "deg"),
}
PLACES = (
    "2 m inside baseline, 1 m inside ad sideline",
    "middle of deuce box",
    "1 m behind service line, 0.5 m ad of centre line",
    "at 1.2 m, 9.5 m",
    "3 m from net, 1 m to deuce",
    "forehand corner",
    "1 m to backhand of centre line, 2 m inside baseline",
)


class Maker:
    """One random program; the same seed makes the same program."""

    def __init__(self, seed: int) -> None:
        self.rng = random.Random(seed)
        self.deep = 0

    def pick(self, *choices: str) -> str:
        return self.rng.choice(choices)

    def some(self, make, low: int, high: int) -> str:
        return " ".join(make() for _ in range(self.rng.randint(low, high)))

    def value(self, kind: str, layers: int = 0) -> str:
        roll = self.rng.random()
        if roll < 0.55 or layers > 3:
            number = self.pick("1", "2.5", ".75", "40", "3", "1e2")
            return f"{number} {self.rng.choice(UNITS[kind])}" if kind in UNITS else number
        if roll < 0.7:
            return self.pick("gap", "depth", "lib.tempo", "pace-2")
        if roll < 0.8:
            return f"({self.value(kind, layers + 1)})"
        if roll < 0.85:
            return f"-{self.value(kind, 9)}"
        sign = self.pick("+", "-", "*", "/", "\u2212", "\u00d7")
        return f"{self.value(kind, layers + 1)} {sign} {self.value(kind, layers + 1)}"

    def feed_name(self) -> str:
        return self.pick("deep", "wide", "mirror deep", "lib.drop", "short-ball")

    def text(self) -> str:
        return self.pick(
            '"Recover"', '"split step, then go"', "\u201cTurn\u201d", '"a \\" b"', '""'
        )

    def feed_line(self) -> str:
        return self.pick(
            f"land {self.pick(*PLACES)}",
            f"speed {self.value('speed')}",
            f"spin top {self.value('spin')}, side ad {self.value('spin')}",
            "spin flat",
            f"apex {self.value('length')}",
            f"flight {self.value('time')}",
            f"contact {self.value('length')} high, 2 m behind bounce",
            f"within {self.value('length')}",
            "arc high",
            f"receiver {self.pick(*PLACES)}",
            f"vary place {self.value('length')}, seed 4",
        )

    def condition(self) -> str:
        return self.pick(
            "5 in a row in",
            "10 in",
            "3 net in a row",
            "70 % in of last 10",
            "4 in target in a row",
            "n long of deep",
            "2 in a row left of mirror wide",
        )

    def block(self) -> str:
        self.deep += 1
        inside = self.some(self.step, 0 if self.deep > 3 else 1, 3)
        self.deep -= 1
        return "{ " + inside + " }"

    def step(self) -> str:
        simple = (
            lambda: f"send {self.feed_name()} after {self.value('time')}",
            lambda: f"send {self.feed_name()} after {self.value('time')} vary {self.value('time')}",
            lambda: (
                f"send {self.feed_name()} when coach taps, at most {self.value('count')}, "
                f"not before {self.value('time')}"
            ),
            lambda: f"show speed of {self.feed_name()}",
            lambda: f"rest {self.value('time')}",
            lambda: f"say {self.text()}",
            lambda: "collect",
            lambda: (
                f"send by level {{ club: {self.feed_name()} otherwise: {self.feed_name()} }} "
                f"after {self.value('time')}"
            ),
            lambda: f"break {self.value('time')} {self.pick('', self.text())}",
            lambda: f"wait for coach {self.text()}",
            lambda: f"alternate({self.value('count')}, gap = {self.value('time')})",
            lambda: f"mirror lib.warm_up({self.feed_name()})",
            lambda: "pair()",
            lambda: f"step {self.pick('up', 'down')} {self.pick('climb', 'lib.climb')}",
            lambda: f"step up climb of {self.text()}",
        )
        if self.deep > 3 or self.rng.random() < 0.6:
            return self.rng.choice(simple)()
        return self.rng.choice(
            (
                lambda: f"repeat {self.value('count')} {self.block()}",
                lambda: f"choose {self.pick('', 'seed 7')} {{ {self.some(self.option, 1, 3)} }}",
                lambda: f"shuffle {self.block()}",
                lambda: f"until {self.condition()}, at most {self.value('count')} {self.block()}",
                lambda: f"when {self.condition()} {self.block()}",
                lambda: f"when {self.text()} has {self.condition()} {self.block()}",
                lambda: f"when {self.condition()} {self.block()} otherwise {self.block()}",
                lambda: f"rotate group every {self.value('time')} {self.between()} {self.block()}",
                lambda: f"rotate group every 6 balls {self.between()} {self.block()}",
                lambda: f"for each player {self.block()}",
                lambda: f"for {self.value('time')} {self.block()}",
                lambda: (
                    f"rotate stations every {self.value('time')} {self.between()} {{ "
                    f'station "s" at {self.pick("ad run-off", "1 m, 9 m", *PLACES[:3])} '
                    f"{{ work {self.text()} for 2 min work {self.text()} rest 9 s }} "
                    f'station "d" on launcher x {self.block()} }}'
                ),
                lambda: f'for {self.pick("each player except ", "")}"A", "b c" {self.block()}',
                lambda: f'together {{ station "a" on launcher x {self.block()} }}',
            )
        )()

    def between(self) -> str:
        return self.pick("", ", collect between", "collect between")

    def target(self) -> str:
        where = self.pick("area backcourt", "between 2 m from net, 1 m to ad and at 1 m, 9 m")
        return f"target {self.text()} {{ {where} {self.pick('', 'marked ' + self.text())} }}"

    def goal(self) -> str:
        shot = self.pick("in", "in court", "in target", f"in {self.text()}")
        return "goal " + self.pick(
            f"7 of n {shot}", f"5 in a row {shot}", f"n {shot} in a row", f"70 % {shot} of last 20"
        )

    def score(self) -> str:
        head = self.pick("", "to 11", "to n in pairs", "in pairs")
        return f"score {head} {{ in target: 2 in: 1 net: launcher 2 error: launcher 1 }}"

    def exercise(self) -> str:
        planned = self.pick("", f"for {self.value('time')}", f"for {self.value('time')},")
        repeats = self.pick("", "at most 1 repeat", f"at most {self.value('count')} repeats")
        notes = self.pick(
            "",
            f"aim {self.text()}",
            f"watch {self.text()} aim {self.text()}",
            f"harder {self.text()} aim {self.text()} easier {self.text()}",
        )
        notes += f" {self.pick('', self.target(), f'target {self.text()}')}"
        notes += f" {self.pick('', self.goal())} {self.pick('', self.score())}"
        return (
            f"exercise {self.text()} {planned} {repeats} {{ {notes} {self.some(self.step, 0, 3)} }}"
        )

    def option(self) -> str:
        return f"{self.pick('1', '2', 'n')}: {self.pick(self.block(), self.step())}"

    def expectation(self) -> str:
        subject = self.pick(self.feed_name(), "every feed")
        return self.pick(
            "balls <= 60",
            "time \u2264 50 min",
            f"{subject} clears net by {self.value('length')}",
            f"95 % of {subject} within {self.value('length')}",
            f"{subject} arrives between 0.7 m and {self.value('length')}",
            f"{subject} bounces inside ad backcourt",
            "every player gets between 4 and 9 balls",
            "no player waits longer than 3 min",
            f"never more than 3 of {subject} in a row",
        )

    def season_line(self) -> str:
        return self.pick(
            f"every monday, friday at 17:00 for 60 min in {self.text()}",
            "every sunday and monday at 9.30",
            "from 2027-01-11",
            "no lesson on 2027-02-15, 17.2.2027 to 2027-02-19",
        )

    def week(self) -> str:
        lines = ("use", "watch", "aim", "monday", "friday")
        inside = self.some(lambda: f"{self.rng.choice(lines)} {self.text()}", 0, 3)
        return f"{self.pick('week 3', 'weeks 1 to 2')} {self.text()} {{ {inside} }}"

    def suits_line(self) -> str:
        return self.pick(
            f"theme {self.text()}, {self.text()}",
            f"needs {self.text()}",
            "stage red to county",
            "stage green, improver to club",
            "players 2 to 6",
            "player 1",
        )

    def item(self) -> str:
        return self.rng.choice(
            (
                lambda: f"title {self.text()}",
                lambda: "seed 7",
                lambda: f"suits {{ {self.some(self.suits_line, 0, 3)} }}",
                lambda: 'use "library/x.feed" as lib',
                lambda: f"allow net-clearance because {self.text()}",
                lambda: f"require scatter {self.value('length')}",
                lambda: f"let gap = {self.value('time')}",
                lambda: (
                    "court { lines doubles surface clay altitude 640 m wind head 3 m/s, ad 1 m/s "
                    "fence 3 m high, 6 m behind baseline side room 3 m neighbours ad, deuce }"
                ),
                lambda: "balls { stage green load 60 wear 20 % }",
                lambda: f"launcher x {{ profile {self.text()} stands 1 m behind centre mark }}",
                lambda: 'group { players "A", "B" stage green ages 9 to 11 left-handed "A" }',
                lambda: (
                    'group { player "A" { level club receiver 1 m behind centre mark left-handed '
                    'speaks de } player "B" level improver }'
                ),
                lambda: 'group { players "A", "B" subgroup "both of them" "A", "B" }',
                lambda: "coach { walks deuce alley }",
                lambda: 'keep out "bench" { area ad run-off height 2 m }',
                self.target,
                lambda: f"feed deep {{ {self.some(self.feed_line, 0, 5)} }}",
                lambda: f"feed wide = mirror lib.deep with {{ {self.some(self.feed_line, 0, 3)} }}",
                lambda: "feed short-ball = deep",
                lambda: f"progression climb {{ {self.feed_name()}, mirror lib.drop, deep }}",
                lambda: f"pattern alternate(n: count = 6, f: feed) {self.block()}",
                lambda: f"pattern pair() {self.block()}",
                lambda: f"lesson {self.block()}",
                lambda: f"lesson of {self.value('time')} {{ {self.exercise()} {self.exercise()} }}",
                lambda: (
                    f"season {self.text()} {{ {self.some(self.season_line, 0, 4)} "
                    f"{self.some(self.week, 0, 3)} }}"
                ),
                lambda: f"expect {{ {self.some(self.expectation, 0, 4)} }}",
            )
        )()

    def program(self) -> str:
        """A text that the grammar takes; its names and values need not make sense."""
        return self.shaken("feedscript 1\n" + "\n".join(self.item() for _ in range(6)))

    def shaken(self, text: str) -> str:
        """The text with its blanks, and so its layout, changed at random; comments put in."""
        rows = ("in a row", "in target", "by level", "when coach taps", "step up", "step down")
        rows += ("collect between",)
        for phrase in (*rows, "to backhand of", "middle of", "ad of", "to ad", "to deuce"):
            text = text.replace(phrase, phrase.replace(" ", "\x01"))  # one word each
        out, quoted = [], False
        for character in text:
            if character in '"\u201c\u201d' and (not out or out[-1] != "\\"):
                quoted = not quoted
            if character not in " \n" or quoted:
                out.append(character)
                continue
            roll = self.rng.random()
            if roll < 0.08:
                out.append(self.pick(" # note\n", "\n# one line\n  # and one\n", "\n\n\n", "\t"))
            else:
                out.append("\n" if roll < 0.16 else "  " if roll < 0.3 else character)
        return "".join(out).replace("\x01", " ")
