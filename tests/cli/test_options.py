"""One option, one meaning: every option of every command stands once in this table."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

import click
import pytest

from feedscript.cli import verbs

#: An option's names, the kind of its value, and how its help begins in every command that has it.
OPTIONS = {
    "--against": ("choice", "What the others are held to"),
    "--again": ("flag", "Join though this computer belongs to a club"),
    "--air": ("text", "Temperature, such as"),
    "--altitude": ("text", "Of the court"),
    "--arms-by-itself": ("flag", "A simulated person fills the hopper"),
    "--as": ("text", "What this court is called at the club"),
    "--as-measured": ("flag", "Believe landings that look mistaken"),
    "--at-ball": ("integer", "The ball that --offset is the place of"),
    "--azimuth": ("text", "Positive to the right"),
    "--ball": ("text", "Kind of ball: "),
    "--before": ("datetime", "All lessons before this day"),
    "--bind": ("text", "Where to listen; "),
    "--board": ("file", "The board file"),
    "--bootstrap": ("integer range", "Also tell how surely each factor is known"),
    "--by-sound": ("flag", "Flight times by sound alone"),
    "--calendar": ("file", "Also write the lessons into this file, .ics"),
    "--camera-at": ("choice", "On whose side of the net the camera stands"),
    "--capture": ("file", "A capture, a file with every byte of the link; "),
    "--cards": ("flag", "A card an exercise"),
    "--certificate": ("flag", "Print the whole certificate"),
    "--charts": ("directory", "Also write each player's charts into this folder"),
    "--check": ("flag", "Write nothing; exit 1"),
    "--clips": ("flag", "Keep pictures of each ball beside the journal"),
    "--club-certificate": ("file", "The certificate (PEM) of the club's server"),
    "--cluster": ("text", "Work on a Dask cluster"),
    "--cluster-authority": ("file", "The authority (PEM) whose certificates the cluster has"),
    "--cluster-certificate": ("file", "Your own certificate (PEM) of --cluster-authority"),
    "--cluster-key": ("file", "The private key (PEM) of --cluster-certificate"),
    "--color": ("choice", "Colours; auto"),
    "--code": ("text", "The code that the club gave"),
    "--compare": ("flag", "Do these landings still fit"),
    "--copy": ("text", "Copy this "),
    "--court": ("choice", "Whose lines are on the ground"),
    "--court-network": ("flag", "Serve the page on the network"),
    "--cues": ("choice", "What is marked in a video"),
    "--demo": ("flag", "An invented club"),
    "--desks": ("integer range", "So many coaches at desks of this process at once"),
    "--diff": ("flag", "Write nothing; show"),
    "--draw-seed": ("integer range", "Seed of the first of what is drawn; "),
    "--draws": ("integer range", "Balls drawn for each percentage"),
    "--elevation": ("text", "Angle of the throw"),
    "--envelope": ("flag", "Draw what the launcher can reach"),
    "--family": ("flag", "A page in plain words for the family of --player"),
    "--fault": ("text", "What goes wrong at the simulated launcher"),
    "--faults": ("file", "Named faults, a TOML file; "),
    "--film": ("file", "The video itself: "),
    "--format": ("choice", "Text for people, JSON for machines"),
    "--height": ("text", "Ball's centre at the mouth"),
    "--held": ("flag", "Show which lessons were held"),
    "--humidity": ("text", "Moist air by CIPM-2007"),
    "--jobs": ("integer range", "Processes at once"),
    "--into-journal": ("flag", "Keep in the journal where the lesson's balls landed"),
    "--journal": ("file", "The journal file"),
    "--junit": ("file", "Also write the results here as JUnit XML"),
    "--keep": ("text", "A factor to leave as it is"),
    "--kept": ("directory", "The folder of what was kept"),
    "--kind": ("choice", "A CSV each, one workbook"),
    "--knock": ("flag", "Ask each port who is there"),
    "--landings": ("file", "Measured balls"),
    "--language": ("choice", "The language of pages, pictures and calendars"),
    "--launcher": (
        "profile",
        "The launcher's profile, a file, club/NAME or a shipped one by its name; ",
    ),
    "--least": ("integer range", "Exit 1 where less than this share"),
    "--lesson": ("integer", "The lesson of this number"),
    "--library": ("directory", "The folder of your own library"),
    "--library-key": ("file", "The key that signs the club's library"),
    "--log": ("file", "Write what -v says into this file"),
    "--look": ("flag", "Look at court and balls on a page"),
    "--mirrored": ("flag", "The film is mirrored"),
    "--model": ("text", "Flight model: "),
    "--no-browser": ("flag", "Show the link only"),
    "--no-journal": ("flag", "Leave the journal out"),
    "--of": ("text", "Of this court alone"),
    "--name": ("text", "A name by which browsers and courts reach the server"),
    "--launcher-name": ("text", "What the launcher shall be called"),
    "--named": ("text", "Only the named fault of this name"),
    "--needs": ("text", "Only with this equipment"),
    "--offset": ("time", "Where in the video the first ball leaves"),
    "--oidc": ("text", "Let people sign in by this service too"),
    "--oidc-client": ("text", "What this server is called there"),
    "--oidc-secret": ("file", "A file with the secret"),
    "--on": ("text", "The launcher's address: serial:DEVICE, tcp:HOST:PORT, ble:NAME or sim:"),
    "--out -o": ("file or directory", "Where to write: "),
    "--taps": ("choice", "Of balls on request the coach asks"),
    "--pace": ("choice", "Virtual: an hour in a few seconds"),
    "--person": ("flag", "Somebody stands at the launcher"),
    "--picture": ("file", "Also draw the residuals here"),
    "--player": ("text", "Only this player's balls, and nobody else's name"),
    "--players": ("integer range", "Only for so many players"),
    "--points": ("file", "Points of the court shown in the picture"),
    "--points-out": ("file", "Also write where the court's points were found"),
    "--port": ("integer range", "The page's port"),
    "--pressure": ("text", "Of the air"),
    "--program": ("text", "This program's balls, by its own times"),
    "--propose": ("flag", "Propose which balls to measure"),
    "--pty": ("flag", "On a pseudo-terminal"),
    "--quiet -q": ("flag", "Say only what is wrong"),
    "--record": ("flag", "All lessons of --player"),
    "--resume": ("flag", "Go on with the lesson that was broken off last"),
    "--rehearsal": ("flag", "Compare a rehearsal"),
    "--results": ("choice", "Drawn: invented players"),
    "--sample": ("integer range", "Draw N whole runs with scatter"),
    "--scatter-seed": ("integer range", "Seed for how the simulated launcher's balls scatter"),
    "--run": ("flag", "Send the most telling balls"),
    "--seconds": ("float range", "How long to listen for Bluetooth"),
    "--seed": ("integer range", "Seed for what the program leaves to chance"),
    "--sheet": ("flag", "One page for the fence"),
    "--shots": ("flag", "Also look for players' shots"),
    "--since": ("datetime", "Only lessons from this day on"),
    "--sound": ("file", "The video's sound"),
    "--speed": ("text", "Speed at the mouth"),
    "--spin": ("text", "'top 1500 rpm'"),
    "--spin-decay": ("choice", "How spin fades in flight"),
    "--stage": ("choice", "Only for this stage or level"),
    "--store": ("text", "Where the club's store lies"),
    "--stand": ("choice", "Behind whom one sees the courts on paper"),
    "--sure": ("text", "How surely places must be known"),
    "--strict": ("flag", "Nothing is let pass that was not decided"),
    "--tape": ("text", "How well landings were measured"),
    "--tcp": ("integer range", "On a TCP port here"),
    "--theme": ("text", "Only of this theme"),
    "--to-the-end": ("flag", "Rehearse every lesson to its end"),
    "--tls-certificate": ("file", "Serve the page over https"),
    "--tls-key": ("file", "The private key (PEM) of --tls-certificate"),
    "--tolerances": ("file", "How far fields may be apart"),
    "--tone": ("integer range", "Which of the lesson's tones"),
    "--unkeyed": ("flag", "With --tcp: without a key"),
    "--units": ("choice", "Tell speeds and lengths so"),
    "--verbose -v": ("integer range", "Say on the error stream what is done"),
    "--version": ("flag", "Show the version and exit"),
    "--watch": ("file", "Measure the balls in this film of a lesson"),
    "--wear": ("text", "How worn the ball is: "),
    "--width": ("integer range", "Width of a PNG in pixels"),
    "--wind": ("text", "'head 3 m/s"),
    "--worst": ("flag", "Draw each safety rule's worst case"),
    "--with-faults": ("flag", "Rehearse each program with each named fault too"),
    "--yes": ("flag", "Confirm the action"),
    "--yes-i-am-behind-the-launcher": ("flag", "For scripts: confirms the set-up list"),
}
#: What a command is about stands without an option; a launcher never does, and its profile only
#: where it is what the command changes.
ARGUMENTS = {
    *("FILE", "FOLDER", "FILE…", "PATH…", "SLUG", "[LESSON]", "LESSON...", "NAME", "VIDEO"),
    *("PROFILE", "ADDRESS", "[PLACE]…"),
    "[bash|zsh|fish|powershell]",
}


def commands(one: click.Command, name: str = "feedscript") -> Iterator[tuple[str, click.Command]]:
    yield name, one
    if isinstance(one, click.Group):
        for verb in one.list_commands(click.Context(one)):
            inner = one.get_command(click.Context(one), verb)
            assert inner is not None
            yield from commands(inner, f"{name} {verb}")


def options() -> dict[str, list[tuple[str, click.Option]]]:
    """Each option by its names, with the commands that have it."""
    found = defaultdict(list)
    for name, command in commands(verbs):
        for one in command.params:
            if isinstance(one, click.Option):
                names = sorted([*one.opts, *one.secondary_opts], key=len, reverse=True)
                found[" ".join(names)].append((name, one))
    return found


def kind(option: click.Option) -> str:
    return "flag" if option.is_flag else option.type.name


def test_every_option_stands_in_the_table_and_none_but_those():
    assert sorted(options()) == sorted(OPTIONS)


@pytest.mark.parametrize("names", OPTIONS)
def test_an_option_means_the_same_in_every_command(names):
    for command, option in options()[names]:
        assert kind(option) in OPTIONS[names][0].split(" or "), command
        assert (option.help or "").startswith(OPTIONS[names][1]), command


def test_no_two_options_mean_the_same_and_no_letter_has_two_words():
    meanings = [meaning for _, meaning in OPTIONS.values()]
    assert len(set(meanings)) == len(meanings)
    words = [word for names in OPTIONS for word in names.split()]
    assert len(set(words)) == len(words)


def test_an_argument_is_what_the_command_is_about():
    found = {
        one.make_metavar(click.Context(command))
        for _, command in commands(verbs)
        for one in command.params
        if isinstance(one, click.Argument)
    }
    assert {word.strip("[]") for word in found} == {word.strip("[]") for word in ARGUMENTS}
