"""What every test may use: hypothesis profiles and programs from outside Python."""

from __future__ import annotations

import os
import shutil
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import settings

# "ci" is what everybody runs: the same examples each time. "wide" looks further, by hand: HYPOTHESIS_PROFILE=wide.
settings.register_profile("ci", derandomize=True, print_blob=True, deadline=None, max_examples=60)
settings.register_profile("wide", print_blob=True, deadline=None, max_examples=2000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci"))

PROJECT = Path(__file__).resolve().parent.parent / "pyproject.toml"


def path_of(name: str) -> str:
    """Path of a program; without it the test is skipped and says why, but under CI=true it fails."""
    tools = tomllib.loads(PROJECT.read_text(encoding="utf-8"))["tool"]["scanloom"]["system-tools"]
    if name not in tools:
        pytest.fail(
            f"{name} is not in [tool.scanloom.system-tools] of pyproject.toml; give it a row there", pytrace=False
        )
    path = shutil.which(name)
    if path is None:
        reason = f"{name} is not installed (Debian, Ubuntu: apt install {tools[name]['debian']})"
        if os.environ.get("CI") == "true":
            pytest.fail(f"{reason}, and CI=true allows no skip", pytrace=False)
        pytest.skip(reason)
    return path


def pytest_addoption(parser: pytest.Parser) -> None:
    """Rewriting golden text is a choice, made by hand and read line by line."""
    parser.addoption("--write-golden", action="store_true", help="write golden text and the README's output anew")


@pytest.fixture(scope="session")
def require_tool() -> Callable[[str], str]:
    """Function that gives a program's path: `require_tool("ngspice")`."""
    return path_of


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Honour `@pytest.mark.needs_tool("ngspice")`."""
    for mark in item.iter_markers("needs_tool"):
        path_of(*mark.args)
