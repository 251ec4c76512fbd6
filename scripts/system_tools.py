"""Programs that the tests need and pip cannot bring, from the table [tool.scanloom.system-tools] in pyproject.toml."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def table() -> dict[str, dict[str, str]]:
    """Read which programs are needed, by which tests, and in which Debian package they are."""
    with (ROOT / "pyproject.toml").open("rb") as file:
        tools: dict[str, dict[str, str]] = tomllib.load(file)["tool"]["scanloom"]["system-tools"]
    return tools


def provide() -> list[str]:
    """Install what is missing where that is allowed, name the rest and what it costs, return their names."""
    tools = table()
    missing = [name for name in tools if shutil.which(name) is None]
    if missing and may_install():
        apt([tools[name]["debian"] for name in missing])
        missing = [name for name in missing if shutil.which(name) is None]
    for name in missing:
        row = tools[name]
        fate = "they fail, because CI=true" if os.environ.get("CI") == "true" else "they are skipped"
        print(f"{name} is not installed (Debian, Ubuntu: sudo apt install {row['debian']}).")
        print(f"  It is needed by {row['tests']}: {fate}.", flush=True)
    return missing


def may_install() -> bool:
    """Whether this is root on a machine with Debian's package manager."""
    return sys.platform == "linux" and os.geteuid() == 0 and shutil.which("apt-get") is not None


def apt(packages: list[str]) -> None:
    """Install Debian packages; when that fails, refresh the package lists once and try again."""
    print(f"Installing {', '.join(packages)} with apt-get ...", end=" ", flush=True)
    install = ["install", "--yes", "--no-install-recommends", *packages]
    done = apt_get(*install)
    if done.returncode:
        apt_get("update")
        done = apt_get(*install)
    print("failed" if done.returncode else "done", flush=True)
    if done.returncode:
        print("\n".join(f"  {line}" for line in done.stdout.strip().splitlines()[-5:]), flush=True)


def apt_get(*arguments: str) -> subprocess.CompletedProcess[str]:
    """Run apt-get so that it never asks and waits for another one to finish."""
    return subprocess.run(
        ["apt-get", "-o", "DPkg::Lock::Timeout=120", "--quiet", *arguments],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
        env=os.environ | {"DEBIAN_FRONTEND": "noninteractive", "LC_ALL": "C"},
        check=False,
    )
