"""`scanloom levels`: parts found at the door, one clear message for what cannot be, and the levels of a dossier."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from scanloom.cli.app import run
from scanloom.report.schemas import schema_of

ROOT = Path(__file__).resolve().parents[2]
FINAL = ROOT / "examples/deep-station/final.toml"
ASKED = '--bits 4 --series E24 --distinct 2 --pin "25 ohm" --rail "3.3 V"'


def levels(capsys: pytest.CaptureFixture[str], words: str) -> tuple[int, str, str]:
    """Exit code and both outputs of one command."""
    code = run(["levels", *shlex.split(words)])
    said = capsys.readouterr()
    return code, said.out, said.err


def result(capsys: pytest.CaptureFixture[str], words: str, code: int = 0) -> dict[str, Any]:
    """Result of one command as JSON, held against its published schema."""
    left, out, _ = levels(capsys, f"{words} --json")
    assert left == code
    document = json.loads(out)
    Draft202012Validator(schema_of("levels")).validate(document)
    made: dict[str, Any] = document["result"]
    return made


def test_parts_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    """The optimum is the one that the records give; its figures follow by hand from the nodal equation."""
    found = result(capsys, ASKED)
    assert found["legs"] == [
        {"ohm": 1000.0, "how": "parallel"},
        {"ohm": 1000.0, "how": "single"},
        {"ohm": 1000.0, "how": "series"},
        {"ohm": 4300.0, "how": "single"},
    ]
    siemens = [1 / (ohm + 25.0) for ohm in (500.0, 1000.0, 2000.0, 4300.0)]
    whole = sum(siemens) + 1 / 75.0
    white = 3.3 * sum(siemens) / whole
    assert found["full_scale_v"] == pytest.approx(white)
    assert found["source_ohm"] == pytest.approx(1 / sum(siemens))
    assert found["pin_current_a"] == pytest.approx([3.3 * g * (1 - g / whole) for g in siemens])
    off = [3.3 * g / whole - 0.7 * 2 ** (3 - place) / 15 for place, g in enumerate(siemens)]
    assert found["error_v"] == pytest.approx(max(sum(max(v, 0) for v in off), -sum(min(v, 0) for v in off)))
    assert found["proved"] is True
    assert (found["distinct"], found["parts"], found["shunt_ohm"]) == (2, 6, None)
    assert 5.8 < found["monotonic_at"] < 5.9
    assert "3 values would bring" in found["why"]
    assert [row["error_v"] for row in found["others"]] == sorted(row["error_v"] for row in found["others"])


def test_parts_as_text(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = levels(capsys, ASKED)
    assert (code, err) == (0, "")
    assert "2 x 1000 in parallel, 1000" in out
    assert "proved best" in out
    assert "mV" in out


def test_a_match_brings_a_shunt(capsys: pytest.CaptureFixture[str]) -> None:
    found = result(capsys, '--bits 2 --shunt --pin "25 ohm"')
    assert found["shunt_ohm"] is not None
    assert found["source_ohm"] == pytest.approx(75.0, rel=0.05)
    near = result(capsys, '--bits 2 --match "1 %" --pin "25 ohm"')
    assert near["source_ohm"] == pytest.approx(75.0, rel=0.01)


def test_tolerance_makes_steps_sure(capsys: pytest.CaptureFixture[str]) -> None:
    found = result(capsys, "--bits 4 --tolerance '10 %' --answers 5")
    assert all(row["monotonic_at"] >= 10.0 - 1e-5 for row in (found, *found["others"]))


def test_stock_is_all_there_is(capsys: pytest.CaptureFixture[str]) -> None:
    found = result(capsys, "--bits 2 --stock 390,470,820,1k --single")
    assert {leg["ohm"] for leg in found["legs"]} <= {390.0, 470.0, 820.0, 1000.0}
    assert {leg["how"] for leg in found["legs"]} == {"single"}


def test_yield_counts_the_same_boards_again(capsys: pytest.CaptureFixture[str]) -> None:
    words = '--bits 2 --objective yield --pin "10 .. 25 .. 60 ohm" --rail "3.1 .. 3.5 V" --boards 500'
    first, again = result(capsys, words), result(capsys, words)
    assert first == again
    assert 0.0 < first["good_share"] <= first["most_share"] <= 1.0
    other = result(capsys, f"{words} --seed 2")
    assert other["good_share"] == pytest.approx(first["good_share"], abs=0.1)


@pytest.mark.parametrize(
    ("words", "option"),
    [
        ("--bits 4 --distinct 1", "--distinct 2"),
        ("--bits 3 --single --distinct 1", "--distinct 3"),
        ("--bits 1 --stock 1k", "--series E12"),
        ("--bits 3 --pin-current '3 mA'", "--pin-current '5.4 mA'"),
    ],
)
def test_nearest_request_has_an_answer(capsys: pytest.CaptureFixture[str], words: str, option: str) -> None:
    """No network: exit code 1, and the option that is named brings one."""
    found = result(capsys, words, code=1)
    assert found["found"] == "nothing"
    assert found["option"] == option
    assert option in found["says"]
    code, out, err = levels(capsys, words)
    assert (code, err) == (1, "")
    assert len(out.strip().splitlines()) == 1
    name = option.split()[0]
    kept = re.sub(rf"{name} ('[^']*'|\S+)", "", words)
    if name == "--series":
        kept = re.sub(r"--stock \S+", "", kept)
    assert result(capsys, f"{kept} {option}")["legs"]


@pytest.mark.parametrize(
    ("words", "place", "says"),
    [
        ("--bits 9", "--bits", "allowed are 1 to 6; the nearest is 6 bits"),
        ("--bits 0", "--bits", "the nearest is 1 bits"),
        ("--bits 4 --stock ,", "--stock", "empty"),
        ("--bits 4 --stock 0,100", "--stock", "not larger than zero"),
        ("--bits 4 --stock=-5,100", "--stock", "not larger than zero"),
        ("--bits 4 --stock 1k --series E24", "--stock", "one of them"),
        ("--bits 4 --range '101 .. 102 ohm'", "--range", "the nearest is 100 ohm"),
        ("--bits 4 --stock 1k --range '10 .. 20 ohm'", "--range", "the nearest is 1000 ohm"),
        ("--bits 4 --distinct 0", "--distinct", "the nearest is 1"),
        ("--bits 4 --parts-most 3", "--parts-most", "the nearest is 4 parts"),
        ("--bits 4 --shunt --parts-most 4", "--parts-most", "the nearest is 5 parts"),
        ("--bits 4 --load '0 ohm'", "--load", "above zero"),
        ("--bits 4 --load 75", "--load", "75 ohm"),
        ("--bits 4 --rail '0.5 V'", "--rail", "rail"),
        ("--bits 4 --white '0.7 .. 0.6 .. 0.8 V'", "--white", "0.7"),
        ("--bits 4 --pin-current '0 mA'", "--pin-current", "above zero"),
        ("--bits 4 --tolerance='-1 %'", "--tolerance", "-1"),
        ("--bits 4 --answers 65", "--answers", "the nearest is 64"),
        ("--bits 4 --seed 3", "--seed", "--objective yield"),
        ("--bits 4 --objective yield --shunt", "--objective", "not built"),
        ("--bits 4 --style ladder", "--style", "--parts"),
        ("--bits 4 --parts 1k", "DOSSIER, --parts, --bits", "one of them"),
        ("--parts 1k --distinct 2", "--distinct", "does not go with --parts"),
        ("examples/deep-station/final.toml --bits 2", "DOSSIER, --parts, --bits", "one of them"),
        ("examples/deep-station/final.toml --pin '25 ohm'", "--pin", "does not go with DOSSIER"),
        ("examples/deep-station/final.toml --distinct 5", "--distinct", "the nearest is 4"),
        ("", "DOSSIER, --parts, --bits", "add --bits 4"),
    ],
)
def test_what_cannot_be_asked(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, words: str, place: str, says: str
) -> None:
    monkeypatch.chdir(ROOT)
    code, out, err = levels(capsys, words)
    assert (code, out) == (2, "")
    assert len(err.strip().splitlines()) == 1
    assert err.startswith(f"{place}: ")
    assert says in err


def test_levels_of_a_dossier(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """What the survey says, and one set of values whose patch makes nothing worse."""
    monkeypatch.chdir(ROOT)
    found = result(capsys, "examples/deep-station/final.toml")
    assert [rig["rig"] for rig in found["rigs"]] == ["two-and-four", "six-one-bit"]
    assert len(found["rigs"][0]["levels"]["channels"]) == 10
    joint = found["joint"]
    assert joint["proved"]
    assert len(joint["values_ohm"]) <= 2
    assert {len(row["legs"]) for row in joint["channels"]} == {1}
    assert all(row["drawn_a"] <= row["most_a"] for row in joint["caps"])
    assert [row["key"] for row in joint["patches"]] == ["levels.colour", "levels.sync.branch"]
    # the line that is printed can be run, and what it tries holds
    words = shlex.split(joint["try_line"])
    assert words[:2] == ["scanloom", "check"]
    assert run([*words[1:], "--json"]) == 0
    tried = json.loads(capsys.readouterr().out)["result"]["tried"]
    assert not [row for row in tried["broken"] if row["code"].startswith("levels.")]
    code, out, _ = levels(capsys, "examples/deep-station/final.toml")
    assert code == 0
    assert out.splitlines()[-1] == f"Next: {joint['try_line']}"


def test_currents_that_no_resistor_cures(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A chip whose pins give 50 mA together cannot feed ten channels: said with the number, and shown without the cap."""
    monkeypatch.chdir(ROOT)
    text = FINAL.read_text(encoding="utf-8").replace('like = "wifi240"  ', 'like = "rp2040"  ')
    text = re.sub(r"^drive = .*$", "", text, flags=re.M)
    text = re.sub(r"^(free|accepted|code|subject|because|mark).*$|^\[\[accepted\]\]$", "", text, flags=re.M)
    for old, new in ((32, 2), (33, 3), (25, 5), (26, 24), (27, 25), (23, 20)):
        text = re.sub(rf"(?<== ){old}\b", str(new), text)
    path = tmp_path / "small.toml"
    path.write_text(text, encoding="utf-8")
    code, out, err = levels(capsys, f"{path} --json")
    assert err == ""
    found = json.loads(out)["result"]
    assert found["joint"] is not None, found["says"]
    over = [row for row in found["joint"]["caps"] if row["drawn_a"] > row["most_a"]]
    assert over
    assert any("give the displays buffers" in line for line in found["says"])
    assert code == 0


def test_boards_of_a_dossier_are_counted_and_told(capsys: pytest.CaptureFixture[str]) -> None:
    """As text and as JSON, the same boards for the same seed; white of the demo lies inside its window on every board."""
    from scanloom.cli.app import run

    command = ["levels", "examples/deep-station/final.toml", "--boards", "2000", "--seed", "3"]
    run([*command, "--json"])
    rig = json.loads(capsys.readouterr().out)["result"]["rigs"][0]
    lot, alike = rig["tolerance"]["lot"], rig["tolerance"]["alike"]
    assert (lot["boards"], lot["white"], lot["monotonic"]) == (2000, 1.0, 1.0)
    assert len(alike[0]["channels"]) == 10
    assert sum(one["share"] for one in alike[0]["white"]) == pytest.approx(1.0)
    run(command)
    text = capsys.readouterr().out
    assert "2000 boards drawn by chance" in text and "pin high" in text
    run([*command[:2], "--json"])
    assert json.loads(capsys.readouterr().out)["result"]["rigs"][0]["tolerance"] is None


@pytest.mark.parametrize(
    ("words", "place", "says"),
    [
        (["--boards", "0"], "--boards", "allowed are 1 to"),
        (["--boards", "10", "--seed", "-1"], "--seed", "allowed are 0 up to"),
        (["--seed", "1"], "--seed", "it goes with --boards"),
    ],
)
def test_boards_of_a_dossier_that_cannot_be(
    words: list[str], place: str, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    from scanloom.cli.app import run

    assert run(["levels", "examples/deep-station/final.toml", *words]) == 2
    told = capsys.readouterr().err
    assert told.startswith(place) and says in told
