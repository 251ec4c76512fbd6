"""The demo: two dossiers of one invented play, surveyed one after the other."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from environment import ROOT, launcher, shown

FOLDER = ROOT / "examples" / "deep-station"
ACTS = (
    (
        "first-evening.toml",
        "The dossier after the first evening, as somebody might type it in. Its faults are the point.",
    ),
    ("final.toml", "The same play some weeks later: measured, mended, decided."),
)


def show(python: Path) -> int:
    """Survey both dossiers and say what to type next; only a survey that could not be made counts as failure."""
    worst = 0
    for number, (name, words) in enumerate(ACTS, 1):
        print(f"\n{'=' * 100}\n{number} of {len(ACTS)}: {shown(FOLDER / name)}\n{words}\n{'=' * 100}\n", flush=True)
        worst = max(worst, survey(python, FOLDER / name))
    command = shown(launcher(python))
    mine = shown(Path("mine.toml").absolute())
    copy = "copy" if os.name == "nt" else "cp"
    print(f"\n{'=' * 100}\nNext, type:\n")
    print(f"  {command} --help")
    print(f"  {copy} {shown(FOLDER / ACTS[0][0])} {mine}")
    print(f"  {command} check {mine}        # then mend a line of it, and check again")
    if worst:
        print("\nA survey above could not be made: see its message.", file=sys.stderr)
    return worst


def survey(python: Path, dossier: Path) -> int:
    """Run `scanloom check`; 0 and 1 are both answers (1: something stops), anything else and a crash are failures."""
    done = subprocess.run(
        [python, "-m", "scanloom", "check", dossier], stdin=subprocess.DEVNULL, stderr=subprocess.PIPE, check=False
    )
    said = done.stderr.decode("utf-8", "replace")
    sys.stderr.write(said)
    crashed = "Traceback (most recent call last)" in said or "No module named" in said  # Python leaves with 1 then
    return 2 if crashed else done.returncode if done.returncode not in (0, 1) else 0
