"""Finding a driver by its URL: what is installed is found, what is not is never replaced."""

from __future__ import annotations

from importlib.metadata import EntryPoint

import pytest

from feedscript.diagnostics import Diagnostic
from feedscript.launcher import discovery
from feedscript.launcher.discovery import Address, driver_for, parse_address, schemes


@pytest.fixture
def installed(monkeypatch):
    def install(**entries: str) -> None:
        found = [EntryPoint(n, v, discovery.ENTRY_POINT_GROUP) for n, v in entries.items()]
        monkeypatch.setattr(discovery, "entry_points", lambda group: found)

    return install


def test_the_house_announces_its_own_drivers() -> None:
    assert {"serial", "sim", "tcp"} <= set(schemes())


def test_a_third_partys_driver_is_found(installed) -> None:
    installed(mine="feedscript.launcher.discovery:parse_address")
    found = driver_for("mine:left shed")
    assert not isinstance(found, Diagnostic)
    assert found == (parse_address, Address("mine", "left shed"))


@pytest.mark.parametrize(
    ("url", "said"),
    [
        ("serail:/dev/ttyUSB0", "did you mean `serial:`?"),
        ("usb:1", "installed: "),
        ("/dev/ttyUSB0", "SCHEME:ADDRESS"),
        ("", "SCHEME:ADDRESS"),
        (":x", "SCHEME:ADDRESS"),
    ],
)
def test_an_unknown_scheme_lists_what_there_is(url, said) -> None:
    found = driver_for(url)
    assert isinstance(found, Diagnostic)
    assert found.slug == "unknown-launcher"
    assert said in found.help
    assert "sim:" in found.help


@pytest.mark.parametrize("value", ["no_such_package_here:connect", "feedscript.units:nothing"])
def test_a_driver_that_cannot_be_loaded_says_so(installed, value) -> None:
    installed(mine=value)
    found = driver_for("mine:x")
    assert isinstance(found, Diagnostic)
    assert found.slug == "driver-broken"
    assert value in found.message


def test_with_nothing_installed_the_answer_says_so(installed) -> None:
    installed()
    found = driver_for("sim:")
    assert isinstance(found, Diagnostic)
    assert "no driver at all" in found.help
