"""Run benchmarks/ and print ratios, for bare seconds say little about another machine.

Columns: `yardsticks` counts how often a fixed piece of plain Python runs in that time, `last run` compares with the
run before on this machine, `budget` with what the benchmark allows itself (`benchmark.extra_info["budget_s"]`).
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / "benchmarks"
LAST = ROOT / ".benchmarks" / "last.json"
NO_TEST = 5


def yardstick() -> float:
    """Seconds that a fixed piece of plain Python takes here, the best of several."""
    best = float("inf")
    for _ in range(9):
        began = time.perf_counter()
        sum(number * number % 7 for number in range(100_000))
        best = min(best, time.perf_counter() - began)
    return best


def measured(file: Path) -> list[dict[str, Any]] | None:
    """Run every benchmark; None when one of them failed."""
    command = [sys.executable, "-m", "pytest", FOLDER, "-q", "--benchmark-only", "--benchmark-quiet"]
    command += ["-o", "python_files=bench_*.py test_*.py", f"--benchmark-json={file}"]
    done = subprocess.run(command, cwd=ROOT, stdin=subprocess.DEVNULL, check=False)
    if done.returncode == NO_TEST:
        return []
    return None if done.returncode else json.loads(file.read_text(encoding="utf-8"))["benchmarks"]


def table(rows: list[dict[str, Any]], unit_s: float, last: dict[str, float]) -> str:
    """One line for each benchmark, slowest first."""
    lines = [f"{'median':>12} {'yardsticks':>11} {'last run':>9} {'budget':>7}  benchmark"]
    for row in sorted(rows, key=lambda row: -row["stats"]["median"]):
        median_s = row["stats"]["median"]
        budget_s = row["extra_info"].get("budget_s")
        before = f"{median_s / last[row['fullname']]:8.2f}x" if row["fullname"] in last else f"{'-':>9}"
        budget = f"{median_s / budget_s:6.0%}" if budget_s else "-"
        times = row["extra_info"].get("times_ngspice")
        beside = f", {times} times as fast per pixel as ngspice" if times else ""
        lines.append(
            f"{median_s * 1e3:9.3f} ms {median_s / unit_s:10.3f}x {before} {budget:>7}  {row['fullname']}{beside}"
        )
    return "\n".join(lines)


def main() -> int:
    """Measure, print, and keep the medians for the next run."""
    if not any([*FOLDER.rglob("bench_*.py"), *FOLDER.rglob("test_*.py")]):
        print("benchmarks/ holds no benchmark yet: nothing to measure.")
        return 0
    with tempfile.TemporaryDirectory() as folder:
        rows = measured(Path(folder) / "run.json")
    if not rows:
        print("no benchmark ran" if rows == [] else "a benchmark failed, see above", file=sys.stderr)
        return 1
    last = json.loads(LAST.read_text(encoding="utf-8")) if LAST.exists() else {}
    unit_s = yardstick()
    print(f"\none yardstick is {unit_s * 1e3:.2f} ms here\n{table(rows, unit_s, last)}")
    LAST.parent.mkdir(exist_ok=True)
    medians = last | {row["fullname"]: row["stats"]["median"] for row in rows}
    LAST.write_text(json.dumps(medians, indent=1) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
