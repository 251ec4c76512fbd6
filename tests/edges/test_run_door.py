"""run.py: what it says to a wrong Python, and what it makes of an environment that is not whole."""

from __future__ import annotations

import importlib
import json
import os
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def door(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """The module run.py."""
    monkeypatch.syspath_prepend(str(ROOT))
    return importlib.import_module("run")


@pytest.fixture
def environment(door: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> ModuleType:
    """The module that keeps .venv, pointed at a small environment that is whole."""
    monkeypatch.syspath_prepend(str(ROOT / "scripts"))
    module = importlib.import_module("environment")
    for name, place in {
        "ROOT": tmp_path,
        "VENV": tmp_path / ".venv",
        "STAMP": tmp_path / ".venv/scanloom.json",
    }.items():
        monkeypatch.setattr(module, name, place)
    packages = tmp_path / ".venv" / ("Lib" if os.name == "nt" else "lib/python3.12") / "site-packages"
    for folder in (packages / "rich", module.python_of().parent):
        folder.mkdir(parents=True)
    module.python_of().touch()
    (tmp_path / "requirements.lock").write_bytes(b"rich==1 \\\n    --hash=sha256:00\n")
    stamp = {"place": str(tmp_path), "holds": ["rich"], "requirements.lock": module.digest("requirements.lock")}
    module.STAMP.write_text(json.dumps(stamp), encoding="utf-8")
    return module


@pytest.mark.parametrize(("version", "words"), [((3, 10, 1), "3.10.1 is too old"), ((3, 14, 0), "3.14.0 is too new")])
def test_wrong_python_is_told_what_to_install(
    door: ModuleType,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    version: tuple[int, ...],
    words: str,
) -> None:
    monkeypatch.setattr(sys, "version_info", version)
    monkeypatch.setattr(door, "other_python", lambda: None)
    assert door.main() == 2
    said = capsys.readouterr().err
    assert words in said
    assert "Scanloom runs on Python 3.11 to 3.13, and none of those is on PATH" in said


def test_a_name_on_path_that_does_not_start_is_passed_over(
    door: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    if os.name == "nt":
        pytest.skip("a launcher on Windows cannot be a text file")
    for name, code in {"python3.13": 127, "python3.12": 0, "python3.11": 0}.items():
        (tmp_path / name).write_text(f"#!/bin/sh\nexit {code}\n", encoding="ascii")
        (tmp_path / name).chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path))
    assert door.other_python() == ["python3.12"]


def test_whole_environment_is_used_at_once(environment: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(environment, "fill", lambda lock: pytest.fail("it was installed again"))
    assert environment.fault() is None
    assert environment.ensure("requirements.lock") == environment.python_of()


def test_line_ends_of_the_checkout_do_not_count(environment: ModuleType) -> None:
    before = environment.digest("requirements.lock")
    lock = environment.ROOT / "requirements.lock"
    lock.write_bytes(lock.read_bytes().replace(b"\n", b"\r\n"))
    assert environment.digest("requirements.lock") == before


def test_changed_lock_is_installed_over(environment: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(environment, "fill", lambda lock: Path("filled"))
    (environment.ROOT / "requirements.lock").write_bytes(b"rich==2\n")
    assert environment.ensure("requirements.lock") == Path("filled")
    assert environment.VENV.exists()


@pytest.mark.parametrize(
    ("harm", "words"),
    [
        (lambda e: e.STAMP.write_text('{"state": "making"}'), "was left unfinished"),
        (lambda e: e.STAMP.write_text('{"pla'), "was left unfinished"),
        (lambda e: e.python_of().unlink(), "has lost its Python"),
        (lambda e: next(e.VENV.rglob("rich")).rmdir(), "has lost rich"),
        (
            lambda e: e.STAMP.write_text(e.STAMP.read_text().replace('"place": "', '"place": "/elsewhere')),
            "another folder",
        ),
    ],
)
def test_environment_that_is_not_whole_is_made_anew(
    environment: ModuleType,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    harm: object,
    words: str,
) -> None:
    monkeypatch.setattr(environment, "fill", lambda lock: environment.VENV.exists())
    assert callable(harm)
    harm(environment)
    assert environment.ensure("requirements.lock") is False, "the old one should have been taken away"
    said = capsys.readouterr().out
    assert words in said
    assert "making it anew" in said


@pytest.mark.parametrize(
    ("pip", "words"),
    [
        (
            "x NewConnectionError('Failed to establish a new connection: [Errno 111]')",
            "the package index cannot be reached",
        ),
        ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM", "a package is not the one requirements.lock names"),
        ("ERROR: No matching distribution found for rich==1", "no ready-made wheel for this Python and machine"),
        ("ERROR: Could not install: [Errno 13] Permission denied: 'x'", "no permission to write"),
        ("ERROR: [Errno 28] No space left on device", "the disk is full"),
        ("ERROR: something new", "pip could not install requirements.lock"),
    ],
)
def test_pip_is_put_in_plain_words_with_its_own_below(environment: ModuleType, pip: str, words: str) -> None:
    said = environment.explain(f"Collecting rich==1\n{pip}\n", "requirements.lock")
    assert said.startswith(words) or words in said.partition("\n")[0]
    assert "pip said:\n  " in said


def test_without_ensurepip_the_package_to_install_is_named(
    environment: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "ensurepip", None)
    with pytest.raises(environment.Trouble, match=rf"sudo apt install python3\.{sys.version_info[1]}-venv"):
        environment.make()
    assert not environment.VENV.exists()
