"""The command line as a script or a person meets it: exit codes, one JSON shape, what is written, what is printed."""

from __future__ import annotations

import contextlib
import io
import itertools
import json
import os
import re
import shutil
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from scanloom.cli.app import run

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "examples" / "deep-station"
COMMANDS = ("check", "chip", "clock", "levels", "picture", "pins", "review", "schema", "timing")
CODE, SUBJECT = "screens.not-promised", "displays.relay-1"
# One call of each command that needs no file, as a person would type it.
TIMING = ("timing", "800x600@60", "--divide", "2", "--repeat", "2")
CLOCK = ("clock", "25.175 MHz", "--chip", "rp2040", "--h-total", "800")
LEVELS = ("levels", "--parts", "510,1k,2k,3.9k", "--pin", "25 ohm", "--rail", "3.3 V")
PLAIN = (TIMING, CLOCK, LEVELS, ("chip",), ("chip", "rp2040"), ("schema",), ("schema", "check"))


@dataclass(frozen=True, slots=True)
class Said:
    """What one call answered."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


Call = Callable[..., Said]


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Call:
    """Function that runs one command in this process, as if its output went into a pipe."""
    for name in ("FORCE_COLOR", "CLICOLOR_FORCE", "COLUMNS", "NO_COLOR"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")

    def answer(*arguments: str | Path) -> Said:
        capsys.readouterr()
        code = run([str(argument) for argument in arguments])
        out, err = capsys.readouterr()
        return Said(code, out, err)

    return answer


@pytest.fixture
def open_dossier(tmp_path: Path) -> Path:
    """The demo without its acceptance: one caution fails, in both rigs, and nothing else is open."""
    text, _, _ = (DEMO / "final.toml").read_text(encoding="utf-8").partition("[[accepted]]")
    path = tmp_path / "station.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture
def ready_dossier(open_dossier: Path) -> Path:
    """The demo with the caution away: the display was proved, so that nothing is accepted and nothing is open."""
    return edited(
        open_dossier, 'cable = "thin, 2 m; said"', 'cable = "thin, 2 m; said"\nproved = ["640x480@60; measured"]'
    )


@pytest.fixture
def accepted_dossier(open_dossier: Path, call: Call) -> Path:
    """The demo with its caution accepted through the command line."""
    said = call("check", open_dossier, "--accept", CODE, SUBJECT, "--because", "it ran an hour")
    assert said.code == 0, said.err
    return open_dossier


def edited(path: Path, old: str, new: str) -> Path:
    """The same file with one passage changed, which must be there once."""
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1, old
    path.write_text(text.replace(old, new), encoding="utf-8")
    return path


def states(said: Said, code: str = CODE, subject: str = SUBJECT) -> dict[str, str]:
    """State of one check by rig."""
    found = {v["rig"]: v["state"] for v in said.json["verdicts"] if (v["code"], v["subject"]) == (code, subject)}
    assert found, f"no verdict {code} about {subject}"
    return found


def scanloom(*arguments: str | Path, **options: Any) -> subprocess.CompletedProcess[Any]:
    """The program in a process of its own."""
    environment = {
        key: value for key, value in os.environ.items() if key not in ("FORCE_COLOR", "COLUMNS", "PYTHONIOENCODING")
    }
    environment |= options.pop("environment", {})
    options.setdefault("stdout", subprocess.PIPE)
    command = [sys.executable, "-m", "scanloom", *map(str, arguments)]
    return subprocess.run(command, stderr=subprocess.PIPE, env=environment, timeout=30, check=False, **options)


# Exit codes


def test_ready_is_0(call: Call, ready_dossier: Path) -> None:
    said = call("check", ready_dossier)
    assert (said.code, said.err) == (0, "")


def test_failing_stop_is_1(call: Call) -> None:
    said = call("check", DEMO / "first-evening.toml")
    assert (said.code, said.err) == (1, "")


def test_failing_caution_is_1(call: Call, open_dossier: Path) -> None:
    said = call("check", open_dossier, "--json")
    assert said.code == 1
    open_ones = [v for v in said.json["verdicts"] if v["weight"] != "note" and v["state"] != "holds"]
    assert {(v["code"], v["weight"], v["state"]) for v in open_ones} == {(CODE, "caution", "fails")}


def test_unknown_caution_is_0(call: Call, ready_dossier: Path) -> None:
    edited(ready_dossier, 'redraw = "2.9 ms', 'redraw = "2.9 .. 5 ms')  # 3.97 ms are there: the span straddles them
    said = call("check", ready_dossier, "--json")
    assert ("caution", "unknown") in {(v["weight"], v["state"]) for v in said.json["verdicts"]}
    assert said.code == 0


def test_unknown_stop_is_1(call: Call, ready_dossier: Path) -> None:
    edited(ready_dossier, "3.25 .. 3.35 V", "2.9 .. 3.75 V")
    said = call("check", ready_dossier, "--json")
    weights = {(v["weight"], v["state"]) for v in said.json["verdicts"]}
    assert ("stop", "unknown") in weights
    assert not weights & {("stop", "fails"), ("caution", "fails")}
    assert said.code == 1


def test_dossier_with_nothing_in_it_is_1(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "empty.toml"
    path.write_text("[dossier]\nformat = 1\n", encoding="utf-8")
    assert call("check", path).code == 1


def test_missing_board_files_are_only_unknown(call: Call, ready_dossier: Path) -> None:
    edited(ready_dossier, 'files = "fab/rev-b"', 'files = "no/such/folder"')
    said = call("check", ready_dossier)
    assert (said.code, said.err) == (0, "")


@pytest.mark.parametrize(
    "arguments",
    [
        ("nonsense",),
        ("--nonsense",),
        ("check",),
        ("check", "--nonsense", "x.toml"),
        ("check", "a.toml", "b.toml"),
        ("timing",),
        ("timing", "800x600@60", "--divide", "two"),
        ("timing", "800x600@60", "--divide"),
        ("timing", "800x600@61"),
        ("timing", "800x600@60", "--divide", "3"),
        ("timing", "800x600@60", "--repeat", "7"),
        ("timing", "800x600@60", "--picture", "801x600"),
        ("clock", "25.175 MHz"),
        ("clock", "25.175", "--chip", "rp2040", "--h-total", "800"),
        ("clock", "25,175 MHz", "--chip", "rp2040", "--h-total", "800"),
        ("clock", "25.175 MHz", "--chip", "rp204", "--h-total", "800"),
        ("clock", "25.175 MHz", "--chip", "rp2040", "--h-total", "0"),
        ("clock", "25.175 MHz", "--chip", "rp2040", "--h-total", "800", "--limit", "0"),
        ("clock", "25.175 MHz", "--chip", "rp2040", "--h-total", "800", "--system", "133 .. 100 MHz"),
        ("levels",),
        ("levels", "--parts", ""),
        ("levels", "--parts", "510,x"),
        ("levels", "--parts", "510,-1k"),
        ("levels", "--parts", "510", "--rail", "3.3"),
        ("levels", "--parts", "510", "--rail", "3,3 V"),
        ("levels", "--parts", "510", "--rail", "3.3 ohm"),
        ("chip", "rp204"),
        ("chip", "./no-such.toml"),
        ("schema", "nonsense"),
        ("check", "no-such.toml"),
        ("check", "."),
        ("check", str(DEMO / "final.toml"), "--keep"),
        ("check", str(DEMO / "final.toml"), "--try", "chip.rail"),
        ("check", str(DEMO / "final.toml"), "--try", "chip.rial=3.3 V"),
        ("check", str(DEMO / "final.toml"), "--try", "chip.rail=3,3 V"),
        ("check", str(DEMO / "final.toml"), "--accept", CODE),
        ("check", str(DEMO / "final.toml"), "--accept", CODE, SUBJECT),
        ("check", str(DEMO / "final.toml"), "--accept", CODE, SUBJECT, "--because", ""),
        ("check", str(DEMO / "final.toml"), "--accept", CODE, "displays.nobody", "--because", "x"),
        ("check", str(DEMO / "final.toml"), "--accept", CODE, SUBJECT, "--because", "x", "--rig", "nobody"),
    ],
    ids=" ".join,
)
def test_what_cannot_be_read_is_2(call: Call, arguments: tuple[str, ...]) -> None:
    before = (DEMO / "final.toml").read_bytes()
    said = call(*arguments)
    assert said.code == 2
    assert said.out == ""
    assert said.err.strip(), "an error says what is wrong"
    assert "Traceback" not in said.err
    assert (DEMO / "final.toml").read_bytes() == before


# Files that are no dossier at all


def test_50_megabytes_are_refused_quickly(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "big.toml"
    with path.open("wb") as file:
        file.truncate(50_000_000)
    start = time.perf_counter()
    said = call("check", path)
    assert time.perf_counter() - start < 1.0
    assert said.code == 2
    assert len(said.err.strip().splitlines()) == 1
    assert "big.toml" in said.err


def test_50_megabytes_of_good_toml_are_refused_quickly(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "big.toml"
    path.write_bytes(b"[dossier]\nformat = 1\n" + b"# nothing but comments in here, and a lot of them\n" * 1_000_000)
    start = time.perf_counter()
    said = call("check", path)
    assert time.perf_counter() - start < 1.0
    assert said.code == 2
    assert len(said.err.strip().splitlines()) == 1


@pytest.mark.parametrize(
    ("content", "place"),
    [
        (b'[dossier]\nformat = 1\ntitle = "a\0b"\n', ":3:11: "),
        (b"[dossier]\nformat = 1\n# \0\n", ":3:3: "),
        (b"\0" * 4000, ":1:1: "),
        ('[dossier]\ntitle = "±"\n'.encode("latin-1"), ":2:10: "),
        ("[dossier]\nformat = 1\n".encode("utf-16"), ":1:1: "),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", ":1:1: "),
    ],
    ids=["NUL in text", "NUL in comment", "all NUL", "Latin-1", "UTF-16", "picture"],
)
def test_bytes_that_are_no_text_are_refused_at_their_place(
    call: Call, tmp_path: Path, content: bytes, place: str
) -> None:
    path = tmp_path / "bytes.toml"
    path.write_bytes(content)
    said = call("check", path)
    assert said.code == 2
    assert said.err.startswith(f"{path}{place}")
    assert len([line for line in said.err.splitlines() if ".toml:" in line]) == 1
    assert "\0" not in said.err


def test_a_line_without_end_does_not_fill_the_screen(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "long.toml"
    path.write_text("[dossier]\nformat = 1\n[chip]\nrail = '" + "3" * 100_000 + " V'\n", encoding="utf-8")
    said = call("check", path)
    assert said.code == 2
    assert len(said.err) < 4000


def test_what_a_file_says_does_not_steer_the_terminal(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "escape.toml"
    path.write_text('[dossier]\nformat = 1\ntitle = "\\u001b[2Jgone"\n', encoding="utf-8")
    assert "\x1b" not in call("check", path).out
    path.write_text('[dossier]\nformat = 1\n[chip]\nlike = "\\u001b[2Jgone"\n', encoding="utf-8")
    said = call("check", path)
    assert said.code == 2
    assert "\x1b" not in said.err


# One JSON shape


@pytest.fixture(scope="module")
def schemas() -> dict[str, Any]:
    """A validator of each published schema by command; the schemas are good schemas themselves."""
    made: dict[str, Any] = {}
    for name in (*COMMANDS, "dossier"):
        out = io.StringIO()
        with contextlib.redirect_stdout(out):
            assert run(["schema"] if name == "dossier" else ["schema", name]) == 0
        schema = json.loads(out.getvalue())
        kind = jsonschema.validators.validator_for(schema)
        kind.check_schema(schema)
        made[name] = kind(schema)
    return made


def proved_by_schema(said: Said, schema: Any, command: str, file_answer: bool = True) -> Any:
    """The envelope, after the published schema and the five keys have been asked for."""
    envelope = said.json
    schema.validate(envelope)
    assert list(envelope)[:5] == ["tool", "version", "command", "result", "verdicts"]
    assert set(envelope) - {"errors"} == {"tool", "version", "command", "result", "verdicts"}
    assert (envelope["tool"], envelope["command"]) == ("scanloom", command)
    assert re.fullmatch(r"\d+\.\d+\.\d+.*", envelope["version"])
    assert (envelope["result"] is not None) == file_answer
    assert bool(envelope.get("errors")) == (not file_answer)
    assert said.err == ""
    assert said.out.endswith("}\n")
    return envelope


@pytest.mark.parametrize("arguments", PLAIN, ids=" ".join)
def test_envelope_of_each_command(call: Call, schemas: dict[str, Any], arguments: tuple[str, ...]) -> None:
    said = call(*arguments, "--json")
    assert said.code == 0
    envelope = proved_by_schema(said, schemas[arguments[0]], arguments[0])
    envelope["result"] = "nonsense"
    with pytest.raises(jsonschema.ValidationError):
        schemas[arguments[0]].validate(envelope)


def test_envelope_of_check(call: Call, schemas: dict[str, Any], ready_dossier: Path) -> None:
    for arguments in (
        (DEMO / "first-evening.toml", "--strict"),
        (ready_dossier, "--try", "chip.rail=3.0 V; guess"),
    ):
        envelope = proved_by_schema(call("check", *arguments, "--json"), schemas["check"], "check")
        assert envelope["verdicts"], "every check is told, those that hold too"
    del envelope["verdicts"][0]["state"]
    with pytest.raises(jsonschema.ValidationError):
        schemas["check"].validate(envelope)


@pytest.mark.parametrize(
    "arguments",
    [
        ("check", "no-such.toml"),
        ("check", str(DEMO / "final.toml"), "--try", "chip.rail=3,3 V"),
        ("timing", "800x600@61"),
        ("clock", "25.175", "--chip", "rp2040", "--h-total", "800"),
        ("levels", "--parts", "510,x"),
        ("chip", "rp204"),
        ("schema", "nonsense"),
    ],
    ids=" ".join,
)
def test_envelope_of_what_cannot_be_read(call: Call, schemas: dict[str, Any], arguments: tuple[str, ...]) -> None:
    said = call(*arguments, "--json")
    assert said.code == 2
    envelope = proved_by_schema(said, schemas[arguments[0]], arguments[0], file_answer=False)
    assert envelope["verdicts"] == []
    for error in envelope["errors"]:
        assert set(error) == {"file", "line", "column", "path", "text"}
        assert error["text"]


def test_unreadable_dossier_in_json(call: Call, schemas: dict[str, Any], tmp_path: Path) -> None:
    path = tmp_path / "broken.toml"
    path.write_text('[dossier]\nformat = 1\n[chip]\nrail = "3,3 V"\npin_hihg = "25 ohm"\n', encoding="utf-8")
    said = call("check", path, "--json")
    assert said.code == 2
    errors = proved_by_schema(said, schemas["check"], "check", file_answer=False)["errors"]
    assert [(e["file"], e["line"], e["column"], e["path"]) for e in errors] == [
        (str(path), 4, 8, "chip.rail"),
        (str(path), 5, 1, "chip.pin_hihg"),
    ]


def test_schema_without_a_name_is_that_of_the_dossier(call: Call, schemas: dict[str, Any]) -> None:
    assert call("schema", "dossier").json == schemas["dossier"].schema
    for path in sorted(DEMO.glob("*.toml")):
        content = json.loads(json.dumps(tomllib.loads(path.read_text(encoding="utf-8")), default=str))
        schemas["dossier"].validate(content)


@pytest.mark.parametrize(
    "change",
    [
        {"rail": 3.3},
        {"displays": [{"name": "hero", "color_load": "75 ohm"}]},
        {"displays": [{"name": "Hero"}]},
        {"displays": [{"name": "hero left"}]},
        {"displays": {"name": "hero"}},
        {"dossier": {"format": 2}},
        {"board": {"sync": {"h": "26"}}},
        {"rigs": [{"name": "one", "depth": {"heroes": {"yellow": 1}}}]},
    ],
    ids=str,
)
def test_dossier_schema_refuses_what_the_reader_refuses(
    call: Call, schemas: dict[str, Any], change: dict[str, Any]
) -> None:
    """An editor that completes and checks by the schema underlines it already."""
    with pytest.raises(jsonschema.ValidationError):
        schemas["dossier"].validate({"dossier": {"format": 1}} | change)


def test_piped_json_is_utf_8_whatever_the_terminal_speaks() -> None:
    """RFC 8259, section 8.1: JSON text exchanged between systems must be encoded using UTF-8."""
    done = scanloom("check", DEMO / "final.toml", "--json", environment={"PYTHONIOENCODING": "cp1252"})
    assert done.stderr == b""
    assert json.loads(done.stdout.decode("utf-8"))["command"] == "check"


def test_timing_tells_the_child_raster(call: Call) -> None:
    """VESA and Industry Standards and Guidelines for Computer Display Monitor Timing, DMT ID 09h, halved."""
    result = call(*TIMING, "--json").json["result"]
    assert result["h"] == {
        "active_px": 400,
        "front_px": 20,
        "sync_px": 64,
        "back_px": 44,
        "total_px": 528,
        "polarity": "+",
    }
    assert result["v"] == {
        "active_lines": 600,
        "front_lines": 1,
        "sync_lines": 4,
        "back_lines": 23,
        "total_lines": 628,
        "polarity": "+",
    }
    assert result["pixel_clock_hz"] == 20e6
    assert result["line_rate_hz"] == pytest.approx(20e6 / 528, rel=1e-12)
    assert result["frame_rate_hz"] == pytest.approx(20e6 / 528 / 628, rel=1e-12)
    assert (result["image_rows"], result["line_repeat"]) == (300, 2)


def test_clock_lists_candidates_best_first(call: Call) -> None:
    """The best of a whole-divider chain on a 12 MHz crystal: 12 MHz / 2 x 235 / 14 / 4, by hand."""
    rows = call(*CLOCK, "--json").json["result"]["candidates"]
    for row in rows:
        assert {"achieved_hz", "error_ppm", "wobble_px", "lines_repeat_after", "recipe"} <= set(row)
        assert row["error_ppm"] == pytest.approx((row["achieved_hz"] / 25.175e6 - 1) * 1e6, abs=1e-3)
    assert rows[0]["achieved_hz"] == pytest.approx(12e6 / 2 * 235 / 14 / 4, rel=1e-12)
    assert (rows[0]["wobble_px"], rows[0]["lines_repeat_after"]) == (0, 1)
    order = [(abs(row["error_ppm"]) > 5000, row["wobble_px"], abs(row["error_ppm"])) for row in rows]
    assert order == sorted(order)


def test_clock_options_narrow_the_list(call: Call) -> None:
    rows = call(*CLOCK, "--limit", "3", "--whole-only", "--system", "100 .. 133 MHz", "--json").json["result"]
    assert len(rows["candidates"]) == 3
    for row in rows["candidates"]:
        assert row["wobble_px"] == 0
        assert 100e6 <= row["system_hz"] <= 133e6
    said = call("clock", "25.175 MHz", "--chip", "wifi240", "--h-total", "800", "--stream", "8 lanes", "--json")
    assert said.code == 0
    assert said.json["result"]["candidates"]


def test_levels_are_those_of_kirchhoff(call: Call) -> None:
    """Kirchhoff's current law at the connector: each leg with its pin, and 75 ohm to ground."""
    result = call(*LEVELS, "--json").json["result"]
    legs = [1 / (ohm + 25.0) for ohm in (510.0, 1000.0, 2000.0, 3900.0)]
    whole = sum(legs) + 1 / 75.0
    levels = [3.3 * sum(g for bit, g in enumerate(legs) if code >> (3 - bit) & 1) / whole for code in range(16)]
    assert result["level_v"] == pytest.approx(levels, rel=1e-9)
    assert result["full_scale_v"] == pytest.approx(levels[-1], rel=1e-9)
    assert result["source_ohm"] == pytest.approx(1 / sum(legs), rel=1e-9)
    step = levels[-1] / 15
    assert abs(result["inl_lsb"]) == pytest.approx(max(abs(v / step - code) for code, v in enumerate(levels)), rel=1e-6)
    steps = [(after - before) / step - 1 for before, after in itertools.pairwise(levels)]
    assert result["dnl_min_lsb"] == pytest.approx(min(steps), rel=1e-6)
    assert len(result["pin_current_a"]) == 4
    assert all(0 < current < 3.3 / 535 for current in result["pin_current_a"])


# The last line, and stops on a guess


@pytest.mark.parametrize("columns", ["80", "160"])
@pytest.mark.parametrize("name", ["final", "first-evening"])
def test_last_line_says_how_many_hold_on_a_guess(
    call: Call, monkeypatch: pytest.MonkeyPatch, name: str, columns: str
) -> None:
    on_guess = call("check", DEMO / f"{name}.toml", "--json").json["result"]["counts"]["on_guess"]
    assert on_guess > 0
    monkeypatch.setenv("COLUMNS", columns)
    last = call("check", DEMO / f"{name}.toml").out.splitlines()[-1]
    assert re.search(rf"\b{on_guess}\b.*guess", last), last


def test_last_line_says_so_when_none_does(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "empty.toml"
    path.write_text("[dossier]\nformat = 1\n", encoding="utf-8")
    assert re.search(r"\b0\b.*guess", call("check", path).out.splitlines()[-1])


def test_strict_counts_a_stop_on_a_guess_as_unknown(call: Call, ready_dossier: Path) -> None:
    said = call("check", ready_dossier, "--json")
    assert said.code == 0
    guessed = sum((v["weight"], v["state"], v["on_guess"]) == ("stop", "holds", True) for v in said.json["verdicts"])
    assert guessed > 0
    strict = call("check", ready_dossier, "--strict")
    assert strict.code == 1
    assert f"{guessed} stops" in strict.out
    assert call("check", ready_dossier, "--strict", "--json").code == 1


# Trying and keeping


def test_try_says_what_it_breaks_and_writes_nothing(call: Call, ready_dossier: Path) -> None:
    before, stamp = ready_dossier.read_bytes(), ready_dossier.stat().st_mtime_ns
    said = call("check", ready_dossier, "--try", "chip.rail=2.5 V; guess")
    assert said.code == 1
    assert re.search(r"break.*levels\.white", said.out)
    tried = call("check", ready_dossier, "--try", "chip.rail=2.5 V; guess", "--json").json["result"]["tried"]
    assert "levels.white" in {row["code"] for row in tried["broken"]}
    assert tried["mended"] == []
    assert (ready_dossier.read_bytes(), ready_dossier.stat().st_mtime_ns) == (before, stamp)
    assert [path.name for path in ready_dossier.parent.iterdir()] == [ready_dossier.name]


def test_try_says_what_it_mends(call: Call, open_dossier: Path) -> None:
    before = open_dossier.read_bytes()
    change = 'displays.relay-1.proved=["640x480@60; measured"]'
    said = call("check", open_dossier, "--try", change)
    assert said.code == 0, said.err
    assert re.search(rf"mend.*{re.escape(CODE)}", said.out)
    tried = call("check", open_dossier, "--try", change, "--json").json["result"]["tried"]
    assert {(row["code"], row["subject"]) for row in tried["mended"]} == {(CODE, SUBJECT)}
    assert tried["broken"] == []
    assert open_dossier.read_bytes() == before
    assert call("check", open_dossier).code == 1


def test_keep_changes_one_value_and_nothing_else(call: Call, ready_dossier: Path) -> None:
    before = ready_dossier.read_text(encoding="utf-8").splitlines(keepends=True)
    said = call("check", ready_dossier, "--try", "displays.hero-right.cable=thin, 8 m; measured", "--keep")
    assert said.code == 0, said.err
    after = ready_dossier.read_text(encoding="utf-8").splitlines(keepends=True)
    assert len(after) == len(before)
    assert [(old, new) for old, new in zip(before, after, strict=True) if old != new] == [
        ('cable = "thin, 12 m; guess"\n', 'cable = "thin, 8 m; measured"\n')
    ]
    assert [path.name for path in ready_dossier.parent.iterdir()] == [ready_dossier.name]


def test_keep_keeps_comments_spacing_and_line_ends(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "spaced.toml"
    text = (
        '# above\r\n[dossier]\r\nformat = 1\r\n\r\n[chip]   # a chip\r\n  rail  =  "3.3 V; guess"   # why\r\n\r\n# end'
    )
    path.write_bytes(text.encode())
    assert call("check", path, "--try", "chip.rail=3.2 V; said", "--keep").code == 1
    assert path.read_bytes() == text.replace("3.3 V; guess", "3.2 V; said").encode()


ELSEWHERE = """
import os, sys
from pathlib import Path
from scanloom.cli.app import run

path = Path(sys.argv[1])
before = path.read_bytes()
opened = None

def meddle(event, arguments):
    # somebody else saves the file after it was read and before it is written
    if opened is not None and event == "open" and isinstance(arguments[0], (str, os.PathLike)):
        name = os.path.abspath(os.fspath(arguments[0]))
        if name == str(path) or opened and os.path.dirname(name) == str(path.parent):
            opened.append(name)
            if len(opened) == 2:
                with path.open("ab") as file:
                    file.write(b"# saved elsewhere")

sys.addaudithook(meddle)
for change in {changes!r}:
    path.write_bytes(before)
    opened = []
    code = run(["check", str(path), *change])
    assert len(opened) >= 2, opened
    opened = None
    assert code == 2, code
    assert path.read_bytes() == before + b"# saved elsewhere"
    assert os.listdir(path.parent) == [path.name]
"""


def test_a_file_that_changed_underneath_is_not_overwritten(open_dossier: Path) -> None:
    changes = [
        ["--try", "chip.rail=3.2 V; said", "--keep"],
        ["--accept", CODE, SUBJECT, "--because", "it ran an hour"],
    ]
    command = [sys.executable, "-c", ELSEWHERE.format(changes=changes), str(open_dossier)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=30, check=False)
    assert done.returncode == 0, done.stderr
    told = done.stderr.splitlines()
    assert len(told) == len(changes)
    assert all(line.startswith(f"{open_dossier}: ") and "changed" in line for line in told)


# Accepting


def test_accept_writes_and_counts(call: Call, open_dossier: Path) -> None:
    before = open_dossier.read_text(encoding="utf-8")
    assert call("check", open_dossier).code == 1
    said = call("check", open_dossier, "--accept", CODE, SUBJECT, "--because", 'it ran "an hour", here')
    assert said.code == 0, said.err
    after = open_dossier.read_text(encoding="utf-8")
    assert after.startswith(before), "what stood there still stands there"
    (entry,) = tomllib.loads(after)["accepted"]
    assert entry["mark"]
    assert {key: entry[key] for key in ("code", "subject", "because")} == {
        "code": CODE,
        "subject": SUBJECT,
        "because": 'it ran "an hour", here',
    }
    again = call("check", open_dossier, "--json")
    assert again.code == 0
    assert set(states(again).values()) == {"accepted"}
    assert open_dossier.read_text(encoding="utf-8") == after


def test_accept_for_one_rig_leaves_the_other_open(call: Call, open_dossier: Path) -> None:
    said = call("check", open_dossier, "--accept", CODE, SUBJECT, "--because", "x", "--rig", "six-one-bit", "--json")
    assert said.code == 1
    assert states(said) == {"two-and-four": "fails", "six-one-bit": "accepted"}


def test_an_acceptance_for_all_rigs_counts_once(call: Call, accepted_dossier: Path) -> None:
    assert call("check", accepted_dossier, "--json").json["result"]["counts"]["accepted"] == 1


def test_a_changed_fact_makes_the_acceptance_stale(call: Call, accepted_dossier: Path) -> None:
    edited(accepted_dossier, 'cable = "thin, 2 m; said"', 'cable = "thin, 2 m; said"\nline_rate = "30 .. 34 kHz; said"')
    said = call("check", accepted_dossier, "--json")
    assert set(states(said).values()) == {"stale"}
    assert said.code == 1
    again = call("check", accepted_dossier, "--accept", CODE, SUBJECT, "--because", "seen again", "--json")
    assert again.code == 0
    assert set(states(again).values()) == {"accepted"}
    assert len(tomllib.loads(accepted_dossier.read_text(encoding="utf-8"))["accepted"]) == 1


def test_a_fact_it_does_not_rest_on_leaves_the_acceptance_alone(call: Call, accepted_dossier: Path) -> None:
    edited(accepted_dossier, "24000 B", "23000 B")
    edited(accepted_dossier, 'revision = "B"', 'revision = "C"')
    said = call("check", accepted_dossier, "--json")
    assert set(states(said).values()) == {"accepted"}
    assert said.code == 0


@pytest.mark.parametrize("columns", ["80", "160"])
def test_an_acceptance_without_mark_is_stale_and_its_line_is_printed(
    call: Call, accepted_dossier: Path, monkeypatch: pytest.MonkeyPatch, columns: str
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    text = accepted_dossier.read_text(encoding="utf-8")
    (written,) = re.findall(r'^mark = "[0-9a-f]+"$', text, re.MULTILINE)
    accepted_dossier.write_text(text.replace(written, ""), encoding="utf-8")
    assert set(states(call("check", accepted_dossier, "--json")).values()) == {"stale"}
    said = call("check", accepted_dossier)
    assert said.code == 1
    assert written in said.out, "one line, to be copied whole"


def test_a_wrong_mark_is_stale(call: Call, accepted_dossier: Path) -> None:
    text = accepted_dossier.read_text(encoding="utf-8")
    accepted_dossier.write_text(re.sub(r'mark = "[0-9a-f]+"', 'mark = "000000000000"', text), encoding="utf-8")
    said = call("check", accepted_dossier, "--json")
    assert (said.code, set(states(said).values())) == (1, {"stale"})


def test_what_holds_is_not_accepted(call: Call, ready_dossier: Path) -> None:
    before = ready_dossier.read_bytes()
    said = call("check", ready_dossier, "--accept", "levels.white", "displays.hero-left.red", "--because", "x")
    assert said.code == 2
    assert ready_dossier.read_bytes() == before


# On paper and on the screen


@pytest.mark.parametrize("columns", [80, 160])
@pytest.mark.parametrize(
    "arguments",
    [
        *PLAIN[:5],
        ("chip", "wifi240"),
        ("check", str(DEMO / "final.toml")),
        ("check", str(DEMO / "first-evening.toml"), "--all"),
        ("check", str(DEMO / "final.toml"), "--try", "chip.rail=2.5 V; guess"),
        ("--help",),
        *((command, "--help") for command in COMMANDS),
        ("nonsense",),
        ("check",),
    ],
    ids=lambda arguments: " ".join(arguments) if isinstance(arguments, tuple) else None,
)
def test_text_keeps_to_the_width_and_has_no_colour_in_a_pipe(
    call: Call, monkeypatch: pytest.MonkeyPatch, arguments: tuple[str, ...], columns: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    said = call(*arguments)
    text = said.out + said.err
    assert text.endswith("\n")
    assert "\x1b" not in text
    to_type = ("Next: scanloom ", "To see what a change would do: scanloom ")  # on one line, so that it can be copied
    # a fault is one line too, so that it can be searched and copied
    wide = [line for line in said.out.splitlines() if len(line.rstrip()) > columns and not line.startswith(to_type)]
    assert wide == []


@pytest.mark.parametrize("command", COMMANDS)
def test_help_has_an_example_of_its_own_command(call: Call, command: str) -> None:
    said = call(command, "--help")
    assert said.code == 0
    examples = re.findall(rf"^\s*scanloom {command}\b.*$", said.out, re.MULTILINE)
    assert examples, said.out


@pytest.mark.parametrize("arguments", PLAIN, ids=" ".join)
def test_output_ends_with_its_line(call: Call, arguments: tuple[str, ...]) -> None:
    for said in (call(*arguments), call(*arguments, "--json")):
        assert said.out.endswith("\n")
        assert said.err == ""


@pytest.mark.parametrize(
    "arguments",
    [TIMING, ("check", str(DEMO / "final.toml"), "--json")],
    ids=["text", "JSON"],
)
def test_a_reader_that_leaves_early_gets_no_traceback(arguments: tuple[str, ...]) -> None:
    """As with `| head -1`, only that the reader has left for certain when the first line comes."""
    read_end, write_end = os.pipe()
    os.close(read_end)
    try:
        done = scanloom(*arguments, stdout=write_end)
    finally:
        os.close(write_end)
    assert done.stderr == b""


def test_head_gets_its_line() -> None:
    head = shutil.which("head")
    if head is None:
        pytest.skip("head is not installed")
    command = f'"{sys.executable}" -m scanloom check "{DEMO / "final.toml"}" | "{head}" -1'
    done = subprocess.run(["sh", "-c", command], capture_output=True, text=True, timeout=30, check=False)
    assert done.stdout.startswith("Deep Station control room")
    assert done.stderr == ""


LIGHT = """
import sys
from scanloom.cli.app import run

for arguments in {calls!r}:
    run(arguments)
    heavy = sorted({{"numpy", "scipy", "numba"}} & set(sys.modules))
    if heavy:
        sys.exit(f"{{' '.join(arguments)}} loads {{', '.join(heavy)}}")
"""


def test_light_commands_load_no_heavy_library() -> None:
    calls = [list(TIMING), list(CLOCK), ["chip", "rp2040"], ["schema"], ["check", str(DEMO / "final.toml")]]
    command = [sys.executable, "-c", LIGHT.format(calls=calls)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=30, check=False)
    assert done.returncode == 0, done.stderr
