"""What people read when they survey the demo: wording and layout, no number that a sum can settle."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
HERE = Path(__file__).parent
NUMBER = re.compile(r"\d[\d.,]*")


@pytest.mark.parametrize("name", ["first-evening", "final"])
def test_text_of_the_demo(
    name: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, pytestconfig: pytest.Config
) -> None:
    from scanloom.cli.app import run

    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.chdir(ROOT)
    code = run(["check", f"examples/deep-station/{name}.toml"])
    text = "".join(line.rstrip() + "\n" for line in capsys.readouterr().out.splitlines())
    assert code == {"first-evening": 1, "final": 0}[name]
    golden = HERE / f"{name}.txt"
    if pytestconfig.getoption("--write-golden"):
        golden.write_text(text, encoding="utf-8")
    # numbers are checked elsewhere; here a changed digit is no change of wording
    assert NUMBER.sub("#", text).split() == NUMBER.sub("#", golden.read_text(encoding="utf-8")).split()


def test_the_last_line_counts_what_holds_on_a_guess(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from scanloom.cli.app import run

    monkeypatch.setenv("COLUMNS", "200")
    monkeypatch.chdir(ROOT)
    run(["check", "examples/deep-station/final.toml"])
    last = capsys.readouterr().out.rstrip().splitlines()[-1].strip()
    assert re.fullmatch(r"Of the \d+ that hold, \d+ hold only on a guess\.", last)
