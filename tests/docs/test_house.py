"""Rules of the house that no linter knows: sizes, folders, locks, the door, and what a light command may load."""

from __future__ import annotations

import ast
import json
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "scanloom"
MOST_LINES = 400
HEAVY = {
    "multipart",
    "python_multipart",
    "numpy",
    "scipy",
    "numba",
    "starlette",
    "uvicorn",
    "jinja2",
    "PIL",
    "shapely",
    "matplotlib",
}


def test_source_files_stay_short() -> None:
    paths = sorted(SOURCE.rglob("*.py"))
    assert paths
    sizes = {path.relative_to(ROOT).as_posix(): len(path.read_text(encoding="utf-8").splitlines()) for path in paths}
    long = [
        f"{name}: {lines} lines; split it by idea at {MOST_LINES}"
        for name, lines in sizes.items()
        if lines > MOST_LINES
    ]
    assert not long, "\n".join(long)


def test_no_folder_for_leftovers() -> None:
    found = [path for name in ("utils", "utils.py") for path in ROOT.joinpath("src").rglob(name)]
    assert not found, "a helper lives with the noun it helps"


def loaded_by(*arguments: str) -> set[str]:
    """Modules in memory at the end of a command, run as its users run it."""
    run = (
        "import json, runpy, sys\n"
        "sys.argv = ['scanloom', *sys.argv[1:]]\n"
        "try:\n    runpy.run_module('scanloom', run_name='__main__', alter_sys=True)\n"
        "except SystemExit as left:\n    code = left.code\n"
        "sys.stderr.write('\\n' + json.dumps([code, sorted(sys.modules)]))\n"
    )
    command = [sys.executable, "-c", run, *arguments]
    surroundings = os.environ | {"PYTHONPATH": str(ROOT / "src"), "PYTHONIOENCODING": "utf-8"}
    done = subprocess.run(command, capture_output=True, cwd=ROOT, env=surroundings, check=False, encoding="utf-8")
    assert done.returncode == 0, done.stderr
    code, modules = json.loads(done.stderr.splitlines()[-1])
    assert code in (0, 1, 2, None), done.stderr
    return set(modules)


def heavy(modules: set[str]) -> set[str]:
    """Those that cost a user time: big libraries and compiled kernels."""
    return {name for name in modules if name.partition(".")[0] in HEAVY or name.endswith("_kernel")}


needs_cli = pytest.mark.skipif(not any((SOURCE / "cli").glob("*.py")), reason="scanloom.cli does not exist yet")


@needs_cli
@pytest.mark.parametrize("arguments", [["--help"], ["check", "--help"], ["--version"], ["levels", "--parts", "510,1k"]])
def test_light_commands_load_nothing_heavy(arguments: list[str]) -> None:
    assert heavy(loaded_by(*arguments)) == set()


@needs_cli
def test_check_loads_no_kernel() -> None:
    """A survey of the demo may reach for numpy, never for what takes a second to wake."""
    modules = heavy(loaded_by("check", "examples/deep-station/final.toml"))
    assert {name for name in modules if name.partition(".")[0] != "numpy"} == set()


@needs_cli
@pytest.mark.parametrize("arguments", [["open", "--help"], ["report", "--help"], ["open", "no-such-dossier.toml"]])
def test_help_of_page_and_report_loads_neither_server_nor_templates(arguments: list[str]) -> None:
    assert heavy(loaded_by(*arguments)) == set()


def test_heavy_names_what_is_heavy() -> None:
    assert heavy({"json", "numpy.linalg", "scanloom.stages.board._kernel", "scanloom"}) == {
        "numpy.linalg",
        "scanloom.stages.board._kernel",
    }


def locked(name: str) -> dict[str, tuple[str, list[str]]]:
    """Version and hashes of each package in a lock."""
    text = (ROOT / name).read_text(encoding="utf-8")
    rows = re.findall(r"^([a-z0-9._-]+)==(\S+)[^\n]*\n((?: +--hash=\S+[^\n]*\n?)*)", text, re.MULTILINE)
    return {package: (version, re.findall(r"sha256:([0-9a-f]{64})\b", hashes)) for package, version, hashes in rows}


def wanted(names: list[str]) -> set[str]:
    """Package names of a list of requirements."""
    return {re.split(r"[^A-Za-z0-9._-]", name)[0].lower() for name in names}


@pytest.mark.parametrize("name", ["requirements.lock", "requirements-dev.lock"])
def test_locks_hold_hashes_and_no_address(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    assert not re.search(r"://|^-|--index|--find-links", text, re.MULTILINE)
    assert locked(name)
    assert [package for package, (_, hashes) in locked(name).items() if not hashes] == []


def test_locks_hold_what_the_project_asks_for() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    runtime, dev = locked("requirements.lock"), locked("requirements-dev.lock")
    assert wanted(project["project"]["dependencies"]) <= runtime.keys()
    assert wanted(project["dependency-groups"]["dev"]) <= dev.keys()
    assert {name: row[0] for name, row in runtime.items()}.items() <= {
        name: row[0] for name, row in dev.items()
    }.items()


def test_any_python_can_read_the_door() -> None:
    """None of what Python 2.7 and 3.6 stumble over: newer syntax, f-strings, annotations, letters past ASCII."""
    raw = (ROOT / "run.py").read_bytes()
    assert raw.isascii()
    tree = ast.parse(raw, feature_version=(3, 4))
    newer = [
        node for node in ast.walk(tree) if isinstance(node, ast.JoinedStr | ast.AnnAssign | ast.Starred | ast.Nonlocal)
    ]
    newer += [
        node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef) and (node.returns or node.args.kwonlyargs)
    ]
    newer += [node for node in ast.walk(tree) if isinstance(node, ast.arg) and node.annotation]
    assert newer == []


def test_door_and_project_agree_on_python() -> None:
    bounds = re.search(
        r"^OLDEST, NEWEST = \(3, (\d+)\), \(3, (\d+)\)", (ROOT / "run.py").read_text(encoding="utf-8"), re.M
    )
    assert bounds
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["requires-python"] == f">=3.{bounds[1]},<3.{int(bounds[2]) + 1}"
