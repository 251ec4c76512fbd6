"""Broken dossiers, one fault each: where the fault is told, in which words, and that the mended twin is quiet.

A file of `dossier_faults` holds one fault. The lines that begin with `#>` say what mends it: they replace the line
above them, and what comes out is the clean twin. Lines and columns below were counted by hand, from 1, in the file.
"""

from __future__ import annotations

import codecs
import json
import re
from dataclasses import dataclass
from pathlib import Path

import pytest

from scanloom.cli.app import run

FOLDER = Path(__file__).resolve().parent / "dossier_faults"


@dataclass(frozen=True, slots=True)
class Fault:
    """What a reader of the message is owed: the place, what was given, and a form that is accepted."""

    file: str
    line: int
    column: int
    path: str | None  # None: the text is no TOML, so that no key need be known
    given: str
    allowed: str
    parts: int = 3  # what was given; what is allowed; what to do


FAULTS = (
    # not TOML
    Fault("not-toml", 3, 9, None, '"', "quote"),
    Fault("duplicate-key", 6, 1, None, "chip.rail", "line 5"),
    Fault("unquoted-quantity", 5, 8, None, "3.3 V", '"3.3 V"'),
    # the head
    Fault("format-missing", 1, 1, "dossier.format", "'format'", "format = 1"),
    Fault("format-2", 2, 10, "dossier.format", "2", "1"),
    # wrong type
    Fault("number-for-quantity", 5, 8, "chip.rail", "3.3", '"3.25 .. 3.35 V'),
    Fault("quantity-for-count", 6, 44, "rigs.one.raster.divide", "2 times", "whole number"),
    Fault("quantity-for-pin", 5, 14, "board.sync.h", "26 ohm", "pin number"),
    Fault("truth-for-count", 6, 10, "rigs.one.frames", "true", "whole number"),
    Fault("table-for-value", 5, 8, "chip.rail", "a table", "voltage"),
    Fault("value-for-table", 5, 8, "board.sync", "26", "{ key = value }"),
    Fault("one-table-for-list", 4, 1, "displays", "a table", "[[", parts=2),
    Fault("text-for-list", 6, 10, "displays.hero.proved", "640x480@60; measured", "[ ]"),
    Fault("list-for-text", 5, 8, "chip.rail", "3.2 V", '"3.25 .. 3.35 V'),
    Fault("text-for-date", 5, 8, "event.date", "next spring", "2031-03-14"),
    # wrong, unknown or missing unit
    Fault("wrong-unit", 6, 15, "displays.hero.colour_load", "75 V", " ohm'"),
    Fault("wrong-unit-of-span", 6, 13, "displays.hero.line_rate", "30 .. 60 kohm", "Hz'"),
    Fault("unknown-unit", 5, 8, "chip.rail", "'v'", " V'"),
    Fault("missing-unit", 5, 8, "chip.rail", "'3.3'", "'3.3 V'"),
    Fault("missing-unit-of-list", 5, 13, "chip.free.bare", "113800, 110500", " B'"),
    # numbers
    Fault("decimal-comma", 5, 8, "chip.rail", "3,3 V", "3.3 V"),
    Fault("decimal-comma-in-span", 5, 8, "chip.rail", "3,25 .. 3,35 V", " V'"),
    Fault("list-without-space", 5, 13, "chip.free.bare", "113800,110500 B", " B'"),
    Fault("not-a-number", 5, 8, "chip.rail", "nan V", " V'"),
    Fault("infinite", 5, 8, "chip.rail", "inf V", " V'"),
    Fault("absurd-exponent", 5, 8, "chip.rail", "3e400 V", " V'"),
    Fault("negative-ohms", 6, 15, "displays.hero.colour_load", "-75 ohm", "larger than zero"),
    Fault("tolerance-120", 6, 15, "displays.hero.colour_load", "75 ohm ± 120 %", "± 1 %"),
    Fault("two-tolerances", 6, 15, "displays.hero.colour_load", "75 ohm ± 2 % ± 5 %", "ohm ± 1 %"),
    Fault("span-downwards", 5, 12, "chip.pin_high", "40 .. 20 ohm", "small to large"),
    Fault("typical-outside-span", 5, 12, "chip.pin_high", "20 .. 50 .. 40 ohm", "small to large"),
    Fault("hyphen-for-span", 5, 12, "chip.pin_high", "20-40 ohm", " ohm'"),
    Fault("list-for-one", 5, 8, "chip.rail", "3.2, 3.4 V", "one is allowed"),
    Fault("empty-value", 5, 8, "chip.rail", "''", " V'"),
    Fault("origin-without-value", 5, 8, "chip.rail", "''", " V'"),
    Fault("misspelt-origin", 5, 8, "chip.rail", "'mesured'", "did you mean 'measured'?"),
    Fault("pull-without-voltage", 6, 13, "displays.hero.sync_pull", "2.2 kohm", "2.2 kohm to 5 V"),
    Fault("size-in-words", 6, 45, "rigs.one.raster.picture", "320 by 240", "320x240"),
    # keys
    Fault("unknown-key", 6, 1, "displays.hero.color_load", "'color_load'", "did you mean 'colour_load'?"),
    Fault("unknown-table", 4, 2, "dispays", "'dispays'", "did you mean 'displays'?"),
    Fault("unknown-channel", 9, 20, "rigs.one.depth.hero.yellow", "'yellow'", "red, green, blue, white"),
    # names, and what they point at
    Fault("name-in-capitals", 5, 8, "displays.Hero-Left.name", "Hero-Left", "'hero-left'"),
    Fault("two-displays-of-one-name", 8, 8, "displays.hero.name", "'hero'", "once"),
    Fault("two-rigs-of-one-name", 8, 8, "rigs.one.name", "'one'", "once"),
    Fault("pin-twice", 7, 36, "board.connectors.J1.green", "26", "board.sync.h"),
    Fault("pin-twice-in-lists", 7, 24, "board.connectors.J2.red", "4", "board.connectors.J1.red"),
    Fault("same-as-in-a-circle", 6, 11, "displays.hero-left.same_as", "hero-right", "own facts", parts=2),
    Fault("same-as-nobody", 9, 11, "displays.hero-right.same_as", "hero-lefd", "hero-left"),
    Fault("plugs-nobody", 9, 26, "board.connectors.J1.plugs", "'heor'", "'hero'"),
    Fault("depth-of-unknown-group", 10, 11, "rigs.one.depth.heros", "'heros'", "did you mean 'heroes'?"),
    Fault("unknown-chip", 5, 8, "chip.like", "'wifi420'", "did you mean wifi240"),
    Fault("chip-file-missing", 5, 8, "chip.like", "mine.toml", "handbook"),
    Fault("edid-file-missing", 6, 8, "displays.hero.edid", "hero.bin", "path"),
    Fault("unknown-class", 6, 8, "displays.hero.like", "monitor, 15 inches", "did you mean 'monitor, 15 inch'?"),
    Fault("proved-unknown-raster", 6, 25, "displays.hero.proved.2", "640x481@60", "640x480@60"),
    Fault("unknown-formula", 6, 46, "rigs.one.raster.formula", "'cvt-rb'", "did you mean 'cvt-rb2'?"),
    Fault("accepted-without-reason", 7, 11, "accepted.1.because", "empty", "needs one"),
)
EACH = pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.file)


def told(text: str) -> list[str]:
    """The lines that tell a fault: not the lines of the dossier shown below them, and not the sum of several."""
    return [line for line in text.splitlines() if line.strip() and not line.startswith(" ") and ".toml:" in line]


def mended(text: str) -> str:
    """The clean twin: what stands behind `#>` in place of the line above."""
    lines: list[str] = []
    taken = False
    for line in text.splitlines():
        if line.startswith("#>"):
            if not taken:
                lines.pop()
            taken = True
            lines.append(line[3:])
        else:
            taken = False
            lines.append(line)
    return "\n".join(lines) + "\n"


def test_every_file_has_its_row() -> None:
    assert sorted(fault.file for fault in FAULTS) == sorted(path.stem for path in FOLDER.glob("*.toml"))


@EACH
def test_fault_is_told_once_at_its_place(fault: Fault, capsys: pytest.CaptureFixture[str]) -> None:
    path = FOLDER / f"{fault.file}.toml"
    assert run(["check", str(path)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    lines = told(err)
    assert len(lines) == 1, err
    assert lines[0].startswith(f"{path}:{fault.line}:{fault.column}: {fault.path + ': ' if fault.path else ''}")
    assert "nothing was judged" not in err, "one fault needs no sum"
    below = err.splitlines()[1:]
    given = path.read_text(encoding="utf-8").splitlines()[fault.line - 1]
    shown = below[0].index(given)  # the line as it stands in the file
    assert below[1] == " " * (shown + fault.column - 1) + "^"

    assert run(["check", str(path), "--json"]) == 2
    out, err = capsys.readouterr()
    assert err == ""
    answer = json.loads(out)
    assert answer["result"] is None
    assert answer["verdicts"] == []
    (error,) = answer["errors"]
    assert (error["file"], error["line"], error["column"]) == (str(path), fault.line, fault.column)
    key = f"{error['path']}: " if error["path"] else ""
    assert lines == [f"{path}:{fault.line}:{fault.column}: {key}{error['text']}"]


def words_of(fault: Fault, capsys: pytest.CaptureFixture[str]) -> str:
    """What is said of the fault, without its place."""
    assert run(["check", str(FOLDER / f"{fault.file}.toml"), "--json"]) == 2
    (error,) = json.loads(capsys.readouterr().out)["errors"]
    text = error["text"]
    assert isinstance(text, str)
    return text


@EACH
def test_fault_is_told_in_three_parts(fault: Fault, capsys: pytest.CaptureFixture[str]) -> None:
    text = words_of(fault, capsys)
    assert fault.given in text
    assert fault.allowed in text
    bare = re.sub(r"'[^']*'|\"[^\"]*\"", "", text)  # a value given may hold a semicolon
    parts = bare.split(";")
    assert len(parts) >= fault.parts, text
    assert all(part.strip() for part in parts[1:]), text


@EACH
def test_twin_is_quiet(fault: Fault, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    broken = (FOLDER / f"{fault.file}.toml").read_text(encoding="utf-8")
    twin = tmp_path / "twin.toml"
    twin.write_text(mended(broken), encoding="utf-8")
    assert twin.read_text(encoding="utf-8") != broken
    assert run(["check", str(twin), "--json"]) in (0, 1)
    out, err = capsys.readouterr()
    assert err == ""
    assert json.loads(out)["result"] is not None


def advice(text: str) -> str | None:
    """The value that a message says to write, as TOML; None where it gives no whole value."""
    found = re.search(r"write it as ('[^']*'|\"[^\"]*\"|[0-9-]+)$", text)
    return found and (f'"{found[1][1:-1]}"' if found[1].startswith("'") else found[1])


@EACH
def test_advice_taken_literally_is_accepted(fault: Fault, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Who copies what stands behind "write it as" is not refused again."""
    value = advice(words_of(fault, capsys)) if fault.file != "chip-file-missing" else None
    assert value is not None or fault.file not in {"missing-unit", "quantity-for-pin", "number-for-quantity"}
    if value is None:
        return
    path = FOLDER / f"{fault.file}.toml"
    lines = path.read_text(encoding="utf-8").splitlines()
    before, rest = lines[fault.line - 1][: fault.column - 1], lines[fault.line - 1][fault.column - 1 :]
    rest = re.sub(r"^(\"[^\"]*\"|\[[^\]]*\]|\{[^}]*\}|[^\s,}]+)", lambda _: value, rest)
    lines[fault.line - 1] = before + rest
    copy = tmp_path / path.name
    copy.write_text("\n".join(lines) + "\n", encoding="utf-8")
    assert run(["check", str(copy)]) != 2, capsys.readouterr().err


HEAD = "[dossier]\nformat = 1\n"
TOGETHER = {
    "values": (
        "[[displays]]\n"
        'name = "hero"\n'
        'color_load = "75 ohm"\n'  # 5:1
        'sync_load = "2.2"\n'  # 6:13
        "[chip]\n"
        'rail = "3,3 V"\n'  # 8:8
        "pin_high = 25\n"  # 9:12
        'pin_low = "25 V"\n',  # 10:11
        [(5, 1), (6, 13), (8, 8), (9, 12), (10, 11)],
    ),
    "names": (
        "[[rigs]]\n"
        'name = "one"\n'
        "depth = { hero = { red = 1 }, heros = { red = 1 } }\n"  # 5:31
        "[board]\n"
        "sync = { h = 26, v = 26 }\n"  # 7:22
        "[[displays]]\n"
        'name = "hero"\n'
        'same_as = "nobody"\n'  # 10:11
        "[chip]\n"
        'like = "wifi420"\n'  # 12:8
        "[[displays]]\n"
        'name = "hero"\n',  # 14:8
        [(5, 31), (7, 22), (10, 11), (12, 8), (14, 8)],
    ),
    "values and names": (
        "[board]\n"
        "sync = { h = 26, v = 26 }\n"  # 4:22
        "[[displays]]\n"
        'name = "hero"\n'
        'color_load = "75 ohm"\n'  # 7:1
        "[chip]\n"
        'like = "wifi420"\n'  # 9:8
        'rail = "3,3 V"\n'  # 10:8
        "[[accepted]]\n"
        'code = "screens.not-promised"\n'
        'subject = "displays.hero"\n'
        'because = ""\n',  # 14:11
        [(4, 22), (7, 1), (9, 8), (10, 8), (14, 11)],
    ),
}


@pytest.mark.parametrize("kind", TOGETHER)
def test_five_faults_are_told_at_once_in_file_order(
    kind: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    body, places = TOGETHER[kind]
    path = tmp_path / "five.toml"
    path.write_text(HEAD + body, encoding="utf-8")
    assert run(["check", str(path)]) == 2
    err = capsys.readouterr().err
    found = [tuple(int(part) for part in line[len(f"{path}:") :].split(":")[:2]) for line in told(err)]
    assert found == places, err
    assert "5" in err.splitlines()[-1], "several faults are summed up in the last line"


@pytest.mark.parametrize("ends", ["\n", "\r\n"], ids=["LF", "CR LF"])
@pytest.mark.parametrize("mark", [b"", codecs.BOM_UTF8], ids=["plain", "marked"])
def test_place_does_not_depend_on_how_the_file_was_saved(
    ends: str, mark: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A column counts characters, also behind those that take several bytes, and a tab is one."""
    path = tmp_path / "saved.toml"
    text = '[dossier]\nformat = 1\n[board]\n\tparts = { "Ω" = { is = "ü" }, U2 = { iss = "x", is = "y" } }\n'
    path.write_bytes(mark + text.replace("\n", ends).encode())
    assert run(["check", str(path)]) == 2
    (line,) = told(capsys.readouterr().err)
    assert line.startswith(f"{path}:4:39: board.parts.U2.iss: ")


@pytest.mark.parametrize(
    "value",
    [
        "20 .. 40 ohm",
        "20 .. 28 .. 40 ohm; measured 2031-01-09 Ilse, 3 pins",
        "20 .. 40 ohm; measured 2031-01-09 Ilse; 3 pins",  # the first semicolon ends the value, another is part of the tale
        "25 ohm ± 10 %; sheet, page 4",
        "4k7; standard",
        "0.025 kohm; because it was so last year",
        "25 Ω; guess",
        "25 ohm; said",
    ],
)
def test_forms_of_a_value_that_read(value: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "value.toml"
    path.write_text(f'{HEAD}[chip]\npin_high = "{value}"\n', encoding="utf-8")
    assert run(["check", str(path)]) in (0, 1), capsys.readouterr().err
    assert capsys.readouterr().err == ""
