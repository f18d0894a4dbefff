"""No rim lets a hidden character through: not the commands, the screens, the page, nor any file.

What is hidden is judged here by the Unicode database alone, not by the project's own list.
"""

from __future__ import annotations

import csv
import io
import json
import re
import sys
import unicodedata
from pathlib import Path
from typing import Any

import msgspec
import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rich.console import Console

from feedscript.check import testing
from feedscript.check.check_program import check_program
from feedscript.cli import verbs
from feedscript.console.access import Access, Role
from feedscript.console.messages import encode
from feedscript.diagnostics import Diagnostic
from feedscript.journal.store import SessionStart, open_journal
from feedscript.review.report.junit import junit
from feedscript.session.operator.view import for_the_group
from feedscript.terminal.plain_lines import PlainLines
from feedscript.terminal.screen import render
from feedscript.terminal.terminal_state import TerminalState
from feedscript.visible import json_visible, on_one_line, visible
from tests.review.calendar import write_ball
from tests.review.conftest import written as written
from tests.session.operator.seen_views import a_state

JOINERS = "\u200c\u200d"
#: PropList.txt of Unicode, Prepended_Concatenation_Mark: formats that are seen.
SEEN_SIGNS = (
    "\u0600\u0601\u0602\u0603\u0604\u0605\u06dd\u070f\u0890\u0891\u08e2\U000110bd\U000110cd"
)


def is_hidden(character: str) -> bool:
    seen = character in JOINERS or character in SEEN_SIGNS or character in "\n\t"
    return unicodedata.category(character) in ("Cc", "Cf", "Zl", "Zp", "Cs") and not seen


ALL_HIDDEN = [chr(code) for code in range(sys.maxunicode + 1) if is_hidden(chr(code))]
#: Those with which most can be done, oftener than the rest.
WORST = "\x1b\x9b\x00\r\b\x7f\x85\u2028\u202e\u2066\u2069\u200f\ufeff"
nasty = st.text(
    st.sampled_from(WORST)
    | st.sampled_from([one for one in ALL_HIDDEN if not "\ud800" <= one <= "\udfff"])
    | st.sampled_from("\n\tAsh=+-@;,\"'<>&[]/ \u200d＝"),
    min_size=1,
    max_size=12,
)


def lets_through(told: str) -> list[str]:
    return [f"U+{ord(one):04X}" for one in told if is_hidden(one)]


def test_the_list_of_hidden_characters_is_unicodes() -> None:
    for code in range(sys.maxunicode + 1):
        character = chr(code)
        if unicodedata.category(character) == "Cn":
            continue  # not yet in this interpreter's database
        assert (visible(character) != character) == is_hidden(character), hex(code)


@given(st.text() | nasty)
def test_what_is_made_visible_is_as_long_and_hides_nothing(text: str) -> None:
    for made in (visible(text), on_one_line(text)):
        assert len(made) == len(text)
        assert lets_through(made) == []
    assert "\n" not in on_one_line(text)
    assert visible(visible(text)) == visible(text)


@given(nasty)
def test_json_means_the_same(text: str) -> None:
    written = json_visible(json.dumps([text], ensure_ascii=False))
    assert lets_through(written) == []
    assert json.loads(written) == [text]


# -- programs -----------------------------------------------------------------------------

PROGRAM = """feedscript 1
title "Thursday"
court {{ surface hard }}
balls {{ type 2  load 60 }}
launcher {{ stands 1 m behind centre mark }}
group {{ players "Ash", "Birch" }}
feed deep {{ land 3 m inside baseline, on centre line  speed 70 km/h }}
lesson {{ show speed of deep   say "Split step."   send deep after 3 s }}  # the end
"""


@settings(max_examples=60)
@given(st.sampled_from(ALL_HIDDEN), st.data())
def test_a_program_with_a_hidden_character_anywhere_is_refused(
    hidden: str, data: st.DataObject
) -> None:
    text = PROGRAM.replace("{{", "{").replace("}}", "}")
    at = data.draw(st.integers(1, len(text)))
    if hidden == "\r" and text[at : at + 1] == "\n":
        return  # the end of a line, as another system writes it
    verdict = check_program(Path("nasty.feed"), text=text[:at] + hidden + text[at:])
    assert not verdict.ok
    found = [one for one in verdict.diagnostics if one.slug == "hidden-character"]
    assert f"U+{ord(hidden):04X}" in found[0].message
    assert found[0].span is not None
    assert not [one for one in verdict.diagnostics if lets_through(one.message + one.help)]


def test_line_ends_of_any_system_and_a_mark_of_order_are_no_hidden_characters() -> None:
    text = PROGRAM.replace("{{", "{").replace("}}", "}")
    for plain in (text, "\ufeff" + text, text.replace("\n", "\r\n")):
        verdict = check_program(Path("plain.feed"), text=plain)
        assert "hidden-character" not in [one.slug for one in verdict.diagnostics]


def test_words_of_a_call_are_no_markup_in_a_rehearsal(tmp_path: Path) -> None:
    program = tmp_path / "marked.feed"
    text = PROGRAM.replace("{{", "{").replace("}}", "}")
    program.write_text(text.replace("Split step.", "[/] [b]go :ok:"), "utf-8")
    done = CliRunner().invoke(verbs, ["rehearse", str(program)])
    assert done.exit_code == 0, done.output
    assert "“[/] [b]go :ok:”" in done.output


# -- a journal from elsewhere -----------------------------------------------------------------


def with_words(folder: Path, words: list[str]) -> Path:
    """A lesson of a few balls with these in the place of names and titles, however they came in."""
    path = folder / "journal.sqlite"
    path.unlink(missing_ok=True)
    title, player, feed, station = words
    journal = open_journal(path)
    start = SessionStart(
        token=1, begun_utc_s=1.8e9, title=title, source=title, rehearsal=False, plan=b"{}",
        group_json="{}",
    )  # fmt: skip
    number = journal.begin_session(start)
    for ball in range(1, 7):
        left_s = 1.8e9 + 4.0 * ball
        by = player if ball % 2 else "Birch"
        write_ball(journal, number, ball, left_s, by, feed, "net", station=station)
    journal.close()
    return path


def run(*words: str | Path) -> str:
    done = CliRunner().invoke(verbs, [str(word) for word in words])
    assert done.exit_code in (0, 1), done.output
    assert isinstance(done.exception, SystemExit | None), done.exception
    return done.stdout + done.stderr


RUNS = [
    ["\x1b]0;owned\x07\x9b2J", "\u202eAsh\u2066\r\n", "\t=HYPERLINK(1)", "\x85\u2028a;=1+1"],
    ["x-->\n\n1\n00:00 --> 00:09\nNOTE <b>", "@SUM(1)|+2", "\n\n-1\x00&<i>", "\ufeff＝1"],
]


@pytest.mark.parametrize("words", RUNS, ids=["a terminal's", "a reader's"])
def test_no_command_and_no_file_lets_a_journals_hidden_characters_through(
    words: list[str], tmp_path: Path
) -> None:
    look_at_every_rim(words, tmp_path)


@pytest.mark.long
@pytest.mark.timeout(900)
@settings(
    max_examples=60,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(words=st.lists(nasty, min_size=4, max_size=4))
def test_whatever_the_words_are(words: list[str], tmp_path: Path) -> None:
    look_at_every_rim(words, tmp_path)


def look_at_every_rim(words: list[str], tmp_path: Path) -> None:
    path = with_words(tmp_path, words)
    journal = ("--journal", path)
    told = [
        run("journal", "list", *journal),
        run("journal", "list", "--format", "json", *journal),
        run("review", *journal),
        run("review", "--format", "json", *journal),
        run("review", "--player", words[1], *journal),
    ]
    for name in ("r.html", "r.csv", "r.json", "r.vtt"):
        told.append(run("review", "-o", tmp_path / name, *journal))
    for track in ("balls", "metadata"):
        told.append(run("review", "-o", tmp_path / f"{track}.vtt", "--cues", track, *journal))
    for name in ("all.csv", "all.json"):
        told.append(run("journal", "export", "-o", tmp_path / name, *journal))
    for words_told in told:
        assert lets_through(words_told) == []
    for file in tmp_path.iterdir():
        if file.suffix in (".html", ".csv", ".json", ".vtt"):
            assert lets_through(file.read_text("utf-8")) == [], file.name
    no_formulas((tmp_path / "all.csv").read_text("utf-8"))
    one_chapter_a_cue((tmp_path / "balls.vtt").read_text("utf-8"))


def no_formulas(text: str) -> None:
    """However a spreadsheet takes the file apart, no cell of words is one that it would run."""
    for delimiter in ",;\t|":
        for row in csv.reader(io.StringIO(text), delimiter=delimiter):
            for cell in row:
                words = cell.lstrip()
                if words[:1] and words[0] in "=+-@＝＋－＠":
                    assert re.fullmatch(r"-?[\d.,]+", words), (delimiter, cell)


def one_chapter_a_cue(text: str) -> None:
    """Read as WebVTT is: a head, and blocks of an id, times and one line of words."""
    head, *blocks = text.rstrip("\n").split("\n\n")
    assert re.fullmatch(r"WEBVTT( [^\n]*)?", head)
    assert "-->" not in head
    for block in blocks:
        name, times, words = block.split("\n")
        assert re.fullmatch(r"ball-\d+", name)
        assert times.count("-->") == 1
        assert "-->" not in words
        assert not set("<>") & set(words)


# -- screens and the page -----------------------------------------------------------------------


def with_words_everywhere(value: Any, words: str) -> Any:
    """A state whose every free text is this one."""
    if isinstance(value, msgspec.Struct):
        changed = {
            name: words if type(got) is str else with_words_everywhere(got, words)
            for name in value.__struct_fields__
            if (got := getattr(value, name)) is not None
        }
        return msgspec.structs.replace(value, **changed)
    if isinstance(value, tuple):
        return tuple(
            words if type(got) is str else with_words_everywhere(got, words) for got in value
        )
    return value


@given(nasty)
def test_no_screen_lets_a_hidden_character_through(words: str) -> None:
    state = with_words_everywhere(a_state(), words)
    out = io.StringIO()
    console = Console(file=out, width=80, height=24, force_terminal=True, color_system="truecolor")
    console.print(render(state, TerminalState()))
    shown = re.sub(r"\x1b\[[\d;]*m", "", out.getvalue())  # rich's own styles
    assert lets_through(shown) == []
    for line in PlainLines().new_in(state):
        assert lets_through(on_one_line(line)) == []


@given(nasty)
def test_no_message_to_a_page_lets_a_hidden_character_through(words: str) -> None:
    state = with_words_everywhere(a_state(), words)
    for message in ({"state": state}, {"state": for_the_group(state)}, {"holder": words}):
        text = encode(message)
        assert lets_through(text) == []
        assert lets_through(" ".join(re.findall(r'"((?:[^"\\]|\\.)*)"', text))) == []
        assert lets_through(json.dumps(json.loads(text), ensure_ascii=False)) == []
        assert "\\u00" not in json.dumps(json.loads(text))


@given(nasty)
def test_a_device_cannot_have_a_hidden_name(name: str) -> None:
    access = Access(lambda: 0.0)
    done = access.pair(access.new_code(Role.VIEWER), name)
    assert not isinstance(done, Diagnostic)
    assert lets_through(done.device.name) == []


@given(nasty)
def test_no_test_report_lets_a_hidden_character_through(words: str) -> None:
    name = words.replace("\x00", "").replace("/", "")
    verdict = check_program(Path(name), text=words)
    assert lets_through(junit([testing.Tested(Path(name), verdict, ())]).decode()) == []


@pytest.mark.parametrize("words", [["check", "no\x1b[2Jsuch.feed"], ["no\x1b[2Jverb"]])
def test_what_is_said_of_a_file_name_or_a_verb_is_visible(words: list[str]) -> None:
    done = CliRunner().invoke(verbs, words)
    assert done.exit_code != 0
    assert lets_through(done.stdout + done.stderr) == []
    assert "[2J" in done.stdout + done.stderr
