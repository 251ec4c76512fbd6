"""Records of the later chips: their facts as literal rows, and each judged through a small whole plan.

Facts: RP2350 datasheet, sections 11.1.1 (window of 32 pins), 12.11 (fast port), 14.9.4 (100 mA); STM32F405/407
datasheet, revision 4, tables 12 (150 mA, 25 mA) and 48 (PC13 to PC15); STM32H743 datasheet, revision 5, table 21
(140 mA, 20 mA). From memory: free RAM, rates, everything of `wifi240-lcd`, ports of the `stm32f407`. Pins of the display
controller of the `stm32h743`: public device bindings, their alternate functions 9, 10, 12, 13 and 14.

What memory says alone makes no stop, so that such a fault has weight caution.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from scanloom.basis.verdict import Verdict
from scanloom.cli.app import run
from scanloom.formats.dossier_file import read_dossier_text
from scanloom.handbook.chips import chip, chip_names
from scanloom.survey import Survey, survey_plan

HERE = Path(__file__).with_name("plan.toml")
MHZ = 10**6
SMALL = "{ parent = '640x480@60', divide = 2, repeat = 2 }"
COLOURS = ("red", "green", "blue")
Depths = Sequence[tuple[int, ...]]


SYNC = "{ style = 'buffered', buffer = 'LVC', outputs = 'one' }"


def survey(like: str, displays: str, board: str, rig: str, sync: str = SYNC) -> Survey:
    text = f"""
[dossier]
format = 1
[chip]
like = '{like}'
pin_high = '25 ohm; measured'
pin_low = '20 ohm; measured'
rail = '3.3 V; measured'
{displays}
[board]
{board}
[levels]
colour = {{ style = 'series', part = '253.5714 ohm; measured' }}
sync = {sync}
[[rigs]]
name = 'r'
{rig}
"""
    return survey_plan(read_dossier_text(text, HERE).plan)


def wired(
    like: str, stream: str, depths: Depths, pins: Iterable[int], syncs: tuple[int, int], *,
    raster: str = SMALL, rig: str = "", white: bool = False, sync: str = SYNC,
) -> Survey:  # fmt: skip
    """Displays of so many bits a colour; pins in the order of the word, so the lowest bit of red first."""
    left = iter(pins)
    displays, connectors, bits = [], [], []
    for number, depth in enumerate(depths):
        name = f"d{number}"
        displays.append(
            f"[[displays]]\nname = '{name}'\nline_rate = '30 .. 60 kHz'\nframe_rate = '50 .. 75 Hz'\n"
            "colour_load = '75 ohm; measured'\nsync_load = '10 kohm; measured'\nsync_pull = 'none; measured'"
        )
        used = [(colour, [next(left) for _ in range(n)]) for colour, n in zip(COLOURS, depth, strict=False) if n]
        shown = ", ".join(f"{colour} = {found[::-1]}" for colour, found in used)
        connectors.append(f"{{ name = 'J{number}', plugs = '{name}', {shown} }}")
        one = "white = 1" if white else ", ".join(f"{colour} = {len(found)}" for colour, found in used)
        bits.append(f"{name} = {{ {one} }}")
    assert next(left, None) is None
    return survey(
        like,
        "\n".join(displays),
        f"sync = {{ h = {syncs[0]}, v = {syncs[1]} }}\nconnectors = [{', '.join(connectors)}]",
        f"stream = '{stream}'\nraster = {raster}\ndepth = {{ {', '.join(bits)} }}\n{rig}",
        sync,
    )


def one(found: Survey, code: str, subject: str = "") -> Verdict:
    """The first verdict of a code about a subject."""
    match = [v for v in found.verdicts if v.code == code and v.subject.startswith(subject)]
    assert match, f"no {code} about {subject!r}"
    return match[0]


def port(names: str) -> list[int]:
    """Pin numbers of names such as PE0: 16 x port + bit."""
    return [16 * (ord(name[1]) - ord("A")) + int(name[2:]) for name in names.split()]


# --- facts as literal rows


@pytest.mark.parametrize(
    ("name", "state", "in_all", "largest"),
    [
        ("rp2350a", "bare", 490_000, 490_000),
        ("rp2350a", "network", 430_000, 430_000),
        ("rp2350b", "bare", 490_000, 490_000),
        ("rp2350b", "network", 430_000, 430_000),
        ("wifi240-lcd", "radio-off", 340_000, 270_000),
        ("wifi240-lcd", "network", 240_000, 170_000),
        ("stm32f407", "bare", 120_000, 120_000),  # not the 64 KiB coupled to the core
        ("stm32h743", "bare", 510_000, 510_000),  # the piece of 512 KiB on the wide bus alone
    ],
)
def test_ram_that_the_stream_can_read(name: str, state: str, in_all: int, largest: int) -> None:
    (row,) = [row for row in chip(name).table.state if row.name == state]
    assert (sum(row.free), max(row.free)) == (in_all, largest)


@pytest.mark.parametrize(
    ("name", "each_a", "all_a", "own_a"),
    [
        ("rp2350a", "0.012", "0.1", (0, 0, 0)),  # flash pins have a limit of their own
        ("rp2350b", "0.012", "0.1", (0, 0, 0)),
        ("wifi240-lcd", "0.020", "1.5", (0, 0, 0)),
        ("stm32f407", "0.025", "0.15", (0.05, 0.07, 0.09)),  # the core counts in the total
        ("stm32h743", "0.020", "0.14", (0, 0, 0)),
    ],
)
def test_currents(name: str, each_a: str, all_a: str, own_a: tuple[float, float, float]) -> None:
    table = chip(name).table
    amounts = {row.over: Fraction(row.amount) for row in table.current}
    assert amounts == {"each pin": Fraction(each_a), "all pins": Fraction(all_a)}
    assert table.own_pins is not None
    own = table.own_pins.amount
    assert (own.low, own.typical, own.high) == pytest.approx(own_a)


@pytest.mark.parametrize(
    ("name", "stream", "lanes", "word_bytes", "planned", "hard", "sync", "table"),
    [
        ("rp2350a", "8 lanes", 8, 1, 75, 150, "word", None),
        ("rp2350a", "8 lanes, fast port", 8, 1, 75, 150, "word", None),
        ("rp2350b", "32 lanes", 32, 4, 75, 150, "word", None),
        ("wifi240-lcd", "8 lanes", 8, 1, 40, 80, "hardware", None),
        ("wifi240-lcd", "16 lanes", 16, 2, 40, 80, "hardware", None),
        ("stm32f407", "8 lanes", 8, 1, 10.5, 42, "word", None),
        ("stm32f407", "16 lanes", 16, 2, 10.5, 42, "word", None),
        ("stm32h743", "8 bits by colour table", 24, 1, 83, 150, "hardware", 256),
        ("stm32h743", "24 lanes", 24, 4, 83, 150, "hardware", None),
    ],
)
def test_streams(
    name: str, stream: str, lanes: int, word_bytes: int, planned: float, hard: float, sync: str, table: int | None
) -> None:
    (row,) = [row for row in chip(name).table.stream if row.name == stream]
    assert (row.lanes, row.word_bytes, row.sync, row.table) == (lanes, word_bytes, sync, table)
    assert (float(row.planned), float(row.hard)) == (planned * MHZ, hard * MHZ)


Range = tuple[str, int, int, int, float | None, float | None]


def step(name: str, first: int, last: int, low: float | None = None, high: float | None = None, per: int = 1) -> Range:
    """Values first / per to last / per, and the rates allowed after the step in MHz."""
    return name, first, last, per, low and low * MHZ, high and high * MHZ


PLL = [step("REFDIV", 1, 2, 5), step("FBDIV", 16, 320, 750, 1600), step("PD1", 1, 7), step("PD2", 1, 7, None, 150)]
MACHINE = [*PLL, step("divider", 256, 65536 * 256, per=256)]
PORT = [*PLL, step("port divider", 1, 4)]
FRACTION = [step("n + b/a", 2, 256), step("m", 1, 64)]
TIMER = [
    step("M", 2, 63, 1, 2),
    step("N", 50, 432, 100, 432),
    step("P", 2, 8, None, 168),
    step("timer period", 4, 65536),
]
THIRD = [
    step("M", 1, 63, 2, 16),
    step("N", 4 * 8192, 512 * 8192 + 8191, 192, 836, per=8192),
    step("R", 1, 128, None, 150),
]


@pytest.mark.parametrize(
    ("name", "chains"),
    [  # the ends of some ranges lie so far from any likely target that no search would show them wrong
        ("rp2350a", [(12, MACHINE), (12, PORT)]),
        ("rp2350b", [(12, MACHINE), (12, PORT)]),
        ("wifi240-lcd", [(240, FRACTION), (160, FRACTION), (40, FRACTION)]),
        ("stm32f407", [(8, TIMER)]),
        ("stm32h743", [(25, THIRD)]),
    ],
)
def test_ranges_of_the_clock_chains(name: str, chains: list[tuple[int, list[Range]]]) -> None:
    def number(rate: Decimal | None) -> float | None:
        return None if rate is None else float(rate)

    found = chip(name).table.clock
    assert [chain.reference for chain in found] == [mhz * MHZ for mhz, _ in chains]
    for chain, (_, steps) in zip(found, chains, strict=True):
        ranges = [(s.name, s.first, s.last, s.per, number(s.low_hz), number(s.high_hz)) for s in chain.steps]
        assert ranges == steps


def test_external_memory_is_on_one_record_alone() -> None:
    external = {name: chip(name).table.external for name in chip_names()}
    assert [name for name, row in external.items() if row is not None] == ["wifi240-lcd"]
    row = external["wifi240-lcd"]
    assert row is not None
    assert (row.size_bytes, row.planned_bytes_per_s, row.hard_bytes_per_s) == (8 * 2**20, 30e6, 44e6)


# Blue from lane 0, green from lane 8, red from lane 16.
CONTROLLER = [
    "PE4 PG14 PJ12", "PA10 PG12 PJ13", "PA3 PC9 PD6 PG10 PJ14", "PA8 PD10 PG11 PJ15",
    "PA10 PE12 PG12 PI4 PJ13 PK3", "PA3 PI5 PK4", "PB8 PI6 PK5", "PB9 PI7 PK6",
    "PB1 PE5 PJ7", "PB0 PE6 PJ8", "PA6 PH13 PI15 PJ9", "PC9 PE11 PG10 PH14 PJ10 PJ12",
    "PB10 PH4 PH15 PJ11", "PB11 PH4 PI0 PK0", "PC7 PI1 PI11 PK1", "PD3 PG8 PI2 PK2",
    "PG13 PH2 PI15", "PA2 PH3 PJ0", "PA1 PC10 PH8 PJ1", "PB0 PH9 PJ2",
    "PA5 PA11 PH10 PJ3", "PA9 PA12 PC0 PH11 PJ4", "PA8 PB1 PH12 PJ5", "PE15 PG6 PJ0 PJ6",
]  # fmt: skip
HIGHEST_PORTS = port(
    "PJ12 PJ13 PJ14 PJ15 PK3 PK4 PK5 PK6 PJ7 PJ8 PJ9 PJ10 PJ11 PK0 PK1 PK2 PI15 PJ0 PJ1 PJ2 PJ3 PJ4 PJ5 PJ6"
)


def test_routing_rows() -> None:
    def rule(name: str, stream: str) -> tuple[object, ...]:
        row = chip(name).routing_of(stream)
        assert row is not None
        return row.rule, row.fan_out, row.pins, row.windows, row.bases

    fast = tuple(range(12, 20))
    assert rule("rp2350a", "8 lanes") == ("run", False, None, ((0, 31),), ())
    assert rule("rp2350b", "32 lanes") == ("run", False, None, ((0, 31), (16, 47)), ())
    assert rule("rp2350a", "8 lanes, fast port") == ("any", True, fast, (), ())
    assert rule("rp2350b", "8 lanes, fast port") == ("any", True, fast, (), ())
    assert rule("wifi240-lcd", "16 lanes") == ("any", True, None, (), ())
    assert rule("stm32f407", "8 lanes") == ("run", False, None, (), tuple(port("PB8 PD0 PD8 PE0 PE8")))
    assert rule("stm32f407", "16 lanes") == ("run", False, None, (), tuple(port("PD0 PE0")))
    fixed = chip("stm32h743").routing_of("24 lanes")
    assert fixed is not None and fixed == chip("stm32h743").routing_of("8 bits by colour table")
    assert (fixed.rule, fixed.fan_out) == ("fixed", False)
    assert [list(choice) for choice in fixed.choices] == [port(names) for names in CONTROLLER]
    assert (list(fixed.h), list(fixed.v)) == (port("PC6 PI10 PI12"), port("PA4 PI9 PI13"))


# --- lanes.routing

ALL = ((8, 8, 8),)  # 24 bits
ROUTES = [
    # a state machine: one unbroken run in the order of the word, inside a window of 32 pins
    ("rp2350a", "16 lanes", [(1, 1, 1)] * 3, range(9), (9, 10), "holds", "pins 0 to 10"),
    ("rp2350a", "16 lanes", [(1, 1, 1)] * 3, [*range(8), 9], (10, 11), "fails", "no unbroken run"),
    ("rp2350a", "16 lanes", [(1, 1, 1)] * 3, range(2, 11), (1, 0), "fails", "order differs"),
    ("rp2350b", "32 lanes", [(8, 8, 7)], range(16, 39), (39, 40), "holds", "pins 16 to 40"),
    ("rp2350b", "32 lanes", [*ALL, (1,)], range(14, 39), (39, 40), "fails", "0 to 31 or 16 to 47"),
    ("rp2350b", "32 lanes", [*ALL, (2, 2, 2)], range(30), (30, 31), "holds", "pins 0 to 31"),
    ("rp2350b", "32 lanes", [*ALL, (2, 2, 2)], range(16, 46), (46, 47), "holds", "pins 16 to 47"),
    ("rp2350b", "32 lanes", [*ALL, (2, 2, 2)], range(1, 31), (31, 32), "fails", "0 to 31 or 16 to 47"),
    # the fast port: GPIO 12 to 19 in any order
    ("rp2350a", "8 lanes, fast port", [(2, 2, 2)], range(12, 18), (18, 19), "holds", "12, 13, 14, 15, 16, 17, 18, 19"),
    ("rp2350b", "8 lanes, fast port", [(2, 2, 2)], (19, 13, 17, 15, 12, 14), (18, 16), "holds", "12, 13, 14"),
    ("rp2350a", "8 lanes, fast port", [(2, 2, 2)], range(11, 17), (17, 18), "fails", "not 11"),
    ("rp2350b", "8 lanes, fast port", [(2, 2, 2)], range(12, 18), (18, 20), "fails", "not 20"),
    # a port: bit for bit from the base of a byte, or from bit 0
    ("stm32f407", "8 lanes", [(2, 2, 2)], port("PE0 PE1 PE2 PE3 PE4 PE5"), port("PE6 PE7"), "holds", "64 to 71"),
    ("stm32f407", "8 lanes", [(2, 2, 2)], range(24, 30), (30, 31), "holds", "24 to 31"),  # PB8 and up
    ("stm32f407", "8 lanes", [(2, 2, 2)], range(16, 22), (22, 23), "fails", "pin 16"),  # PB0 and up
    ("stm32f407", "8 lanes", [(2, 2, 2)], range(65, 71), (71, 72), "fails", "pin 65"),
    ("stm32f407", "16 lanes", [(4, 5, 5)], range(48, 62), (62, 63), "holds", "48 to 63"),
    ("stm32f407", "16 lanes", [(4, 5, 5)], range(56, 70), (70, 71), "fails", "pin 56"),  # PD8, into PE
    # the display controller: each lane and each sync on one of its own pins
    ("stm32h743", "24 lanes", ALL, HIGHEST_PORTS, port("PI12 PI13"), "holds", "its own pins"),
    ("stm32h743", "24 lanes", ALL, HIGHEST_PORTS, port("PC6 PA4"), "holds", "its own pins"),
    ("stm32h743", "24 lanes", ALL, HIGHEST_PORTS, port("PI13 PI12"), "fails", "h on pin 141"),
    ("stm32h743", "24 lanes", ALL, HIGHEST_PORTS, port("PI12 PA7"), "fails", "v on pin 7"),
    ("stm32h743", "24 lanes", ALL, [HIGHEST_PORTS[1], HIGHEST_PORTS[0], *HIGHEST_PORTS[2:]], port("PI12 PI13"),
     "fails", "lane 0 (d0.red) on pin 157, which may leave on 68, 110, 156; lane 1"),
    ("stm32h743", "8 bits by colour table", [(3, 3, 2)], HIGHEST_PORTS[:8], port("PI12 PI13"), "holds", "own pins"),
    ("stm32h743", "8 bits by colour table", [(3, 3, 2)], HIGHEST_PORTS[1:9], port("PI12 PI13"), "fails", "lane 0"),
    # a matrix: any lane on any pin
    ("wifi240-lcd", "16 lanes", [(1, 1, 1)] * 2, (21, 4, 38, 10, 47, 5), (42, 1), "holds", "Any lane"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "stream", "depths", "pins", "syncs", "state", "words"),
    ROUTES,
    ids=[f"{row[0]}-{row[1]}-{number}" for number, row in enumerate(ROUTES)],
)
def test_routing(
    name: str, stream: str, depths: Depths, pins: Iterable[int], syncs: Sequence[int], state: str, words: str
) -> None:
    found = one(wired(name, stream, depths, pins, (syncs[0], syncs[1])), "lanes.routing")
    assert found.state == state
    assert words in found.says
    assert found.weight == ("stop" if name.startswith("rp2350") else "caution")


@pytest.mark.parametrize(
    ("name", "stream", "pins", "state"),
    [
        ("rp2350a", "8 lanes, fast port", (12, 15, 19), "holds"),
        ("rp2350a", "8 lanes", (12, 13, 14), "fails"),
        ("wifi240-lcd", "8 lanes", (12, 15, 21), "holds"),
        ("stm32f407", "8 lanes", (64, 65, 66), "fails"),
        ("stm32h743", "24 lanes", (156, 157, 158), "fails"),
    ],
)
def test_one_white_lane_on_three_pins(name: str, stream: str, pins: tuple[int, ...], state: str) -> None:
    found = wired(name, stream, [(1, 1, 1)], pins, (17, 16), white=True)
    routing = one(found, "lanes.routing")
    assert routing.state == state
    assert ("one pin only" in routing.says) == (state == "fails")
    assert [patch.key for patch in routing.remedy] == (["rigs.r.depth.d0"] if state == "fails" else [])


@pytest.mark.parametrize("lane", range(24))
def test_a_lane_of_the_controller_leaves_on_its_own_pins_alone(lane: int) -> None:
    """One red lane, on each pin of its row, and on two pins that carry nothing of the controller."""
    assert not {"PC1", "PF3"} & set(" ".join(CONTROLLER).split())
    stated = ", ".join([*["'spare'"] * lane, "'d0.red'"])
    for name in [*CONTROLLER[lane].split(), "PC1", "PF3"]:
        found = wired("stm32h743", "24 lanes", [(1,)], port(name), (140, 141), rig=f"lanes = [{stated}]")
        routing = one(found, "lanes.routing")
        if name in CONTROLLER[lane].split():
            assert routing.state == "holds", name
        else:
            assert routing.state == "fails"
            assert re.findall(r"lane (\d+) \(", routing.says) == [str(lane)]


# --- lanes.table, lanes.width


@pytest.mark.parametrize(
    ("depths", "state", "entries"),
    [([(3, 3, 2)], "holds", 256), ([(1, 1, 1)] * 2, "holds", 64), ([(3, 3, 3)], "fails", 512)],
)
def test_colour_bits_need_an_entry_for_each_combination(depths: Depths, state: str, entries: int) -> None:
    bits = sum(map(sum, depths))
    found = wired("stm32h743", "8 bits by colour table", depths, HIGHEST_PORTS[:bits], (140, 141))
    table = one(found, "lanes.table")
    assert table.found is not None and table.limit is not None
    assert (table.state, table.found.typical, table.limit.high) == (state, entries, 256)
    assert table.weight == "caution"
    assert not [v for v in wired_24().verdicts if v.code == "lanes.table"]


def wired_24() -> Survey:
    return wired("stm32h743", "24 lanes", [(3, 3, 3)], HIGHEST_PORTS[:9], (140, 141))


@pytest.mark.parametrize(
    ("name", "state"),
    [("wifi240-lcd", "holds"), ("wifi240", "fails")],
)
def test_hardware_syncs_leave_every_lane_to_colour(name: str, state: str) -> None:
    """8 colour bits on 8 lanes; with syncs in the word only 6 have room."""
    found = wired(name, "8 lanes", [(3, 3, 2)], (4, 5, 12, 13, 14, 15, 18, 21), (2, 16))
    width = one(found, "lanes.width")
    assert (width.state, width.weight) == (state, "stop")


def test_blank_time_takes_no_ram_where_hardware_makes_the_syncs() -> None:
    def listed(name: str) -> tuple[str, int]:
        memory = wired(name, "8 lanes", [(1, 1, 1)], (4, 5, 12), (13, 14)).rigs[0].memory
        assert memory is not None
        kinds = {store.kind for store in memory.transfer_list.stores}
        return " ".join(sorted(kinds)), len(memory.transfer_list.entries)

    assert listed("wifi240-lcd") == ("picture", 480)
    kinds, entries = listed("wifi240")
    assert kinds == "blank picture"
    assert entries > 480


# --- memory.place, memory.external-rate, memory.blocks


@pytest.mark.parametrize(
    ("name", "place", "state", "words"),
    [
        ("wifi240-lcd", "external", "holds", "can read this external memory"),
        ("wifi240-lcd", "internal", "holds", "RAM on the chip"),
        ("wifi240", "external", "fails", "No memory outside this chip"),
        ("wifi240", "internal", "holds", "RAM on the chip"),
        ("stm32h743", "external", "fails", "No memory outside this chip"),
        ("rp2350b", "attic", "fails", "'attic' is no place"),
    ],
)
def test_place_of_the_frame(name: str, place: str, state: str, words: str) -> None:
    stream = "24 lanes" if name == "stm32h743" else "8 lanes"
    pins = HIGHEST_PORTS[:3] if name == "stm32h743" else (12, 13, 14)
    found = one(wired(name, stream, [(1, 1, 1)], pins, (15, 16), rig=f"frame_in = '{place}'"), "memory.place")
    assert (found.state, words in found.says) == (state, True)
    assert [patch.value for patch in found.remedy] == (['"internal"'] if state == "fails" else [])


def external(stream: str, raster: str, rig: str = "") -> Survey:
    return wired(
        "wifi240-lcd", stream, [(1, 1, 1)], (4, 5, 6), (7, 8), raster=raster, rig=f"frame_in = 'external'\n{rig}"
    )


@pytest.mark.parametrize(
    ("stream", "raster", "clock", "rate_mb", "state", "limit_mb"),
    [
        ("16 lanes", "{ parent = '640x480@60' }", "25.175 MHz", 50.35, "fails", 44),
        ("16 lanes", SMALL, "12.5875 MHz", 25.175, "holds", 30),
        ("8 lanes", "{ parent = '640x480@60' }", "25.175 MHz", 25.175, "holds", 30),
        ("16 lanes", "{ parent = '800x600@60', divide = 2, repeat = 2 }", "20 MHz", 40, "fails", 30),
        ("8 lanes", "{ parent = '800x600@60' }", "40 MHz", 40, "fails", 30),
        ("16 lanes", "{ parent = '800x600@60' }", "40 MHz", 80, "fails", 44),
    ],
)
def test_rate_of_external_memory(
    stream: str, raster: str, clock: str, rate_mb: float, state: str, limit_mb: float
) -> None:
    """30 MB/s to plan with, 44 MB/s at most: public reports, from memory, so over either limit is a caution."""
    found = one(external(stream, raster, f"clock = '{clock}; because the timing prints it'"), "memory.external-rate")
    assert found.found is not None and found.limit is not None
    assert found.found.typical == pytest.approx(rate_mb * MHZ, rel=2e-5)
    assert (found.state, found.limit.high, found.weight) == (state, limit_mb * MHZ, "caution")


def test_no_rate_of_external_memory_without_it() -> None:
    for found in (wired("wifi240-lcd", "16 lanes", [(1, 1, 1)], (4, 5, 6), (7, 8)), wired_24()):
        assert not [v for v in found.verdicts if v.code == "memory.external-rate"]


@pytest.mark.parametrize(
    ("name", "stream", "firmware", "parent", "picture", "holds"),
    [
        ("rp2350a", "8 lanes", "bare", "640x480@60", "640x480", True),
        ("rp2350a", "8 lanes", "bare", "800x600@60", "800x600", False),  # 480,000 B and 24,000 B kept back
        ("rp2350b", "8 lanes", "bare", "800x600@60", "800x500", True),
        ("rp2350b", "8 lanes", "network", "800x600@60", "800x500", False),
        ("wifi240-lcd", "8 lanes", "radio-off", "640x480@60", "640x400", True),
        ("wifi240-lcd", "8 lanes", "radio-off", "640x480@60", "640x480", False),  # 307,200 B of 340,000, but entries
        ("wifi240-lcd", "8 lanes", "network", "640x480@60", "640x400", False),
        ("wifi240-lcd", "16 lanes", "network", "640x480@60", "320x240", True),
        ("stm32f407", "8 lanes", "bare", "640x480@60", "320x240", True),
        ("stm32f407", "8 lanes", "bare", "800x600@60", "400x300", False),
        ("stm32h743", "8 bits by colour table", "bare", "640x480@60", "640x480", True),
        ("stm32h743", "24 lanes", "bare", "640x480@60", "640x480", False),  # 4 B a word
        ("stm32h743", "24 lanes", "bare", "640x480@60", "320x240", True),
    ],
)
def test_frames_in_the_ram_of_each_state(
    name: str, stream: str, firmware: str, parent: str, picture: str, holds: bool
) -> None:
    raster = f"{{ parent = '{parent}', picture = '{picture}' }}"
    pins = HIGHEST_PORTS[:3] if name == "stm32h743" else (12, 13, 14)
    found = wired(name, stream, [(1, 1, 1)], pins, (15, 16), raster=raster, rig=f"firmware = '{firmware}'")
    blocks = one(found, "memory.blocks")
    assert blocks.state == ("holds" if holds else "fails")


def test_a_frame_too_large_for_the_chip_fits_external_memory() -> None:
    found = external("16 lanes", "{ parent = '800x600@60', divide = 1 }", "firmware = 'radio-off'")
    assert one(found, "memory.blocks").state == "holds"
    inside = wired(
        "wifi240-lcd", "16 lanes", [(1, 1, 1)], (4, 5, 6), (7, 8), raster="{ parent = '800x600@60' }",
        rig="firmware = 'radio-off'",
    )  # fmt: skip
    assert one(inside, "memory.blocks").state == "fails"


# --- levels.chip-current


@pytest.mark.parametrize(
    ("name", "stream", "count", "first", "own_ma", "limit_ma", "state"),
    [
        ("rp2350a", "16 lanes", 3, 0, (0, 0, 0), 100, "holds"),
        ("rp2350a", "16 lanes", 4, 0, (0, 0, 0), 100, "fails"),
        ("rp2350b", "16 lanes", 3, 30, (0, 0, 0), 100, "holds"),
        ("rp2350b", "16 lanes", 4, 30, (0, 0, 0), 100, "fails"),
        ("stm32f407", "16 lanes", 2, 64, (50, 70, 90), 150, "holds"),
        ("stm32f407", "16 lanes", 3, 64, (50, 70, 90), 150, "fails"),  # 84 mA of white alone would do
        ("stm32h743", "24 lanes", 4, None, (0, 0, 0), 140, "holds"),
        ("stm32h743", "24 lanes", 6, None, (0, 0, 0), 140, "fails"),
        ("wifi240-lcd", "16 lanes", 5, 4, (0, 0, 0), 1500, "holds"),
    ],
)
def test_displays_at_white_and_the_total_of_the_chip(
    name: str, stream: str, count: int, first: int | None, own_ma: tuple[int, ...], limit_ma: int, state: str
) -> None:
    """Three channels of 0.7 V into 75 ohm are 28 mA a display; the buffers of the syncs draw next to nothing."""
    pins = HIGHEST_PORTS[: 3 * count] if first is None else range(first, first + 3 * count)
    after = 140 if first is None else first + 3 * count
    found = one(wired(name, stream, [(1, 1, 1)] * count, pins, (after, after + 1)), "levels.chip-current")
    assert found.found is not None and found.limit is not None and found.limit.high is not None
    white_ma = count * 3 * 700 / 75
    spans = (found.found.low, found.found.typical, found.found.high)
    assert spans == pytest.approx([(white_ma + own) / 1000 for own in own_ma], rel=1e-3)
    assert found.limit.high == pytest.approx(limit_ma / 1000)
    assert (found.state, found.weight) == (state, "stop")


# --- lanes.pin-kind


@pytest.mark.parametrize(
    ("name", "stream", "pins", "syncs", "subject", "state", "words"),
    [
        ("rp2350a", "8 lanes", (21, 22, 23), (24, 25), "board.connectors.J0.blue", "fails", "Pin 23 must not carry"),
        ("rp2350b", "8 lanes", (21, 22, 23), (24, 25), "board.connectors.J0.blue", "holds", "Pin 23"),
        ("wifi240-lcd", "8 lanes", (0, 1, 2), (3, 4), "board.connectors.J0.red", "fails", "hold it low at reset"),
        ("wifi240-lcd", "8 lanes", (45, 46, 47), (3, 4), "board.connectors.J0.red", "holds", "Pin 45"),
        ("wifi240-lcd", "8 lanes", (1, 2, 3), (5, 45), "board.sync.v", "fails", "pulls up"),
        ("wifi240-lcd", "8 lanes", (1, 2, 3), (5, 44), "board.sync.v", "fails", "last resort"),
        ("wifi240-lcd", "8 lanes", (1, 2, 3), (5, 42), "board.sync.v", "holds", "Pin 42"),
        ("wifi240-lcd", "8 lanes", (1, 2, 22), (5, 4), "board.connectors.J0.blue", "fails", "Pin 22 does not exist"),
        ("wifi240-lcd", "8 lanes", (1, 2, 47), (5, 48), "board.connectors.J0.blue", "holds", "Pin 47"),
        ("wifi240-lcd", "8 lanes", (1, 2, 19), (5, 4), "board.connectors.J0.blue", "fails", "last resort"),
        ("stm32f407", "8 lanes", (45, 46, 47), (48, 49), "board.connectors.J0.red", "fails", "never source"),  # PC13
        ("stm32f407", "8 lanes", (64, 65, 80), (67, 68), "board.connectors.J0.blue", "fails", "does not exist"),
        ("stm32h743", "24 lanes", (45, 157, 158), (140, 141), "board.connectors.J0.red", "fails", "never source"),
        ("stm32h743", "24 lanes", (156, 157, 112), (140, 141), "board.connectors.J0.blue", "fails", "crystal"),  # PH0
        ("stm32h743", "24 lanes", (156, 157, 168), (140, 141), "board.connectors.J0.blue", "fails", "not exist"),  # PK8
        ("stm32h743", "24 lanes", (156, 157, 167), (140, 141), "board.connectors.J0.blue", "holds", "Pin 167"),  # PK7
    ],
)
def test_pins(
    name: str, stream: str, pins: tuple[int, ...], syncs: tuple[int, int], subject: str, state: str, words: str
) -> None:
    plain = "{ style = 'series', part = '100 ohm' }"  # the displays' own pulls reach the pin
    found = one(wired(name, stream, [(1, 1, 1)], pins, syncs, sync=plain), "lanes.pin-kind", subject)
    assert (found.state, words in found.says) == (state, True), found.says


def test_pins_that_there_are() -> None:
    def pins(name: str) -> list[int]:
        row = chip(name).table.pins
        assert row is not None
        return list(row.pins)

    assert pins("rp2350a") == list(range(30))
    assert pins("rp2350b") == list(range(48))
    assert pins("wifi240-lcd") == [*range(22), *range(26, 49)]
    assert pins("stm32f407") == list(range(5 * 16))  # 100 pins: ports A to E
    assert pins("stm32h743") == list(range(168))  # the datasheet's 168 inputs and outputs: A to J, and PK0 to PK7


# --- the sheet


@pytest.mark.parametrize("columns", [80, 120])
@pytest.mark.parametrize("name", chip_names())
def test_the_sheet_fits_its_width(
    name: str, columns: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    assert run(["chip", name]) == 0
    shown, complaints = capsys.readouterr()
    lines = shown.splitlines()
    assert complaints == ""
    assert max(map(len, lines)) <= columns
    assert lines[0].startswith(f"{name}: ")
    table = chip(name).table
    words = " ".join(shown.split())
    assert table.chip.title in words
    for row in table.state:
        assert f"{sum(row.free)} B in all" in words
    assert words.count("Routing of ") == len(table.routing)
    assert "All other pins are ordinary outputs: " in words
    assert ("External memory" in words) == (table.external is not None)
