"""The desk's programs: plain files, never a lost change, every saved version kept."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from feedscript.desk import files as module
from feedscript.desk.files import Clash, Folder, Text, version_of
from feedscript.diagnostics import FeedscriptError


def saved(folder: Folder, name: str, words: str, based_on: str = "") -> Text:
    done = folder.save(name, words, based_on)
    assert isinstance(done, Text)
    return done


def test_a_program_is_a_plain_file_of_its_name(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    done = saved(folder, "tuesday juniors", 'title "Grün"\r\n')
    assert (tmp_path / "tuesday juniors.feed").read_bytes() == 'title "Grün"\r\n'.encode()
    assert folder.read("tuesday juniors") == done
    (own, *shipped) = folder.listed()
    assert (own.name, own.title, own.shipped) == ("tuesday juniors", "Grün", False)
    assert {one.shipped for one in shipped} == {True}


def test_words_saved_by_somebody_else_are_never_overwritten(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    first = saved(folder, "a", "one")
    (tmp_path / "a.feed").write_text("two, by another editor", "utf-8")
    clash = folder.save("a", "three", first.version)
    assert isinstance(clash, Clash)
    assert clash.now.words == "two, by another editor"
    assert folder.read("a").words == "two, by another editor"
    assert saved(folder, "a", "three", clash.now.version).words == "three"
    kept = [folder.version("a", one.version).words for one in folder.versions("a")]
    assert kept == ["three", "two, by another editor", "one"]


def test_a_new_program_never_takes_an_old_ones_place(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    saved(folder, "a", "one")
    assert isinstance(folder.save("a", "a new one", ""), Clash)


@pytest.mark.parametrize(
    "name",
    ["", "../a", "a/b", "/etc/passwd", ".hidden", "a.feed", " a", "a ", "a\0", "x" * 90, "~a"],
)
def test_a_name_leads_nowhere_else(tmp_path: Path, name: str) -> None:
    folder = Folder(tmp_path / "home")
    for refused in (folder.read, folder.versions, lambda one: folder.save(one, "", "")):
        with pytest.raises(FeedscriptError):
            refused(name)
    assert list(tmp_path.iterdir()) == []


def test_a_shipped_program_is_read_and_never_written(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    assert folder.read("shipped/wednesday-six").words.startswith("feedscript 1")
    with pytest.raises(FeedscriptError):
        folder.save("shipped/wednesday-six", "mine", "")
    with pytest.raises(FeedscriptError):
        folder.read("shipped/library/../wednesday-six")


def test_a_full_disk_leaves_the_file_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = Folder(tmp_path)
    first = saved(folder, "a", "one")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(module.os, "fsync", full)
    with pytest.raises(FeedscriptError, match="No space left"):
        folder.save("a", "two", first.version)
    assert folder.read("a").words == "one"
    assert [path.name for path in tmp_path.glob(".*tmp")] == []


def test_old_versions_go_when_there_are_too_many(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "MOST_VERSIONS", 3)
    folder, version = Folder(tmp_path), ""
    for number in range(6):
        version = saved(folder, "a", f"{number}", version).version
    assert [folder.version("a", one.version).words for one in folder.versions("a")] == [
        "5",
        "4",
        "3",
    ]


@given(st.text(max_size=40))
@settings(max_examples=40)
def test_any_words_come_back_as_they_were(
    tmp_path_factory: pytest.TempPathFactory, words: str
) -> None:
    folder = Folder(tmp_path_factory.mktemp("words"))
    words = words.encode("utf-8", "ignore").decode()
    assert saved(folder, "a", words).version == version_of(words)
    assert folder.read("a").words == words.removeprefix("\ufeff")


class TwoTabs(RuleBasedStateMachine):
    """Two tabs and another editor on one file: what was saved once can always be had again."""

    @initialize()
    def begin(self) -> None:
        self.folder = Folder(Path(tempfile.mkdtemp()))
        self.known = ["", ""]
        self.number = 0
        self.acknowledged: list[str] = []

    @rule(tab=st.integers(0, 1))
    def write(self, tab: int) -> None:
        self.number += 1
        words = f"words {self.number} of tab {tab}"
        done = self.folder.save("a", words, self.known[tab])
        if isinstance(done, Clash):
            self.known[tab] = done.now.version  # seen and merged
        else:
            self.known[tab] = done.version
            self.acknowledged.append(words)

    @rule()
    def another_editor_writes(self) -> None:
        self.number += 1
        (self.folder.root / "a.feed").write_text(f"elsewhere {self.number}", "utf-8")

    @invariant()
    def nothing_acknowledged_is_lost(self) -> None:
        if not getattr(self, "acknowledged", None):
            return
        kept = {self.folder.version("a", one.version).words for one in self.folder.versions("a")}
        assert set(self.acknowledged) <= kept


TwoTabs.TestCase.settings = settings(max_examples=25, stateful_step_count=20, deadline=None)
test_two_tabs = TwoTabs.TestCase


def test_a_file_that_cannot_be_asked_for_is_listed_with_the_reason(tmp_path: Path) -> None:
    (tmp_path / "a+b.feed").write_text("feedscript 1\n", "utf-8")
    (tmp_path / "z.feed").write_text("feedscript 1\n", "utf-8")
    own = [one for one in Folder(tmp_path).listed() if not one.shipped]
    assert [(one.name, bool(one.refused)) for one in own] == [("a+b", True), ("z", False)]


def test_seasons_are_opened_kept_and_told_from_programs(tmp_path: Path) -> None:
    folder = Folder(tmp_path)
    saved(folder, "autumn", "feedscript 1\n")
    first = saved(folder, "autumn.season", 'feedscript 1\nseason "Autumn" {\n}\n')
    assert (tmp_path / "autumn.season").read_text("utf-8") == first.words
    saved(folder, "autumn.season", "other", first.version)
    assert len(folder.versions("autumn.season")) == 2
    assert len(folder.versions("autumn")) == 1
    own = [one for one in folder.listed() if not one.shipped]
    assert [(one.name, one.season) for one in own] == [("autumn", False), ("autumn.season", True)]
    shipped = [one for one in folder.listed() if one.shipped and one.season]
    assert shipped
    assert folder.read(shipped[0].name).words.startswith("feedscript")
