"""The checkout's own `.venv`: made, filled from a hash lock, stamped, and rebuilt when it is not whole.

The stamp `.venv/scanloom.json` is written first as "making" and last with what was installed, so that a run killed
half-way is seen by the next one. A second run reads the stamp, compares hashes and starts no other process.
"""

from __future__ import annotations

import errno
import hashlib
import importlib.util
import json
import os
import re
import shlex
import shutil
import subprocess
import sys
import time
from pathlib import Path

from run import NEWEST, OLDEST  # the door stands on the path, for it was the one to start this

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
STAMP = VENV / "scanloom.json"
RUNTIME, DEV = "requirements.lock", "requirements-dev.lock"  # the second holds the first; a test says so

UNREACHABLE = re.compile(
    r"NewConnectionError|NameResolutionError|ConnectTimeout|ReadTimeout|ProxyError|SSLError|CERTIFICATE_VERIFY_FAILED"
    r"|Max retries exceeded|Temporary failure in name resolution|getaddrinfo|Network is unreachable|Connection refused",
)


class Trouble(Exception):
    """Something the person at the keyboard has to mend; the text says what and how."""


def shown(path: Path) -> str:
    """Give a path as one would type it here: relative where that is shorter, quoted where it needs it."""
    try:
        near = os.path.relpath(path)
    except ValueError:  # another drive on Windows
        near = str(path)
    text = near if len(near) < len(str(path)) else str(path)
    return f'"{text}"' if " " in text else text


def digest(lock: str) -> str:
    """Fingerprint of a lock file, the same whatever line ends the checkout has."""
    return hashlib.sha256((ROOT / lock).read_bytes().replace(b"\r\n", b"\n")).hexdigest()


def python_of() -> Path:
    """Where the environment keeps its Python."""
    return VENV / "Scripts" / "python.exe" if os.name == "nt" else VENV / "bin" / "python"


def launcher(python: Path) -> Path:
    """Where the `scanloom` command lies beside that Python."""
    return python.with_name("scanloom.cmd" if os.name == "nt" else "scanloom")


def packages() -> Path | None:
    """Where the environment keeps its packages, if it has such a place."""
    places = [VENV / "Lib" / "site-packages"] if os.name == "nt" else [*VENV.glob("lib/python3.*/site-packages")]
    return next((place for place in places if place.is_dir()), None)


def stamp() -> dict[str, object]:
    """Read the stamp; an unreadable one counts as that of an unfinished run."""
    try:
        read = json.loads(STAMP.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {"state": "making"} if STAMP.exists() else {}
    return read if isinstance(read, dict) else {"state": "making"}


def fault() -> str | None:
    """Say why the environment that is there cannot be used, or nothing if it can."""
    was = stamp()
    place = packages()
    if was.get("state") == "making":
        return "was left unfinished"
    if not python_of().exists() or place is None:
        return "has lost its Python"
    if not was:
        return foreign()
    if was.get("place") != str(ROOT):
        return "was made for another folder"
    lost = set(was.get("holds", [])) - {entry.name for entry in place.iterdir()}
    return f"has lost {min(lost)}" if lost else None


def foreign() -> str | None:
    """Judge an environment that carries no stamp: one made by hand is taken over if its Python and pip will do."""
    ask = f"import sys, pip; sys.exit(not {OLDEST} <= sys.version_info[:2] <= {NEWEST})"
    done = subprocess.run([python_of(), "-I", "-c", ask], capture_output=True, check=False)
    return "cannot be used (another Python, or no pip)" if done.returncode else None


def ensure(lock: str) -> Path:
    """Make the environment hold exactly what a lock says, quickly if it already does.

    Raises
    ------
    Trouble
        If something is missing that only the person can mend.
    """
    try:
        wrong = fault() if VENV.exists() else None
        if wrong is None and VENV.exists() and digest(lock) == stamp().get(lock):
            return python_of()
        if wrong:
            print(f".venv {wrong}: making it anew.", flush=True)
            clear()
        return fill(lock)
    except OSError as error:
        if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
            raise Trouble(
                f"no permission to write {error.filename or VENV}: {error.strerror}; "
                "put the checkout into a folder of your own (or mend its owner), close what uses .venv, and run again"
            ) from None
        if error.errno in (errno.ENOSPC, errno.EDQUOT):
            raise Trouble(f"the disk is full ({error.filename or VENV}); .venv needs about 400 MB") from None
        raise


def fill(lock: str) -> Path:
    """Make what is missing, install the lock, put `src` on the path, lay the launcher, stamp it all."""
    fresh = not VENV.exists()
    VENV.mkdir(exist_ok=True)
    STAMP.write_text('{"state": "making"}\n', encoding="utf-8")
    if fresh:
        make()
    python = python_of()
    install(python, lock)
    place = packages()
    if place is None:
        raise Trouble(f"{VENV} has no site-packages; delete it and run again")
    # relative and in ASCII: a folder name outside the locale's letters would not survive in a .pth file
    (place / "scanloom.pth").write_text(os.path.relpath(ROOT / "src", place) + "\n", encoding="ascii")
    lay_launcher(python)
    done: dict[str, object] = {name: digest(name) for name in ({RUNTIME, DEV} if lock == DEV else {RUNTIME})}
    done |= {
        "place": str(ROOT),
        "holds": sorted(entry.name for entry in place.iterdir() if entry.name != "__pycache__"),
    }
    STAMP.write_text(json.dumps(done, indent=1) + "\n", encoding="utf-8")
    return python


def make() -> None:
    """Make an empty environment with the Python that runs this file (or the one behind it)."""
    version = ".".join(map(str, sys.version_info[:3]))
    if importlib.util.find_spec("venv") is None or importlib.util.find_spec("ensurepip") is None:
        clear()
        raise Trouble(
            f"this Python {version} comes without the parts that make an environment (venv, ensurepip). "
            f"Debian, Ubuntu: sudo apt install python3.{sys.version_info[1]}-venv; then run again"
        )
    # run from inside an environment, its base Python makes the new one
    base = getattr(sys, "_base_executable", None) or sys.executable
    began = time.perf_counter()
    print(f"Making .venv with Python {version} ...", end=" ", flush=True)
    done = subprocess.run([base, "-I", "-m", "venv", VENV], capture_output=True, text=True, check=False)
    if done.returncode:
        print("failed")
        clear()
        said = (done.stdout + done.stderr).strip()
        raise Trouble(f"`{base} -m venv` could not make {VENV}. It said:\n{tail(said)}")
    print(f"{time.perf_counter() - began:.1f} s", flush=True)


def clear() -> None:
    """Take away whatever stands where the environment goes; a link is cut, not followed."""
    if VENV.is_symlink() or VENV.is_file():
        VENV.unlink()
    else:
        shutil.rmtree(VENV)


def install(python: Path, lock: str) -> None:
    """Install a lock's wheels, each checked against its hash; no package is ever built here."""
    command = [python, "-I", "-u", "-m", "pip", "install", "--requirement", ROOT / lock]
    command += ["--require-hashes", "--only-binary", ":all:", "--no-input", "--disable-pip-version-check"]
    command += ["--progress-bar", "off", "--retries", "2", "--no-compile"]  # Python compiles what it uses: 4 s saved
    began = time.perf_counter()
    live = sys.stdout.isatty()
    print(f"Installing {lock} into .venv ...", end=" ", flush=True)
    said: list[str] = []
    got = 0
    surroundings = os.environ | {"PIP_USER": "0", "PIP_REQUIRE_VIRTUALENV": "0", "PYTHONIOENCODING": "utf-8"}
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL, env=surroundings
    ) as pip:
        for raw in pip.stdout or ():
            line = raw.decode("utf-8", "replace").rstrip()
            said.append(line)
            if line.startswith(("Collecting ", "Processing ")):
                got += 1
                if live:
                    print(f"\r\033[KInstalling {lock} into .venv ... {got} of {count(lock)} ", end="", flush=True)
    if live:
        print(f"\r\033[KInstalling {lock} into .venv ...", end=" ")
    if pip.returncode:
        print("failed")
        raise Trouble(explain("\n".join(said), lock))
    print(f"{got or 'nothing'} new, {time.perf_counter() - began:.1f} s", flush=True)


def count(lock: str) -> int:
    """How many packages a lock names."""
    return len(re.findall(r"^[A-Za-z0-9._-]+==", (ROOT / lock).read_text(encoding="utf-8"), re.MULTILINE))


def explain(said: str, lock: str) -> str:
    """Turn pip's many words into what happened and what to do, pip's own last words below."""
    below = f"\npip said:\n{tail(said)}"
    if "DO NOT MATCH THE HASHES" in said:
        return f"a package is not the one {lock} names (its hash differs): do not use this package index.{below}"
    if UNREACHABLE.search(said):
        reason = re.search(r"Failed to [^'\"]+|[^'\" (]+ timed out|CERTIFICATE_VERIFY_FAILED[^'\")]*", said)
        return (
            "the package index cannot be reached: no network, or a proxy or firewall in between; run again when it "
            f"answers.\npip said:\n{tail(reason[0] if reason else said)}"
        )
    if "No space left" in said:
        return f"the disk is full; .venv needs about 400 MB.{below}"
    if "Permission denied" in said or "Errno 13" in said:
        return f"no permission to write {VENV}; put the checkout into a folder of your own and run again.{below}"
    if "No matching distribution" in said or "Could not find a version" in said:
        return (
            "the package index has no ready-made wheel for this Python and machine "
            f"({sys.platform}, Python {sys.version_info[0]}.{sys.version_info[1]}), or holds an older copy.{below}"
        )
    return f"pip could not install {lock}.{below}"


def tail(said: str, lines: int = 6) -> str:
    """Keep what matters of a program's words: from its first error on if it names one, else the end."""
    kept = [line for line in said.splitlines() if line.strip()]
    first = next((place for place, line in enumerate(kept) if line.lower().startswith("error")), None)
    chosen = kept[-lines:] if first is None else kept[first : first + lines]
    return "\n".join(f"  {line[:200]}" for line in chosen)


def lay_launcher(python: Path) -> None:
    """Lay the `scanloom` command: the module, run by this environment's Python."""
    path = launcher(python)
    if os.name == "nt":
        path.write_text('@"%~dp0python.exe" -m scanloom %*\r\n', encoding="ascii", newline="")
        return
    path.write_text(f'#!/bin/sh\nexec {shlex.quote(str(python))} -m scanloom "$@"\n', encoding="utf-8")
    path.chmod(0o755)
