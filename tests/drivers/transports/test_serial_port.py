"""What a serial port is called and why it does not open, on systems that are not this one.

Windows' errors as pyserial 3.5 words them (``serialwin32.Serial.open``).
"""

from __future__ import annotations

import sys
from types import SimpleNamespace

import pytest
import serial
from feedscript_drivers.transports import serial_port
from feedscript_drivers.transports.radio_ports import is_radio
from feedscript_drivers.wire.trust import Trust

from feedscript.launcher.port import LauncherError

ON_WINDOWS = [
    SimpleNamespace(device="COM3", hwid="USB VID:PID=1A86:7523 SER= LOCATION=1-2", vid=0x1A86),
    SimpleNamespace(device="COM1", hwid=r"ACPI\PNP0501\1", vid=None),
    SimpleNamespace(device="COM7", hwid=r"BTHENUM\{00001101-0000}\7&0&98D331F5", vid=None),
]
ON_MACOS = [
    SimpleNamespace(device="/dev/cu.usbserial-1420", hwid="USB", vid=0x1A86),
    SimpleNamespace(device="/dev/cu.Bluetooth-Incoming-Port", hwid="n/a", vid=None),
    SimpleNamespace(device="/dev/cu.HC-05", hwid="n/a", vid=None),
]


@pytest.mark.parametrize(
    ("device", "radio"), [("COM3", False), ("COM1", False), ("com7", True), ("COM99", False)]
)
def test_a_com_port_of_bluetooth_is_no_cable(device: str, radio: bool) -> None:
    assert is_radio(device, "win32", lambda: ON_WINDOWS) is radio


@pytest.mark.parametrize(
    ("device", "radio"),
    [
        ("/dev/cu.usbserial-1420", False),
        ("/dev/tty.usbserial-1420", False),
        ("/dev/cu.HC-05", True),
        ("/dev/cu.gone", True),
        ("/dev/ttys004", False),  # a pseudo-terminal, such as the stand-in's
    ],
)
def test_on_macos_what_is_not_of_usb_is_no_cable(device: str, radio: bool) -> None:
    assert is_radio(device, "darwin", lambda: ON_MACOS) is radio


def test_a_speed_behind_the_port_changes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(serial_port, "is_radio", lambda device: device == "COM7")
    assert serial_port.split_trust("COM7@9600", Trust.CABLE) == ("COM7@9600", Trust.KEYED)
    assert serial_port.split_trust("COM3@9600", Trust.CABLE) == ("COM3@9600", Trust.CABLE)


@pytest.mark.parametrize(
    ("words", "slug", "told"),
    [
        (
            "could not open port 'COM3': PermissionError(13, 'Access is denied.', None, 5)",
            "port-busy",
            "another program has COM3 open",
        ),
        (
            "could not open port 'COM3': FileNotFoundError(2, 'The system cannot find the file "
            "specified.', None, 2)",
            "port-missing",
            "there is no COM3",
        ),
        (
            "could not open port 'COM3': OSError(22, 'The semaphore timeout period has expired.', "
            "None, 121)",
            "port-missing",
            "The semaphore timeout period has expired.",
        ),
    ],
)
def test_windows_words_become_ours(
    monkeypatch: pytest.MonkeyPatch, words: str, slug: str, told: str
) -> None:
    def refuse(_port: serial.Serial) -> None:
        raise serial.SerialException(words)

    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setattr(serial.Serial, "open", refuse)
    with pytest.raises(LauncherError) as found:
        serial_port.open_port("COM3", 115200, raise_dtr=False)
    assert found.value.diagnostic.slug == slug
    assert told in found.value.diagnostic.message


def test_a_port_is_opened_for_this_program_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[serial.Serial] = []
    monkeypatch.setattr(serial.Serial, "open", lambda port: opened.append(port))
    serial_port.open_port("COM12", 115200, raise_dtr=False)
    assert opened[0].exclusive is True
    assert (opened[0].port, opened[0].baudrate) == ("COM12", 115200)
