"""The README's output is what the program prints."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
BLOCK = re.compile(r"<!-- output: (.+?) -->\n```text\n(.*?)```", re.DOTALL)
WANTED = {"check": 14, "clock": 20, "fit": 20, "levels": 20, "picture": 12}


def printed(command: str, capsys: pytest.CaptureFixture[str]) -> str:
    """First paragraphs of what a command prints, at the width of the page."""
    from scanloom.cli.app import run

    words = shlex.split(command)
    run(words)
    text = "\n".join(line.rstrip() for line in capsys.readouterr().out.splitlines())
    lines = text.splitlines()[: WANTED[words[0]]]
    return "\n".join(lines).rstrip() + "\n"


def test_output_in_the_readme_is_real(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, pytestconfig: pytest.Config
) -> None:
    monkeypatch.setenv("COLUMNS", "110")
    monkeypatch.chdir(ROOT)
    page = README.read_text(encoding="utf-8")
    blocks = BLOCK.findall(page)
    assert len(blocks) == 6
    if pytestconfig.getoption("--write-golden"):
        made = BLOCK.sub(lambda m: f"<!-- output: {m[1]} -->\n```text\n{printed(m[1], capsys)}```", page)
        README.write_text(made, encoding="utf-8")
        return
    for command, text in blocks:
        assert text == printed(command, capsys), (
            f"{command}: run pytest tests/docs/test_readme.py --write-golden and read the change"
        )
