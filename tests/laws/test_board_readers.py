"""Readers of fabrication files: whatever comes in, one clear answer comes out, in bounded time; what is written is read back."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from board_sets import good, read_set, reviewed
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scanloom.formats.board_files import read_board_files
from scanloom.formats.board_files.arcs import arc_points
from scanloom.formats.board_files.damage import Damaged
from scanloom.formats.board_files.drill import read_drill
from scanloom.formats.board_files.drill_format import formats_to_try, holes_of
from scanloom.formats.board_files.gerber import read_gerber
from scanloom.formats.board_files.ipc356 import read_ipc356
from scanloom.formats.board_files.raw_files import MOST_BYTES, raw_files
from scanloom.formats.board_files.tables import is_centroid, listed_lines, placed_rows, read_table
from scanloom.formats.board_files.text import decoded
from scanloom.formats.board_files.tool_path import read_tool_path
from scanloom.formats.input_error import InputError
from scanloom.stages.board.part_value import part_value
from scanloom.stages.board.register import MAPS, MapName, register

QUICK = settings(max_examples=30, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
HEAD = "%FSLAX46Y46*%%MOMM*%"
GERBER = """%FSLAX46Y46*%
%MOMM*%
%AMTHERMAL*7,0,0,$1,$1-0.4,0.2,45*%
%ADD10C,0.5*%
%ADD11R,1X2*%
%ADD12P,2X6X30*%
%ADD13THERMAL,2.0*%
%TO.N,GND*%
D10*
X0Y0D02*
G01X10000000Y0D01*
G75*
G02X20000000Y0I5000000J0D01*
D11*
X5000000Y5000000D03*
%LPC*%
D12*
X5000000Y5000000D03*
%LPD*%
G36*
X0Y0D02*
X1000000Y0D01*
X0Y1000000D01*
X0Y0D01*
G37*
%SRX2Y2I30J30*%
D13*
X0Y0D03*
%SR*%
M02*
"""
DRILL = "M48\nMETRIC,TZ\nT1C0.8\nT2C1.2\n%\nT1\nX10.0Y5.0\nX1.0Y2.0G85X3.0Y2.0\nT2\nG00X5.0Y5.0\nM15\nG01X6.0Y5.0\nM16\nG05\nM30\n"
MILL = "%\n(isolation)\nG21 G90\nG0 Z2\nG0 X0 Y0\nG1 Z-0.1 F60\nG2 X10 Y0 I5 J0\nG3 X0 Y0 R5\nG0 Z2\nG81 X5 Y5 Z-2 R1\nX6\nG80\nM30\n%\n"
TABLE = 'Designator,Mid X,Mid Y,Layer,Rotation,Value\nR1,1.5mm,"2,5",top,90,4K7\nC1,3,4,bottom,0,0.1u\n'
NETLIST = good()[1]["deep-station-netlist.ipc"].decode()[:6000] + "\n999\n"


def drill(text: str) -> object:
    """Both halves of reading a drill file."""
    read = read_drill(text)
    return [holes_of(read, form, None) for form in formats_to_try(read)]


def table(text: str) -> object:
    """Both kinds of table."""
    sheet = read_table(text)
    return placed_rows(sheet) if is_centroid(sheet) else listed_lines(sheet)


READERS: dict[str, tuple[Callable[[str], object], str]] = {
    "gerber": (read_gerber, GERBER),
    "drill": (drill, DRILL),
    "netlist": (read_ipc356, NETLIST),
    "mill": (read_tool_path, MILL),
    "table": (table, TABLE),
}


@pytest.mark.parametrize("name", READERS)
@QUICK
@given(data=st.data())
def test_damaged_text_is_read_or_refused_in_words(name: str, data: st.DataObject) -> None:
    """Cuts, repeats and foreign characters at random places: a result, or one sentence."""
    read, text = READERS[name]
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(text)))
        drop = data.draw(st.integers(0, 30))
        put = data.draw(
            st.one_of(
                st.text(max_size=8), st.sampled_from(["*", "%", "X9", "D01*", "(", "\n", "$1", "-", "0" * 20, "G36*"])
            )
        )
        text = text[:at] + put + text[at + drop :]
    try:
        read(text)
    except Damaged as error:
        assert str(error).count(";") >= 1 or "more than" in str(error)


@pytest.mark.parametrize("name", READERS)
@QUICK
@given(st.text(max_size=300))
def test_any_text_is_read_or_refused_in_words(name: str, text: str) -> None:
    with pytest.raises(Damaged):
        READERS[name][0](text)


@QUICK
@given(st.binary(max_size=400), st.sampled_from(["a.gbr", "a.gtl", "a.drl", "a.ipc", "a.nc", "a.csv", "a.bin"]))
def test_any_bytes_in_a_set_become_a_role(raw: bytes, name: str) -> None:
    files = read_set({name: raw, "deep-station-outline.gbr": good()[1]["deep-station-outline.gbr"]})
    assert {role.file for role in files.roles} == {name, "deep-station-outline.gbr"}


@QUICK
@given(
    st.lists(st.tuples(st.integers(-200_000, 200_000), st.integers(-200_000, 200_000)), min_size=1, max_size=20, unique=True),
    st.booleans(), st.booleans(), st.sampled_from([(3, 3), (2, 4), (4, 2)]),
)  # fmt: skip
def test_drill_digits_read_back(
    places: list[tuple[int, int]], inch: bool, trailing: bool, digits: tuple[int, int]
) -> None:
    """Written with zeros dropped either way and read with the format that the header states, numbers come back exactly."""
    whole, part = digits
    scale = 25.4 if inch else 1.0

    def word(value: int) -> str:
        text = f"{abs(value):0{whole + part}d}"[-(whole + part) :]
        text = text.rstrip("0") or "0" if trailing else text.lstrip("0") or "0"
        return ("-" if value < 0 else "") + text

    most = 10 ** (whole + part)
    kept = [(x % most, y % most) for x, y in places]
    head = (
        f"M48\n{'INCH' if inch else 'METRIC'},{'LZ' if trailing else 'TZ'},{'0' * whole}.{'0' * part}\nT1C0.8\n%\nT1\n"
    )
    text = head + "".join(f"X{word(x)}Y{word(y)}\n" for x, y in kept) + "M30\n"
    read = read_drill(text)
    (form,) = formats_to_try(read)
    found = [(hole.x_mm, hole.y_mm) for hole in holes_of(read, form, None)]
    assert np.array(found) == pytest.approx(np.array(kept) / 10**part * scale)


@QUICK
@given(st.floats(0, 6.28), st.floats(0.05, 6.2), st.floats(0.1, 50), st.booleans())
def test_arc_stays_on_its_circle(first: float, sweep: float, radius: float, clockwise: bool) -> None:
    turn = -sweep if clockwise else sweep
    start, end = ((radius * np.cos(a), radius * np.sin(a)) for a in (first, first + turn))
    made = np.array(arc_points(start, end, (0.0, 0.0), clockwise=clockwise))
    assert np.hypot(*made.T) == pytest.approx(radius, rel=1e-9)
    middles = (made[1:] + made[:-1]) / 2
    assert (radius - np.hypot(*middles.T)).max() < max(0.0041, 0.0003 * radius)
    length = np.hypot(*np.diff(made, axis=0).T).sum()
    assert length == pytest.approx(radius * sweep, rel=2e-2)


@QUICK
@given(
    st.lists(st.tuples(st.integers(0, 3000), st.integers(0, 2000)), min_size=12, max_size=60, unique=True),
    st.sampled_from(sorted(MAPS)), st.integers(-50, 50), st.integers(-50, 50),
)  # fmt: skip
def test_registration_gives_map_and_shift_back(
    holes: list[tuple[int, int]], name: MapName, along: int, across: int
) -> None:
    """Pads laid by a map and a shift are laid back by it; where another map does as well, nothing is called decided."""
    target = np.array(holes, dtype=float) * 0.037
    centre = (55.0, 37.0)
    shift = np.array([along, across]) * 0.25
    drawn = (target - shift - np.array(centre)) * np.array(MAPS[name]) + np.array(centre)
    found = register(target, drawn, centre)
    assert found.of(name).hits == len(target)
    if found.decided:
        assert found.best.map_name == name
        assert found.best.shift_mm == pytest.approx(tuple(shift), abs=0.02)


@QUICK
@given(st.integers(1, 999), st.integers(0, 99), st.sampled_from("RkM"))
def test_part_values_by_letter_and_by_point_agree(whole: int, part: int, letter: str) -> None:
    """IEC 60062: the letter stands for the decimal point, so 4k7 is 4.7k."""
    infix, plain = part_value(f"{whole}{letter}{part:02d}", "R1"), part_value(f"{whole}.{part:02d}{letter}", "R1")
    assert infix is not None and plain is not None
    assert (
        infix.amount
        == pytest.approx(plain.amount)
        == pytest.approx(float(f"{whole}.{part:02d}") * {"R": 1, "k": 1e3, "M": 1e6}[letter])
    )


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-32", "cp1252"])
def test_encodings_of_tables(encoding: str) -> None:
    text = TABLE.replace("4K7", "4.7kΩ" if encoding != "cp1252" else '"4,7k"')
    read, _ = decoded(text.encode(encoding))
    rows, _ = placed_rows(read_table(read))
    assert [(row.part, row.x_mm, row.y_mm, row.side, row.turn_deg) for row in rows] == [
        ("R1", 1.5, 2.5, "top", 90.0),
        ("C1", 3.0, 4.0, "bottom", 0.0),
    ]
    value = part_value(rows[0].value_text, "R1")
    assert value is not None and value.amount == pytest.approx(4700)


def zipped(entries: dict[str, bytes], folder: Path) -> Path:
    """A zip with given names."""
    path = folder / "set.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in entries.items():
            archive.writestr(name, data)
    return path


def test_zip_reads_like_its_folder(tmp_path: Path) -> None:
    files = good()[1]
    made = read_board_files(zipped({f"fab/{name}": data for name, data in files.items()}, tmp_path))
    assert [role.role for role in made.roles] == [role.role for role in read_set(files).roles]


def test_zip_that_climbs_or_bursts_is_refused_file_by_file(tmp_path: Path) -> None:
    outline = good()[1]["deep-station-outline.gbr"]
    entries = {
        "a-outline.gbr": outline,
        "../up.gbr": outline,
        "/root.gbr": outline,
        "bomb-top-copper.gbr": b"0" * 60_000_000,
    }
    path = zipped(entries, tmp_path)
    assert path.stat().st_size < 200_000
    before = set(tmp_path.rglob("*"))
    roles = {role.file: role for role in read_board_files(path).roles}
    assert set(tmp_path.rglob("*")) == before
    assert "climbs out" in roles["../up.gbr"].damage and "climbs out" in roles["/root.gbr"].damage
    assert "60000000 B" in roles["bomb-top-copper.gbr"].damage
    assert roles["a-outline.gbr"].role == "outline"


def test_zip_within_a_zip_is_opened_twice_and_no_deeper(tmp_path: Path) -> None:
    outline = good()[1]["deep-station-outline.gbr"]
    nested = outline
    for name in ("o.gko", "a.zip", "b.zip", "c.zip"):
        inner = io.BytesIO()
        with zipfile.ZipFile(inner, "w") as archive:
            archive.writestr(name, nested)
        nested = inner.getvalue()
    deep = read_board_files(zipped({"d.zip": nested, "o.gko": outline}, tmp_path))
    assert {role.file: role.role for role in deep.roles} == {"d.zip/c.zip/b.zip": "other", "o.gko": "outline"}
    once = read_board_files(zipped({"order.zip": zipped({"o.gko": outline}, tmp_path).read_bytes()}, tmp_path))
    assert {role.file: role.role for role in once.roles} == {"order.zip/o.gko": "outline"}


def test_zips_in_zips_share_one_bound(tmp_path: Path) -> None:
    large = io.BytesIO()
    with zipfile.ZipFile(large, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.gbr", b"0" * 30_000_000)
    middle = io.BytesIO()
    with zipfile.ZipFile(middle, "w") as archive:
        for number in range(4):
            archive.writestr(f"{number}.zip", large.getvalue())
    files = {f"{number}.zip": middle.getvalue() for number in range(4)}
    found = raw_files(zipped({**files, "o.gko": good()[1]["deep-station-outline.gbr"]}, tmp_path), "set")
    assert sum(len(file.data) for file in found) < MOST_BYTES
    assert any("holds more than" in file.refused for file in found)


def test_links_that_lead_out_stay_closed(tmp_path: Path) -> None:
    outside = tmp_path / "secret.gbr"
    outside.write_bytes(good()[1]["deep-station-outline.gbr"])
    folder = tmp_path / "fab"
    folder.mkdir()
    folder.joinpath("own.gko").write_bytes(outside.read_bytes())
    folder.joinpath("link.gtl").symlink_to(outside)
    folder.joinpath("gone.gbl").symlink_to(tmp_path / "nowhere")
    roles = {role.file: role for role in read_board_files(folder).roles}
    assert "leads out" in roles["link.gtl"].damage and roles["gone.gbl"].role == "unreadable"


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("%FSLAX46Y46*%%MOMM*%%ADD10C,0.1*%D10*" + "%SRX999Y999I1J1*%X0Y0D03*%SR*%M02*", "repeats"),
        ("%FSLAX46Y46*%%MOMM*%%ADD10C,0.1*%D10*" + "%SRX99Y99I1J1*%" + "X0Y0D03*" * 60 + "%SR*%M02*", "more than"),
        ("%FSLAX46Y46*%%MOMM*%%ADD10C,0.1*%D10*%ABD11*%" + "X0Y0D03*" * 100 + "%AB*%" + "".join(
            f"%ABD{n + 1}*%D{n}*" + "X0Y0D03*" * 100 + "%AB*%" for n in range(11, 16)) + "D16*X0Y0D03*M02*", "more than"),
        ("%FSLAX46Y46*%%MOMM*%%MIA1B0*%X0Y0D02*M02*", "deprecated"),
        ("%FSLAX46Y46*%%MOMM*%%IFother.gbr*%M02*", "includes"),
        ("%FSLAX46Y46*%%MOMM*%D99*M02*", "defined nowhere"),
        ("%FSLAX46Y46*%%MOMM*%%AMA*1,1,$1/0,0,0*%%ADD10A,1*%M02*", "divides by zero"),
        ("%FSLAX46Y46*%%MOMM*%%AMA*1,1," + "(" * 390 + "*%%ADD10A,1*%M02*", "too deep"),
        ("%FSLAX46Y46*%%MOMM*%%AMA*1,1," + "-+" * 150 + "*%%ADD10A,1*%M02*", "missing"),
    ],
)  # fmt: skip
def test_gerber_that_bursts_or_misleads_is_refused(text: str, word: str) -> None:
    with pytest.raises(Damaged, match=word):
        read_gerber(text)


def test_mess_is_refused_or_left_unknown_in_bounded_time() -> None:
    """No star for millions of characters, an outline that crosses itself everywhere, copper that touches everywhere."""
    with pytest.raises(Damaged, match="no Gerber command"):
        read_gerber("X" * 3_000_000)
    with pytest.raises(Damaged, match="no Gerber command"):
        read_gerber("G04 #@! TF" * 300_000)
    chance = np.random.default_rng(1).integers(0, 10**8, (20_000, 2)).tolist()
    mess = HEAD + "G36*X0Y0D02*G01*" + "".join(f"X{x}Y{y}D01*" for x, y in chance) + "G37*M02*"
    with pytest.raises(Damaged, match="cross themselves"):
        read_gerber(mess)
    dense = HEAD + "%ADD10C,0.5*%D10*" + "X0Y0D03*" * 4000 + "M02*"
    outcome = reviewed({**good()[1], "deep-station-top-copper.gbr": dense.encode()})
    told = {v.code: v for v in outcome.verdicts if v.code in ("board.open", "board.short")}
    assert {v.judged for v in told.values()} == {"unknown"} and "can be followed" in told["board.open"].says


def test_folder_with_thousands_of_names_is_refused(tmp_path: Path) -> None:
    for number in range(5001):
        tmp_path.joinpath(f"n{number}").touch()
    with pytest.raises(InputError, match="more than 5000 names"):
        read_board_files(tmp_path)


def test_huge_file_is_refused_before_it_is_read(tmp_path: Path) -> None:
    tmp_path.joinpath("a-outline.gbr").write_bytes(good()[1]["deep-station-outline.gbr"])
    with tmp_path.joinpath("top-copper.gbr").open("wb") as file:
        file.truncate(500_000_000)  # takes no room on the disk
    roles = {role.file: role for role in read_board_files(tmp_path).roles}
    assert "500000000 B" in roles["top-copper.gbr"].damage and roles["top-copper.gbr"].role == "unreadable"


def test_self_crossing_area_and_zero_aperture() -> None:
    bow = "G36*X0Y0D02*G01X2000000Y2000000D01*X2000000Y0D01*X0Y2000000D01*X0Y0D01*G37*"
    made = read_gerber("%FSLAX46Y46*%%MOMM*%%ADD10C,0*%D10*X0Y0D02*X1000000Y0D01*X0Y0D03*" + bow + "M02*")
    assert [shape.area for shape in made.shapes] == pytest.approx([0.0, 0.0, 2.0])
    assert any("no area" in remark for remark in made.remarks)


def test_truncated_file_is_damaged_and_says_so() -> None:
    files = good()[1]
    name = "deep-station-top-copper.gbr"
    cut = read_set({**files, name: files[name][: len(files[name]) // 2]})
    assert "M02" in next(role.damage for role in cut.roles if role.file == name)


def test_set_without_a_board_is_one_sentence() -> None:
    with TemporaryDirectory() as folder:
        Path(folder, "notes.txt").write_text("buy tea")
        with pytest.raises(InputError, match="no file of a board"):
            read_board_files(Path(folder))
    with pytest.raises(InputError, match="no such folder"):
        read_board_files(Path("nowhere-at-all"))
