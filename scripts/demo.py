"""The demo: two dossiers of one invented play, surveyed one after the other; then the report, and the page."""

from __future__ import annotations

import os
import shutil
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


COPIES = ROOT / "demo"
"""Where the page may write: copies of both dossiers, and the report."""


def show(python: Path, *, window: bool) -> int:
    """Survey both dossiers, write the report, open the page; only what could not be made counts as failure."""
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
    worst = max(worst, report(python))
    if worst:
        print("\nA survey above could not be made: see its message.", file=sys.stderr)
    first = COPIES / ACTS[0][0]
    if not window:
        print(f"\nTo see the plan as a page: {command} open {shown(first)}")
        return worst
    print("\nThe page of the first evening; what you edit there goes into the copy.", flush=True)
    return max(worst, subprocess.call([python, "-m", "scanloom", "open", first], stdin=subprocess.DEVNULL))


def report(python: Path) -> int:
    """Write the report of the second dossier beside copies of both; copies that are there already are kept."""
    COPIES.mkdir(exist_ok=True)
    for name, _ in ACTS:
        if not (COPIES / name).exists():
            shutil.copy(FOLDER / name, COPIES / name)
    print(flush=True)
    return subprocess.call([python, "-m", "scanloom", "report", COPIES / ACTS[1][0]], stdin=subprocess.DEVNULL)


def survey(python: Path, dossier: Path) -> int:
    """Run `scanloom check`; 0 and 1 are both answers (1: something stops), anything else and a crash are failures."""
    done = subprocess.run(
        [python, "-m", "scanloom", "check", dossier], stdin=subprocess.DEVNULL, stderr=subprocess.PIPE, check=False
    )
    said = done.stderr.decode("utf-8", "replace")
    sys.stderr.write(said)
    crashed = "Traceback (most recent call last)" in said or "No module named" in said  # Python leaves with 1 then
    return 2 if crashed else done.returncode if done.returncode not in (0, 1) else 0
