"""Words for a command line that cannot be understood: place: given; allowed; do. Also as JSON."""

from __future__ import annotations

import json

import pytest

from scanloom.cli.app import run

WRONG = [
    (["clock", "25 MHz", "--chip", "wifi240"], "--h-total: not given; wanted: pixels of a whole line, blanking included; "),
    (["clock", "25 MHz", "--chip"], "--chip: no value given; wanted: chip of the handbook, or a path to your own chip file; "),
    (["timing", "640x480@60", "--formula", "cvd"], "--formula: 'cvd' is no choice; cvt, cvt-rb1, cvt-rb2, gtf are; did you mean cvt?"),
    (["clock", "25 MHz", "--chip", "a", "--h-total", "x"], "--h-total: 'x' cannot be read; a whole number is allowed; "),
    (["fit", "--jsn"], "--jsn: no option of fit; "),
    (["chek", "x"], "COMMAND: 'chek' is no command; "),
    (["check"], "DOSSIER: not given; wanted: the dossier, a TOML file; write scanloom check ... DOSSIER"),
    (["check", "a", "b", "c"], "b c: more words than check takes; "),
    (["clock", "1 MHz", "--chip", "a", "--chip", "b"], "--chip: 'b' is a second value; one is; leave one out"),
    (["check", "x", "--accept", "a"], "--accept: 1 value given; "),
]  # fmt: skip


@pytest.mark.parametrize(("line", "says"), WRONG, ids=[" ".join(line) for line, _ in WRONG])
def test_a_wrong_command_line_is_one_sentence(line: list[str], says: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(line) == 2
    out, err = capsys.readouterr()
    assert not out
    assert err.startswith(says)
    assert err.count("\n") == 1 and err.count("; ") >= 2


@pytest.mark.parametrize("line", [line for line, _ in WRONG], ids=" ".join)
def test_the_same_sentence_as_json(line: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    run(line)
    said = capsys.readouterr().err
    assert run([*line, "--json"]) == 2
    out, err = capsys.readouterr()
    assert not err
    answer = json.loads(out)
    (fault,) = answer["errors"]
    if line[-1] in ("--chip", "a"):  # --json is then taken for the value, or for one
        return
    assert said == f"{fault['path']}: {fault['text']}\n"
    assert answer["command"] == (line[0] if line[0] != "chek" else "scanloom")


def test_a_guess_names_what_was_meant(capsys: pytest.CaptureFixture[str]) -> None:
    run(["fit", "--jsn"])
    run(["chek", "x"])
    assert "did you mean --json?" in (err := capsys.readouterr().err) and "did you mean check?" in err


@pytest.mark.parametrize(("rate", "code"), [("400 MHz", 1), ("25.175 MHz", 0)])
def test_a_rate_out_of_reach_is_no_success(rate: str, code: int, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["clock", rate, "--chip", "rp2040", "--h-total", "800"]) == code
    assert ("None lies within 5000 ppm" in capsys.readouterr().out) == bool(code)
