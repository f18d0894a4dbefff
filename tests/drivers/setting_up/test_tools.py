"""What a user looks at a link and a machine with: find, pair, link-check, doctor."""

from __future__ import annotations

import json
import subprocess
import sys

import anyio
import pytest
import trio
import trio.testing
from click.testing import CliRunner
from feedscript_drivers.setting_up import bluetooth_check, finding, machine_check
from feedscript_drivers.setting_up.bluetooth_check import Answer
from feedscript_drivers.setting_up.finding import Found, knock
from feedscript_drivers.setting_up.keys import find_key, keep_key, key_folder
from feedscript_drivers.setting_up.link_check import Part, check_link
from feedscript_drivers.setting_up.machine_check import look
from feedscript_drivers.setting_up.pairing import pair
from feedscript_drivers.transports import serial_port, tcp
from feedscript_drivers.wire.protocol import Reason
from feedscript_drivers.wire.trust import Trust
from feedscript_drivers.wire.wire_launcher import open_launcher
from feedscript_simulator.far_end import FarEnd
from feedscript_simulator.faults import LineFaults
from feedscript_simulator.links import in_process
from feedscript_simulator.links.driven import Driven
from feedscript_simulator.links.faulty_line import faulty_line
from feedscript_simulator.links.in_process import DirectStream
from feedscript_simulator.links.on_pty import on_pty
from feedscript_simulator.links.on_tcp import on_tcp
from feedscript_simulator.machine import Machine
from feedscript_simulator.stand_in import build
from msgspec.structs import force_setattr

from feedscript.cli import verbs
from feedscript.launcher.port import ConnectOptions, LauncherError, LauncherState
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.shipped import shipped_folder
from tests.documents.held import strays

PROFILE = read_profile(shipped_folder() / "launchers" / "garage.toml").profile
assert PROFILE is not None


@pytest.fixture(autouse=True)
def own_data_folder(monkeypatch, tmp_path) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))


def test_a_port_with_a_launcher_answers_with_its_name() -> None:
    async def run() -> Found:
        stand_in = build(PROFILE, powered_s=anyio.current_time())
        async with on_pty(stand_in) as device:
            return await knock(Found(f"serial:{device}", "pty"))

    assert anyio.run(run).launcher == "Garage-two-wheel example-1"


def test_knocking_finds_a_launcher_at_another_speed(monkeypatch) -> None:
    opened = []

    def open_and_keep(device, baud, *, raise_dtr):
        opened.append(serial_port.open_port(device, baud, raise_dtr=raise_dtr))
        return opened[-1]

    receive = FarEnd.receive
    monkeypatch.setattr(finding, "open_port", open_and_keep)
    monkeypatch.setattr(
        FarEnd, "receive",
        lambda end, data, now: receive(end, data, now) if opened[-1].baudrate == 9600 else None,
    )  # fmt: skip

    async def run() -> tuple[Found, str]:
        stand_in = build(PROFILE, powered_s=anyio.current_time())
        async with on_pty(stand_in) as device:
            return await knock(Found(f"serial:{device}", "pty")), str(device)

    found, device = anyio.run(run)
    assert found.launcher == "Garage-two-wheel example-1"
    assert found.address == f"serial:{device}@9600"
    assert len(opened) == 1  # opening again could reset the board again


def test_a_port_without_a_launcher_says_so(monkeypatch) -> None:
    async def run() -> Found:
        stand_in = build(PROFILE, powered_s=anyio.current_time())
        monkeypatch.setattr(FarEnd, "receive", lambda _self, _data, _now: None)
        async with on_pty(stand_in) as device:
            return await knock(Found(f"serial:{device}", "pty"))

    found = anyio.run(run)
    assert not found.launcher
    assert "no launcher" in found.trouble


def test_pairing_over_the_cable_opens_the_network() -> None:
    """After pairing, the same user arms over TCP without naming a key; nobody else does."""

    async def run() -> LauncherState:
        stand_in = build(PROFILE, powered_s=anyio.current_time(), arms_by_itself=False)
        options = ConnectOptions(profile=PROFILE, session=1)
        async with on_pty(stand_in) as device:
            serial, _ = await pair(device, options)
        assert find_key(serial) == stand_in.end.make.stored.key
        force_setattr(stand_in.end.make, "cable", False)
        async with on_tcp(stand_in, 0) as address, tcp.connect(address, options) as launcher:
            await launcher.arm((1000.0, 1000.0))
            return (await launcher.status()).state

    assert anyio.run(run) is LauncherState.AWAITING_ARM


def test_a_launcher_is_paired_again_over_its_cable() -> None:
    """With the right key in hand, and with one that somebody else's pairing made worthless."""

    async def run() -> None:
        stand_in = build(PROFILE, powered_s=anyio.current_time())
        options = ConnectOptions(profile=PROFILE, session=1)
        async with on_pty(stand_in) as device:
            for _ in range(2):
                serial, _ = await pair(device, options)
                assert find_key(serial) == stand_in.end.make.stored.key
            keep_key(serial, bytes(32))
            await pair(device, options)
            assert find_key(serial) == stand_in.end.make.stored.key

    anyio.run(run)


def test_a_cable_needs_no_key_when_the_one_kept_is_not_known_any_more() -> None:
    async def run() -> LauncherState:
        stand_in = build(PROFILE, powered_s=anyio.current_time(), key=bytes(range(32)))
        keep_key(stand_in.end.make.stored.serial, bytes(32))
        options = ConnectOptions(profile=PROFILE, session=1)
        async with on_pty(stand_in) as device, serial_port.connect(device, options) as launcher:
            return (await launcher.status()).state

    assert anyio.run(run) is LauncherState.SAFE


def test_a_keyed_session_is_not_taken_over_by_plain_lines() -> None:
    """Even over the cable: not before the launcher was switched off."""

    async def run() -> str:
        stand_in = build(PROFILE, powered_s=anyio.current_time())
        options = ConnectOptions(profile=PROFILE, session=1)
        async with on_pty(stand_in) as device:
            serial, _ = await pair(device, options)
            async with serial_port.connect(device, options):
                pass
            keep_key(serial, bytes(32))
            with pytest.raises(LauncherError) as caught:
                await pair(device, options)
        assert caught.value.diagnostic.slug == "key-refused"
        return caught.value.diagnostic.help

    assert "off and on" in anyio.run(run)


def test_a_launcher_of_thin_air_is_paired_with_nobody() -> None:
    """A key that is kept for a launcher of the same serial number changes no rehearsal."""
    keep_key(PROFILE.serial, bytes(32))

    async def run() -> LauncherState:
        async with in_process.connect("", ConnectOptions(profile=PROFILE, session=1)) as launcher:
            return (await launcher.status()).state

    clock = trio.testing.MockClock(autojump_threshold=0)
    assert trio.run(run, clock=clock) is LauncherState.SAFE


def test_keys_are_this_users_alone() -> None:
    place = keep_key("a b/../c", bytes(32))
    assert place.parent == key_folder()
    assert place.stat().st_mode & 0o077 == 0
    assert find_key("a b/../c") == bytes(32)
    place.write_text("spoilt", encoding="ascii")
    assert find_key("a b/../c") is None


def checked(faults: LineFaults = LineFaults()) -> dict[str, Part]:  # noqa: B008 - frozen
    """A link check with somebody at the launcher who does what is asked."""

    async def run() -> dict[str, Part]:
        stand_in = build(PROFILE, powered_s=anyio.current_time())
        driven = Driven(stand_in, lambda _bytes: None)

        async def ask(what: str) -> None:
            stand_in.advance(anyio.current_time())
            if what.startswith("press"):
                stand_in.end.machine.press_emergency(True)
            elif what.startswith("release"):
                stand_in.end.machine.press_emergency(False)
                stand_in.end.machine.turn_switch(False)
            stand_in.changed()

        async with anyio.create_task_group() as tasks:
            tasks.start_soon(driven.keep_time)
            async with faulty_line(DirectStream(driven), faults, 1) as stream:
                options = ConnectOptions(profile=PROFILE, session=1)
                async with open_launcher(stream, options, "bench", trust=Trust.PLAIN) as launcher:
                    parts = {
                        part.name: part async for part in check_link(launcher, ask, person=True)
                    }
            tasks.cancel_scope.cancel()
        assert not stand_in.departures
        return parts

    return trio.run(run, clock=trio.testing.MockClock(autojump_threshold=0))


SINCE_POWER = "lines that came spoilt to the launcher since it was switched on"


def test_a_good_link_passes_every_part() -> None:
    parts = checked()
    assert len(parts) == 7
    assert all(part.fine for part in parts.values()), parts
    assert parts[SINCE_POWER].figure == "0 spoilt, 0 too long"


def test_a_bad_line_is_noticed() -> None:
    parts = checked(LineFaults(lost=0.05, corrupted=0.05, least_delay_s=0.002))
    assert not parts["lines lost or spoilt"].fine
    assert int(parts[SINCE_POWER].figure.partition(" ")[0]) > 0


def test_an_emergency_stop_that_noise_made_is_a_part_that_failed(monkeypatch) -> None:
    """A spoilt byte can be the emergency character: the launcher latches, and is said to."""
    stop = Machine.stop

    def spoilt(machine: Machine, reason: Reason) -> None:
        stop(machine, reason)
        machine.emergency(Reason.STOP_CHARACTER)

    monkeypatch.setattr(Machine, "stop", spoilt)
    parts = checked()
    assert len(parts) == 7
    for name in ("silence of the host", "emergency stop at the launcher"):
        assert not parts[name].fine
        assert "latched" in parts[name].figure
        assert "emergency stop" in parts[name].help


def test_a_launcher_without_a_watchdog_is_noticed(monkeypatch) -> None:
    monkeypatch.setattr(Machine, "_silent_ms", lambda _self: None)
    assert not checked()["silence of the host"].fine


def test_doctor_gives_a_command_for_everything_that_is_not_fine() -> None:
    findings = look()
    assert findings
    assert all(finding.fine or finding.fix for finding in findings)


_NOWHERE = "serial:/dev/no-such-port"


@pytest.mark.parametrize(
    ("words", "code", "slug"),
    [
        (["link-check", "--on", _NOWHERE], 3, "port-missing"),
        (["pair", "--on", _NOWHERE], 3, "port-missing"),
        (["jog", "--on", _NOWHERE], 3, "port-missing"),
        (["set-up", "--on", _NOWHERE], 3, "port-missing"),
        (["link-check", "--on", "ttyUSB0"], 3, "unknown-launcher"),
        (["jog", "--on", "ttyUSB0"], 3, "unknown-launcher"),
        (
            ["link-check", "--on", "sim:", "--launcher", "/no/such/profile.toml"],
            1,
            "profile-unreadable",
        ),
        (["bundle", "-o", "/no/such/folder/x.zip", "--no-journal"], 1, "bundle-file"),
        (["stand-in", "--pty", "--fault", "rust=1"], 3, "unknown-fault"),
        (["stand-in", "--pty", "--fault", "cut=7"], 3, "unknown-fault"),
    ],
)
def test_trouble_is_told_in_the_format_that_was_asked_for(words, code, slug) -> None:
    done = CliRunner().invoke(verbs, [*words, "--format", "json"])
    assert done.exit_code == code, done.output
    (told,) = json.loads(done.stdout)["diagnostics"]
    assert told["slug"] == slug
    assert told["help"]
    as_text = CliRunner().invoke(verbs, words)
    assert as_text.exit_code == code
    assert f"({slug})" in as_text.stderr
    assert not as_text.stdout


def test_manual_control_tells_machines_one_object_a_line() -> None:
    typed = "status\nspeed 900 km/h\nmove\nnonsense\nquit\n"
    done = CliRunner().invoke(verbs, ["jog", "--on", "sim:", "--format", "json"], input=typed)
    assert done.exit_code == 0, done.output
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    assert [stray for line in lines for stray in strays(line)] == []
    assert [line["state"] for line in lines if "drives" in line] == ["safe"]
    slugs = [line["diagnostics"][0]["slug"] for line in lines if "diagnostics" in line]
    assert slugs == ["jog-line", "jog-line"]


def test_doctor_names_the_program_that_holds_a_port(tmp_path) -> None:
    """Seen in /proc, without opening the port, which would reset many boards."""
    port = tmp_path / "ttyUSB0"
    port.touch()
    code = "import sys; held = open(sys.argv[1]); print(flush=True); sys.stdin.read()"
    with subprocess.Popen(
        [sys.executable, "-c", code, str(port)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as process:
        process.stdout.readline()
        finding = machine_check._port(Found(f"serial:{port}", "a port", usb="1a86:7523"))
        process.stdin.close()
    assert not finding.fine
    assert f"process {process.pid}" in finding.seen
    assert finding.fix.startswith(f"kill {process.pid}")
    assert machine_check._port(Found(f"serial:{port}", "a port", usb="1a86:7523")).fine


@pytest.mark.parametrize(
    ("answer", "fix"),
    [
        (Answer(), "start dbus"),
        (Answer(bus=True, denied=True), "usermod -aG bluetooth"),
        (Answer(bus=True), "bluez"),
        (Answer(bus=True, runs=True), "adapter"),
        (Answer(bus=True, runs=True, adapters=(("hci0", False),)), "bluetoothctl power on"),
    ],
)
def test_each_trouble_of_bluetooth_has_its_own_fix(answer, fix, monkeypatch) -> None:
    """On a machine without the service's program and without an adapter."""
    monkeypatch.setattr(bluetooth_check, "_DAEMONS", ())
    monkeypatch.setenv("PATH", "")
    fixes = [each.fix for each in bluetooth_check._judge(answer) if not each.fine]
    assert any(fix in each for each in fixes), fixes


def test_with_no_way_to_a_launcher_doctor_ends_with_3(monkeypatch) -> None:
    async def silent() -> Answer:
        return Answer()

    monkeypatch.setattr(machine_check, "serial_ports", list)
    monkeypatch.setattr(bluetooth_check, "_ask_service", silent)
    done = CliRunner().invoke(verbs, ["look-over", "--format", "json"])
    assert done.exit_code == 3
    told = json.loads(done.stdout)
    assert not told["ok"]
    assert all(each["fine"] or each["fix"] for each in told["findings"])
    assert "data" in told["findings"][0]["fix"], "a cable that only charges is the usual cause"


def test_a_working_radio_is_fine() -> None:
    answer = Answer(bus=True, runs=True, adapters=(("hci0", True),))
    assert all(each.fine for each in bluetooth_check._judge(answer))


def test_the_commands_answer_machines(monkeypatch) -> None:
    for words in (["look-over"], ["find", "--seconds", "0"], ["link-check", "--on", "sim:"]):
        done = CliRunner().invoke(verbs, [*words, "--format", "json"])
        assert done.exit_code in (0, 3), done.output
        assert isinstance(json.loads(done.stdout), dict)
    done = CliRunner().invoke(verbs, ["link-check", "--on", "serial:/dev/no-such-port"])
    assert done.exit_code == 3
    assert "port-missing" in done.output
    assert CliRunner().invoke(verbs, ["pair", "--on", "tcp:there:1"]).exit_code == 2
