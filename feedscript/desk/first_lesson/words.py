"""A first lesson as a program's text."""

from __future__ import annotations

import math
from collections.abc import Sequence
from textwrap import wrap

import msgspec

from feedscript.desk.first_lesson.answers import Answers
from feedscript.desk.first_lesson.exercises import Exercise
from feedscript.language.resolve.declarations import STAGES
from feedscript.language.tools.formatter import format_text

#: Children stand where their ball comes down to them. As in the library's own files.
_RECEIVER = {"red": "1.5 m behind centre mark", "orange": "0.5 m behind centre mark"}
#: Courts with lines of their own.
_LINES = ("red", "orange", "green")
BREAK_MIN = 3  # of every break
#: What those do who are not at the launcher; no ball is needed for it.
_WORKS = (
    ("shadow", "ad run-off", "Shadow it: split, turn, swing, back to the middle."),
    ("feet", "deuce run-off", "Quick feet: ten steps to either side, then watch one turn."),
)
_WORK_S = 60
#: Of a turn, where an exercise comes a second time.
AGAIN_BALLS = 6
_BEAT_S = 6  # from ball to ball, where this lesson says it
_WIDE = 96  # of a comment


class Part(msgspec.Struct, frozen=True, kw_only=True):
    """An exercise as this lesson has it."""

    exercise: Exercise
    minutes: int
    numbers: tuple[tuple[str, int], ...] = ()  # by the parameter's name
    stations: int = 1
    balls: int = 6  # of a turn, at stations
    again: bool = False  # the second time in this lesson
    spin: str = ""  # the launcher's, where it has one spin for each speed
    gap_s: int = 0  # from ball to ball, where the launcher's head is too slow for its own

    @property
    def every_min(self) -> float:
        """At stations: how long a round is, in half minutes."""
        return max(1, (2 * self.minutes - 1) // self.stations) / 2

    @property
    def beat_s(self) -> int:
        """From ball to ball, where this lesson's own words say it."""
        return max(_BEAT_S, self.gap_s)

    @property
    def feed(self) -> str:
        """What its feed is called in this lesson."""
        name = self.exercise.name
        return f"{name}_ball" if self.has_own_feed else f"{name}.{self.exercise.shown}"

    @property
    def has_own_feed(self) -> bool:
        """Whether this lesson gives the exercise a feed of its own."""
        return bool(self.exercise.place or self.spin)


def program_text(
    answers: Answers,
    launcher: str,
    load: int,
    parts: Sequence[Part],
    *,
    breaks: Sequence[int] = (),
    notes: Sequence[str] = (),
    shown: Part | None = None,
) -> str:
    """The program, as ``tidy`` would write it.

    ``breaks``: after which parts there is one. ``shown``: whose ball is watched before all others,
    without it the first part's.
    """
    exercises = list({part.exercise.name: part for part in parts}.values())
    lines = [
        "feedscript 1",
        f"title {quoted(_title(answers))}",
        "",
        "# Laid out from a coach's answers. Every word may be changed; the check looks again.",
        *(f"# {line}" for note in notes for line in wrap(f"{note[:1].upper()}{note[1:]}.", _WIDE)),
        "",
        *(f'use "{part.exercise.file}"' for part in exercises),
        "",
        _court(answers),
        f"balls {{ {_ball(answers)}  load {load} }}",
        f"launcher {{ profile {quoted(launcher)}  stands 1 m behind centre mark }}",
        *_group(answers),
        "",
        *(line for part in exercises for line in _own_feed(part)),
        f"lesson of {answers.minutes} min {{",
        f"show speed of {(shown or parts[0]).feed}",
        "",
        *_lesson(parts, breaks),
        "}",
        "",
        "expect {",
        f"time <= {answers.minutes} min",
        "}",
    ]
    text, found = format_text("\n".join(lines) + "\n", "first lesson")
    assert text is not None, found
    return text


def quoted(words: str) -> str:
    """Anybody's words as a text of the language."""
    return '"' + words.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _title(answers: Answers) -> str:
    about = answers.theme[:1].upper() + answers.theme[1:] if answers.theme else "A first lesson"
    many = "one player" if answers.players == 1 else f"{answers.players} players"
    return f"{about}: {many}, {answers.who}"


def _court(answers: Answers) -> str:
    lines = f"lines {answers.who}  " if answers.who in _LINES else ""
    room = "  side room 4 m" if answers.players > 1 else ""
    return f"court {{ {lines}surface hard  fence 3 m high, 6 m behind baseline{room} }}"


def _ball(answers: Answers) -> str:
    return f"stage {answers.who}" if answers.who in STAGES else "type 2"


def _group(answers: Answers) -> list[str]:
    word = "stage" if answers.who in STAGES else "level"
    names = ", ".join(map(quoted, answers.names))
    place = _RECEIVER.get(answers.who, "1 m behind centre mark")
    return ["group {", f"players {names}", f"{word} {answers.who}", f"receiver {place}", "}"]


def _own_feed(part: Part) -> list[str]:
    """The exercise's feed, with the place to stand that its own file gives it, and the spin."""
    one = part.exercise
    if not part.has_own_feed:
        return []
    own = [f"spin {part.spin}"] if part.spin else []
    own += [f"receiver {one.place}"] if one.place else []
    return [f"feed {part.feed} = {one.name}.{one.shown} with {{", *own, "}", ""]


def _lesson(parts: Sequence[Part], breaks: Sequence[int]) -> list[str]:
    lines: list[str] = []
    for number, part in enumerate(parts, start=1):
        lines += _part(part)
        if number in breaks:
            lines += [f'break {BREAK_MIN} min "water"', ""]
        elif number < len(parts):
            lines.append("collect")
    return lines


def _part(part: Part) -> list[str]:
    if part.stations > 1:
        return _stations(part)
    return _again(part) if part.again else _call(part)


def _call(part: Part) -> list[str]:
    one = part.exercise
    given = [f"{one.ball} = {part.feed}"] if part.has_own_feed else []
    given += [f"{name} = {number}" for name, number in part.numbers]
    given += [f"gap = {part.gap_s} s"] if part.gap_s else []
    given.append(f"minutes = {part.minutes} min")
    return [f"{one.name}.{one.name}({', '.join(given)})"]


def _again(part: Part) -> list[str]:
    """The exercise's ball once more, in words of this lesson's own: no two share a title."""
    ((_, turns),) = part.numbers
    balls = f"repeat {AGAIN_BALLS} {{ send {part.feed} after {part.beat_s} s }}"
    turn = f"for each player {{ {balls}  rest 12 s }}"
    return [
        *_head(part, "again"),
        _goal(AGAIN_BALLS),
        'say "Once more: what will you do otherwise?"',
        turn if turns == 1 else f"repeat {turns} {{ {turn} }}",
        "}",
    ]


def _stations(part: Part) -> list[str]:
    """The exercise's ball at the launcher; the others work beside the court, and all go round."""
    balls = f"repeat {part.balls} {{ send {part.feed} after {part.beat_s} s }}"
    return [
        *_head(part, "again" if part.again else ""),
        _goal(part.balls),
        f'say "{part.stations} groups. Everybody moves on at the call."',
        f"rotate stations every {part.every_min:g} min {{",
        f'station "launcher" {{ {balls}  rest 12 s }}',
        *(
            f'station "{name}" at {place} {{ work "{what}" for {_WORK_S} s  rest 10 s }}'
            for name, place, what in _WORKS[: part.stations - 1]
        ),
        "}",
        "}",
    ]


def _head(part: Part, more: str) -> list[str]:
    said = part.exercise.said
    title = ", ".join(word for word in (said.title, more) if word)
    return [
        f"exercise {quoted(title)} for {part.minutes} min, at most 0 repeats {{",
        *(
            f"{word} {quoted(getattr(said, word))}"
            for word in ("aim", "watch", "easier", "harder")
            if getattr(said, word)
        ),
    ]


def _goal(balls: int) -> str:
    """More than half of a turn."""
    return f"goal {math.ceil(0.6 * balls)} of {balls} in court"
