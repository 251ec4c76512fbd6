"""Write requirements.lock and requirements-dev.lock from pyproject.toml.

Usage: python3 scripts/lock.py [--upgrade]   (needs uv: `python3 -m pip install uv` in any environment)

The locks hold names, versions and hashes for every platform and Python that has ready-made wheels, and no address:
where packages come from is the business of whoever installs. Where an old Python needs an older release, all get it
(`--fork-strategy fewest`), so that the same numbers come out everywhere.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
HEAD = "# Made by scripts/lock.py from pyproject.toml; change that, then run it again.\n"


def lock(name: str, *extra: str) -> None:
    """Resolve one set of requirements for every supported Python and platform."""
    uv = [shutil.which("uv")] if shutil.which("uv") else [sys.executable, "-m", "uv"]
    command = [
        *uv,
        *("pip", "compile", "pyproject.toml", "--universal", "--python-version", "3.11", "--fork-strategy", "fewest"),
        *("--generate-hashes", "--no-header", "--no-config", "--quiet", "--output-file", name, *extra),
    ]
    done = subprocess.run(command, cwd=ROOT, stdout=subprocess.DEVNULL, check=False)
    if done.returncode:
        sys.exit(f"{name}: uv could not resolve it; see above (no uv? `python3 -m pip install uv`)")
    path = ROOT / name
    path.write_text(HEAD + path.read_text(encoding="utf-8").removeprefix(HEAD), encoding="utf-8", newline="\n")


def main() -> None:
    """Write both locks, the second one resting on the first so that shared versions agree."""
    upgrade = ["--upgrade"] if "--upgrade" in sys.argv[1:] else []
    lock("requirements.lock", *upgrade)
    lock("requirements-dev.lock", "--group", "dev", "--constraints", "requirements.lock", *upgrade)


if __name__ == "__main__":
    main()
