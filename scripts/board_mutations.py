"""Review the demo board with 200 random single mutations: how many that change the truth are found, and at the right place.

Usage: python scripts/board_mutations.py [COUNT] [SEED]   (the tests run the first 25 of seed 2031)
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from pathlib import Path

from demo_board import sets
from demo_board.board import good_board
from demo_board.mutations import mutations
from demo_board.told import WHOLE_FILE, told_there
from scanloom.dossier.reading import Reading
from scanloom.formats.board_files import read_board_files
from scanloom.formats.dossier_file import read_dossier
from scanloom.stages.board import judge_board

ROOT = Path(__file__).resolve().parent.parent


def main(count: int, seed: int) -> int:
    """Review each; list what was missed, and what was told of a change that changes nothing."""
    plan = read_dossier(ROOT / "examples" / "deep-station" / "final.toml").plan
    board = good_board()
    good = sets.files(board)
    total, found, false, astray = Counter[str](), Counter[str](), Counter[str](), Counter[str]()
    for one in mutations(board, count, seed):
        with tempfile.TemporaryDirectory() as name:
            sets.save(one.files(good), Path(name))
            outcome = judge_board(Reading(plan), read_board_files(Path(name)))
        told = [v for v in outcome.verdicts if v.judged == "fails" and v.weight != "note"]
        codes = sorted({v.code for v in told})
        if one.changes_truth:
            total[one.kind] += 1
            found[one.kind] += bool(codes)
            elsewhere = [v for v in told if not told_there(board, one, v)]
            astray[one.kind] += bool(elsewhere) if one.kind not in WHOLE_FILE else len(elsewhere) == len(told) > 0
            for v in elsewhere if one.kind not in WHOLE_FILE or len(elsewhere) == len(told) else ():
                print(f"{one.number:4d} {one.kind}: {one.done}; told elsewhere: {v.code} {v.place}")
        else:
            false[one.kind] += bool(codes)
        if bool(codes) != one.changes_truth:
            print(f"{one.number:4d} {one.kind}: {one.done}; told: {', '.join(codes) or 'nothing'}")
    for kind in sorted(total):
        print(
            f"{kind:14} {found[kind]:4d} of {total[kind]:4d} found, {astray[kind]} at the wrong place, {false[kind]} false alarms"
        )
    share = sum(found.values()) / max(1, sum(total.values()))
    print(
        f"{sum(found.values())} of {sum(total.values())} found ({share:.1%}), {sum(astray.values())} at the wrong place, "
        f"{sum(false.values())} false alarms"
    )
    return 0 if share >= 0.95 and not sum(false.values()) and not sum(astray.values()) else 1


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:3]]
    sys.exit(main(*given, *(200, 2031)[len(given) :]))
