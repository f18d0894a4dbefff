"""The build guide's wiring table and picture against the pins that the code for the board uses."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest
from feedscript_drivers.transports.bridge import OWN, read_bridge

from tests.firmware.far_end import BUILD, FIRMWARE, make
from tests.firmware.figures import BEGIN, END, NAMES, ROWS

GUIDE = (FIRMWARE / "README.md").read_text(encoding="utf-8")
BOARD = (FIRMWARE / "boards" / "atmega328p" / "board.c").read_text(encoding="utf-8")

#: Pins that special functions of the ATmega328P sit on (its data sheet, pin configurations).
FUNCTION_PINS = {
    "RXD": "PD0", "TXD": "PD1", "INT0": "PD2", "INT1": "PD3", "PCINT20": "PD4", "OC0B": "PD5",
    "OC0A": "PD6", "OC1A": "PB1", "OC1B": "PB2", "ADC4": "PC4", "ADC5": "PC5",
}  # fmt: skip


def table() -> dict[str, tuple[str, str]]:
    """Pin to direction and what it goes to; a row of two pins names its parts in their order."""
    section = GUIDE.partition("## Wiring")[2].partition("\n## ")[0]
    rows: dict[str, tuple[str, str]] = {}
    for pins, direction, to in re.findall(r"^\| (P[^|]*) \| ([a-z]*) \| ([^|]*) \|", section, re.M):
        for pin in pins.split(", "):
            rows[pin] = (direction.strip(), to)
    return rows


def bits(register: str) -> set[str]:
    """The pins that one assignment of a register in pins() sets."""
    (value,) = re.findall(rf"^    {register} = ([^;]*);", BOARD, re.M)
    return set(re.findall(r"_BV\((P[BCD]\d)\)", value))


def body(function: str) -> str:
    """The text of one function of the board."""
    found = re.search(rf"^\w+ (?:\w+ )?{function}\([^)]*\)\n\{{.*?^\}}", BOARD, re.S | re.M)
    assert found is not None, function
    return found[0]


def test_directions_are_those_of_the_registers() -> None:
    rows = table()
    out = {pin for pin, (direction, _) in rows.items() if direction == "out"}
    inputs = {pin for pin, (direction, _) in rows.items() if direction == "in"}
    assert out == bits("DDRD") | bits("DDRB") | bits("DDRC")
    pulled_up = bits("PORTD") | bits("PORTB") | bits("PORTC")
    analog = {f"PC{channel}" for channel in re.findall(r"_BV\(ADC(\d)D\)", BOARD)}
    assert inputs == pulled_up | analog
    assert {pin for pin, (direction, _) in rows.items() if direction == "both"} == {
        FUNCTION_PINS["RXD"], FUNCTION_PINS["TXD"],
    }  # fmt: skip


@pytest.mark.parametrize(
    ("function", "word"),
    [
        ("board_power", "contactor"),
        ("board_gate", "gate's transistor"),
        ("board_lamp", "lamp"),
        ("board_stop_loop_open", "emergency button"),
        ("board_arm_switch", "arming switch"),
        ("board_ball_blocked", "ball sensor"),
        ("board_ball_ready", "ball-on-the-gate"),
        ("board_setup_jumper", "setup jumper"),
    ],
)
def test_each_part_hangs_on_the_pin_that_its_function_uses(function: str, word: str) -> None:
    pins = set(re.findall(r"\bP[BCD]\d\b", body(function)))
    (pin,) = pins
    assert word in table()[pin][1]


def test_special_functions_sit_on_their_pins() -> None:
    """Wheel 1 is the first pin of its row; the timers' outputs and interrupts decide which."""
    wheels = body("board_wheel")
    assert re.search(r"wheel == 0u\) \? _BV\(COM0A1\) : _BV\(COM0B1\)", wheels)
    servos = body("board_servo")
    assert re.search(r"axis == 0u\) \? _BV\(COM1A1\) : _BV\(COM1B1\)", servos)
    assert re.search(r"ISR\(INT0_vect\)\n\{\n    note_pulse\(0u\)", BOARD)
    assert "PCMSK2 = _BV(PCINT20);" in BOARD
    assert re.search(r"== 4u\) \{\n        supply_raw = value;", BOARD)
    section = GUIDE.partition("## Wiring")[2]
    pair = {name: FUNCTION_PINS[name] for name in FUNCTION_PINS}
    assert f"| {pair['OC0A']}, {pair['OC0B']} | out | motor driver of wheel 1 and" in section
    assert f"| {pair['OC1A']}, {pair['OC1B']} | out | pan and tilt servo" in section
    assert f"| {pair['INT0']}, {pair['INT1']} | in | tachometer of wheel 1 and" in section
    assert f"| {pair['PCINT20']} | in | ball sensor" in section
    assert f"| {pair['ADC4']} | in | supply voltage" in section
    assert f"| {pair['ADC5']} | in | motor temperature" in section


def test_the_picture_shows_every_pin_of_the_table_at_its_part() -> None:
    picture = ElementTree.parse(FIRMWARE / "wiring.svg").getroot()
    space = {"svg": "http://www.w3.org/2000/svg"}
    drawn: dict[str, str] = {}
    for group in picture.iterfind("svg:g", space):
        words = " ".join(text.text or "" for text in group.iterfind("svg:text", space))
        for pin in group.attrib["id"].split("-"):
            assert pin in words, "the pin must be written, not only named"
            drawn[pin] = words
    rows = table()
    assert set(drawn) == set(rows)
    for pin, word in {
        "PD6": "wheel 1", "PD5": "wheel 2", "PD7": "contactor", "PB0": "gate", "PB1": "pan",
        "PB2": "tilt", "PB5": "lamp", "PD2": "wheel 1", "PD3": "wheel 2", "PD4": "ball sensor",
        "PC0": "emergency", "PC1": "arming", "PC2": "gate", "PC3": "jumper", "PC4": "supply",
        "PC5": "temperature", "PD0": "serial", "PD1": "serial",
    }.items():  # fmt: skip
        assert word in drawn[pin]
        assert word.split(" ")[0] in rows[pin][1]


CAUTIONS = (
    "guards", "fuse", "mechanical stops", "eye protection", "electrical code", "manual",
    "qualified", "emergency stop is a red mushroom button", "without balls",
)  # fmt: skip


@pytest.mark.parametrize("caution", CAUTIONS)
def test_the_guide_says_every_caution(caution: str) -> None:
    assert caution in GUIDE


def test_the_guide_shows_its_picture() -> None:
    assert "](wiring.svg)" in GUIDE


def names_of_rp2040() -> dict[str, str]:
    """Pin to the name that the RP2040's board gives it; of two wheels or axes the first."""
    board = (FIRMWARE / "boards" / "rp2040" / "board.c").read_text(encoding="utf-8")
    named = {f"GP{number}": name for name, number in re.findall(r"PIN_(\w+) = (\d+)", board)}
    slices = dict(re.findall(r"SLICE_(\w+) = (\d+)", board))
    return named | {f"GP{2 * int(slices[name])}": name for name in ("WHEELS", "SERVOS")}


@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("TX", "serial line out"), ("TACH", "tachometer of wheel 1"), ("BALL", "ball sensor"),
        ("POWER", "contactor"), ("GATE", "gate's transistor"), ("LOOP", "emergency button"),
        ("SWITCH", "arming switch"), ("READY", "ball-on-the-gate"), ("JUMPER", "setup jumper"),
        ("LAMP", "lamp"), ("SUPPLY", "supply voltage"), ("WARMTH", "motor temperature"),
        ("RADIO_TX", "radio module's serial line out"), ("WHEELS", "motor driver of wheel 1"),
        ("SERVOS", "pan and tilt servo"),
    ],
)  # fmt: skip
def test_each_part_hangs_on_the_pin_that_the_rp2040_gives_it(name: str, word: str) -> None:
    pins = {given: pin for pin, given in names_of_rp2040().items()}
    (row,) = re.findall(rf"^\| {pins[name]}\b[^|]*\|[^|]*\| ([^|]*)", GUIDE, re.M)
    assert word in row.replace("*", "")


def test_the_figures_stand_side_by_side_on_the_page() -> None:
    table = GUIDE.partition(BEGIN)[2].partition(END)[0]
    head, _, *rows = [
        [cell.strip() for cell in line.strip("|").split("|")]
        for line in table.splitlines()
        if line.startswith("|")
    ]
    assert head == ["", *NAMES.values()]
    assert [row[0] for row in rows] == list(ROWS)
    on_chips = [cell for row in rows for cell in row[1:3]]
    assert all(re.match(r"\d", cell) for cell in on_chips), "python -m tests.firmware.figures"


FLASHING = (FIRMWARE.parent / "building" / "flashing.md").read_text(encoding="utf-8")


def test_the_fuse_bytes_that_are_written_are_those_of_the_table() -> None:
    rows = re.findall(
        r"^\| (low|high|extended) \| ([\d, ]+) \| (\w+) \| ([01]+) \|", FLASHING, re.M
    )
    for byte, word in (("low", "lfuse"), ("high", "hfuse"), ("extended", "efuse")):
        bits = {
            int(place): bit
            for name, places, _, values in rows
            for place, bit in zip(places.split(", "), values, strict=True)
            if name == byte
        }
        assert sorted(bits) == list(range(8))
        value = sum(int(bit) << place for place, bit in bits.items())
        assert f"-U {word}:w:0x{value:02X}:m" in FLASHING
    values = {name: value for _, _, name, value in rows}
    assert (values["BODLEVEL"], values["EESAVE"], values["SPIEN"]) == ("100", "0", "0")


def test_an_image_for_the_chips_own_loader_holds_every_byte_at_its_place() -> None:
    """Read block by block as Microsoft's UF2 page describes them."""
    make("uf2")
    image, file = ((BUILD / f"launcher.{end}").read_bytes() for end in ("bin", "uf2"))
    flash, count = bytearray(), len(file) // 512
    assert len(file) % 512 == 0
    for number in range(count):
        block = file[512 * number : 512 * (number + 1)]
        word = [int.from_bytes(block[at : at + 4], "little") for at in range(0, 32, 4)]
        assert block[:4] == b"UF2\n"
        assert (word[1], block[508:]) == (0x9E5D5157, bytes.fromhex("306fb10a"))
        assert word[2] == 0x2000, "a family is named"
        assert word[3:] == [0x10000000 + len(flash), 256, number, count, 0xE48BFF56]
        flash += block[32 : 32 + word[4]]
    assert flash[: len(image)] == image
    assert not any(flash[len(image) :])


def test_the_guides_pages_lead_to_each_other() -> None:
    """Every link of them leads to a page or picture, and every page is reached from the first."""
    folder = FIRMWARE.parent / "building"
    reached, ahead = set(), [folder / "README.md"]
    while ahead:
        page = ahead.pop()
        reached.add(page.name)
        for name in re.findall(r"\]\(([\w./-]+)(?:#[\w-]+)?\)", page.read_text(encoding="utf-8")):
            target = (page.parent / name).resolve()
            assert target.exists(), f"{page.name}: {name}"
            if target.suffix == ".md" and target.parent == folder and target.name not in reached:
                ahead.append(target)
    assert reached == {page.name for page in folder.glob("*.md")}
    assert "](../building/README.md)" in GUIDE


@pytest.mark.parametrize(
    "page", ["README", "mechanics", "electrics", "flashing", "radio", "first-ball"]
)
def test_every_page_of_the_guide_begins_with_its_cautions(page: str) -> None:
    text = (FIRMWARE.parent / "building" / f"{page}.md").read_text(encoding="utf-8")
    before, _, rest = text.partition("\n## ")
    assert "**Caution" in before or rest.startswith("Cautions")


def test_the_radio_pages_example_is_a_bridges_file(tmp_path: Path) -> None:
    text = (FIRMWARE.parent / "building" / "radio.md").read_text(encoding="utf-8")
    (example,) = re.findall(r"^```toml\n(.*?)^```", text, re.M | re.S)
    file = tmp_path / "bridge.toml"
    file.write_text(example, encoding="utf-8")
    bridge = read_bridge(file)
    assert bridge.chunk_bytes == 20
    assert bridge.service != OWN.service


@pytest.mark.parametrize(
    ("drawing", "pins", "part"),
    [
        ("stop-circuit", ("PD7", "GP14"), "contactor's transistor"),
        ("stop-circuit", ("PC0", "GP16"), "emergency button"),
        ("radio-circuit", ("PC3", "GP19"), "setup jumper"),
        ("radio-circuit", ("PD0", "GP0"), "serial line"),
        ("radio-circuit", ("PD1", "GP1"), "serial line"),
    ],
)
def test_the_circuits_of_the_guide_name_the_pins_of_the_wiring(
    drawing: str, pins: tuple[str, str], part: str
) -> None:
    svg = (FIRMWARE.parent / "building" / f"{drawing}.svg").read_text(encoding="utf-8")
    for pin in pins:
        assert re.search(rf"\b{pin}\b", svg)
        (row,) = re.findall(rf"^\| [^|]*\b{pin}\b[^|]*\|[^|]*\| ([^|]*)", GUIDE, re.M)
        assert part in row
