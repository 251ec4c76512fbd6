"""What tests of the board review share: sets of files reviewed in memory, their pictures read once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import cache, lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

from demo_board import sets
from demo_board.board import good_board
from demo_board.nouns import Board
from scanloom.basis.outcome import Outcome
from scanloom.basis.verdict import Verdict
from scanloom.dossier.plan import Plan
from scanloom.dossier.reading import Reading
from scanloom.formats import board_files
from scanloom.formats.board_files import read_board_files
from scanloom.formats.board_files.gerber import read_gerber
from scanloom.formats.dossier_file import read_dossier
from scanloom.stages.board import BoardReview, judge_board
from scanloom.stages.board.model import BoardFiles

ROOT = Path(__file__).resolve().parents[2]
DOSSIER = ROOT / "examples" / "deep-station" / "final.toml"
_once = lru_cache(maxsize=64)(read_gerber)
board_files.read_gerber = _once  # type: ignore[attr-defined]  # most sets share most pictures


@cache
def good() -> tuple[Board, dict[str, bytes]]:
    """The demo board and its good set."""
    board = good_board()
    return board, dict(sets.files(board))


@cache
def plan_of(path: Path = DOSSIER) -> Plan:
    """A dossier, read once."""
    return read_dossier(path).plan


@contextmanager
def folder_of(files: Mapping[str, bytes]) -> Iterator[Path]:
    """A folder with files, gone afterwards."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        for file, data in files.items():
            folder.joinpath(file).parent.mkdir(parents=True, exist_ok=True)
            folder.joinpath(file).write_bytes(data)
        yield folder


def read_set(files: Mapping[str, bytes], said: Mapping[str, str] | None = None) -> BoardFiles:
    """Files read from a folder."""
    with folder_of(files) as folder:
        return read_board_files(folder, "set", said)


def reviewed(files: Mapping[str, bytes], plan: Plan | None = None) -> Outcome[BoardReview]:
    """A set reviewed against the demo's dossier."""
    return judge_board(Reading(plan if plan is not None else plan_of()), read_set(files))


def failing(outcome: Outcome[BoardReview]) -> list[Verdict]:
    """What fails with weight."""
    return [v for v in outcome.verdicts if v.judged == "fails" and v.weight != "note"]
