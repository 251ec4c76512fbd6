"""Write sets of the demo board into a folder.

Usage: python scripts/demo_board SET [SET ...] --to DIR     (python scripts/demo_board --list names them)
A set is a variant (`plain` is the good one), a mistake, a state of the milled prototype, a size for benchmarks, or
`mutations`. With several sets each gets a folder of its own; beside a set with something wrong lies its record as JSON.
"""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import asdict
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from demo_board import mutations, sets, sizes, toolpaths
from demo_board.board import good_board
from demo_board.mistakes import MISTAKES
from demo_board.planting import carried_out
from demo_board.variants import VARIANTS

SIZES = {"large-board": sizes.large, "medium-board": sizes.medium}
PLANTED = {mistake.name: mistake for mistake in MISTAKES}


def record(path: Path, facts: dict[str, object]) -> None:
    """What is wrong with a set, beside it."""
    path.write_text(json.dumps(facts, indent=1, sort_keys=True) + "\n", encoding="utf-8")


def write(name: str, folder: Path) -> None:
    """One set, or all mutations."""
    good = good_board()
    if name in VARIANTS:
        board, dialects = VARIANTS[name]()
        sets.save(sets.files(board, dialects), folder)
    elif name in SIZES:
        sets.save(sets.files(SIZES[name]()), folder)
    elif name in toolpaths.MILLED:
        state, mirrored, wrong = toolpaths.MILLED[name]
        sets.save(toolpaths.milled(state, mirrored), folder)
        if wrong:
            record(folder.with_suffix(".json"), {"name": name, "planted": wrong, "code": "board.side-mirrored"})
    elif name in PLANTED:
        planted = carried_out(PLANTED[name], good, sets.files(good))
        sets.save(planted.files, folder)
        mistake = planted.mistake
        facts = {key: getattr(mistake, key) for key in ("name", "planted", "code", "or_else", "follows", "roles")}
        record(folder.with_suffix(".json"), facts | {"where": [asdict(where) for where in planted.where]})
    else:
        files = sets.files(good)
        for one in mutations.mutations(good):
            own = folder / f"{one.number:03}"
            sets.save(one.files(files), own)
            facts = {key: getattr(one, key) for key in ("number", "kind", "done", "changes_truth", "codes")}
            record(own.with_suffix(".json"), facts | {"where": [asdict(where) for where in one.where]})


def main(arguments: list[str]) -> int:
    """Write what is asked for."""
    known = [*VARIANTS, *toolpaths.MILLED, *PLANTED, *SIZES, "mutations"]
    ask = argparse.ArgumentParser(description="Write sets of fabrication files of an invented board.")
    ask.add_argument("sets", nargs="*", metavar="SET", help="names as --list gives them, or all")
    ask.add_argument("--to", type=Path, metavar="DIR", help="folder to write into")
    ask.add_argument("--list", action="store_true", help="name all sets")
    given = ask.parse_args(arguments)
    if given.list:
        print("\n".join(known))
        return 0
    wanted = known if given.sets == ["all"] else given.sets
    unknown = [name for name in wanted if name not in known]
    if unknown or not wanted or given.to is None:
        print(
            f"demo_board: {', '.join(unknown) or 'no set'}; sets are named by --list, and --to says where",
            file=sys.stderr,
        )
        return 2
    for name in wanted:
        write(name, given.to if len(wanted) == 1 else given.to / name)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
