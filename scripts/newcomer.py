"""The newcomer's path, timed: a wish becomes a list of plans, a starter dossier and its first survey.

Usage: python scripts/newcomer.py [--chip all] [--wish "6 displays: 2 colour, 4 green"] [--within 15]
Each command runs as somebody would type it, in a folder that is thrown away. It fails when a command does, when the
survey does not end with what is guessed, or when all three take longer than `--within` seconds.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
WISH = "6 displays: 2 colour, 4 green"
WITHIN_S = 15.0
CLOSING = "nothing rests on a measurement: do not order yet."


def typed(folder: Path, *words: str) -> tuple[int, str, float]:
    """Run one command and show it; its exit code, its output, and the seconds it took."""
    shown = " ".join(f"'{word}'" if " " in word else word for word in words)
    print(f"\n$ scanloom {shown}", flush=True)
    surroundings = os.environ | {"PYTHONPATH": str(ROOT / "src"), "PYTHONIOENCODING": "utf-8"}
    surroundings.setdefault("COLUMNS", "80")
    began = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "scanloom", *words],
        cwd=folder,
        env=surroundings,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        check=False,
    )
    seconds = time.perf_counter() - began
    said = done.stdout.decode("utf-8", "replace").rstrip()
    print(said, flush=True)
    return done.returncode, said, seconds


def main(arguments: list[str]) -> int:
    """Walk the path; 0 when it holds and was quick enough."""
    ask = argparse.ArgumentParser(description="The newcomer's path, timed: fit, new, check.")
    ask.add_argument("--chip", default="all", help="chip to look at, or all")
    ask.add_argument("--wish", default=WISH)
    ask.add_argument("--within", type=float, default=WITHIN_S, metavar="SECONDS")
    given = ask.parse_args(arguments)
    starter = "wifi240" if given.chip == "all" else given.chip
    path = {
        "fit": ("fit", given.wish, "--chip", given.chip, "--limit", "3"),
        "new": ("new", "mine.toml", "--wish", given.wish, "--chip", starter),
        "check": ("check", "mine.toml"),
    }
    taken: dict[str, float] = {}
    faults: list[str] = []
    with tempfile.TemporaryDirectory(prefix="newcomer-") as folder:
        for name, words in path.items():
            code, said, taken[name] = typed(Path(folder), *words)
            if code not in ((0,) if name == "new" else (0, 1)) or "Traceback" in said:
                faults.append(f"{name}: exit code {code}")
                break
    if not faults and not " ".join(said.split()).endswith(CLOSING):
        faults.append(f"check: the last line is not '... {CLOSING}'")
    total = sum(taken.values())
    if total > given.within:
        faults.append(f"too slow: {total:.1f} s, {given.within:.1f} s are allowed")
    print()
    for name, seconds in taken.items():
        print(f"{name:<8}{seconds:6.1f} s")
    print(f"{'in all':<8}{total:6.1f} s of {given.within:.1f} s", flush=True)
    for fault in faults:
        print(f"newcomer: {fault}", file=sys.stderr)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
