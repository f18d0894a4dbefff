"""From a tablet to a court and back, through the commands as they are typed: a program written on
the server is fetched by a court's computer, run there, and its lesson reviewed on the server."""

from __future__ import annotations

import json
import os
import re
import subprocess
from pathlib import Path

import pytest

from feedscript.club.messages import INVITE
from tests.club.server.processes import FEEDSCRIPT, Served, serving

#: A minute on court.
SHORT = """feedscript 1
title "From the tablet"
court { surface hard }
balls { type 2  load 20 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { players "Ada", "Ben" }
feed deep { land 3 m inside baseline, on centre line  speed 80 km/h }
lesson { show speed of deep  for each player { repeat 2 { send deep after 5 s }  rest 12 s } }
"""


class Court:
    """A court's computer, with folders of its own."""

    def __init__(self, home: Path) -> None:
        folders = {"XDG_CONFIG_HOME": home / "config", "XDG_DATA_HOME": home / "data"}
        self.env = os.environ | {name: str(path) for name, path in folders.items()}
        self.env.pop("FEEDSCRIPT_LIBRARY", None)

    def types(self, *words: str, exits: int = 0) -> str:
        done = subprocess.run(
            [*FEEDSCRIPT, *words],
            env=self.env,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
        )
        assert done.returncode == exits, (words, done.stdout, done.stderr)
        return done.stdout


def handed_on(served: Served) -> None:
    """The head coach writes as a coach does."""
    page = served.page
    page.timeout = 120.0
    saved = page.put("/programs/tuesday", json={"words": SHORT, "based_on": ""})
    assert saved.status_code == 200
    court = re.search(r'<option value="(\w+)">court one', page.get("/mine/tuesday").text)
    assert court is not None
    done = page.post("/mine/tuesday/court", data={"court": court[1]})
    assert "Handed to court one" in done.text, done.text


@pytest.mark.long
@pytest.mark.timeout(600)
def test_what_is_written_on_the_server_is_played_on_court_and_reviewed(tmp_path: Path) -> None:
    court = Court(tmp_path / "court")
    with serving(f"sqlite:///{tmp_path / 'club.sqlite'}") as served:
        code = served.post(INVITE, {})["code"]
        court.types("club", "join", served.url, "--code", code, "--as", "court one")
        handed_on(served)
        fetched = json.loads(court.types("club", "fetch", "--format", "json"))
        assert fetched["programs"] == 1
        name = next(
            one
            for one in json.loads(court.types("programs", "--format", "json"))["programs"]
            if one["name"].startswith("my/from-club/")
        )["name"]
        assert name.endswith("/tuesday")
        court.types("run", name, "--on", "sim:", "--yes-i-am-behind-the-launcher")
        court.types("club", "push")
        lessons = served.page.get("/lessons").text
        (place,) = re.findall(r'href="(/lessons/[^"]+)"', lessons)
        review = served.page.get(place)
        assert review.status_code == 200
        assert "From the tablet" in review.text
        assert "Ada" in review.text
        assert "From the tablet" in served.page.get("/mine/tuesday").text
        assert "read the review of a lesson of" in served.page.get("/audit").text
        served.page.post("/mine/tuesday/delete", data={"sure": "tuesday"})
        court.types("club", "fetch")
        court.types("run", name, "--on", "sim:", "--yes-i-am-behind-the-launcher", exits=1)
