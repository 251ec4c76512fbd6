"""Files that fit no map: read in another unit, with X and Y exchanged, or not what they are called."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from scanloom.basis.verdict import Place
from scanloom.stages.board.model import FileRole
from scanloom.stages.board.register import LEAST_SHARE, Registration, register
from scanloom.stages.board.sight import Sight

_FAR_SHARE = 0.3  # below this nothing of a file lies where it should
_LEAST_HOLES = 10
FACTORS = {
    25.4: "25.4 times too small, inches read as millimetres",
    1 / 25.4: "25.4 times too large, millimetres read as inches",
    2.54: "2.54 times too small, 0.0001 inch read as 0.001 mm",
    1 / 2.54: "2.54 times too large, 0.001 mm read as 0.0001 inch",
    10.0: "10 times too small, a digit of the number format is missing",
    0.1: "10 times too large, a digit of the number format is too many",
}
"""What a file's numbers must be multiplied by, and what that looks like. [1]"""
Facing = tuple[FileRole, NDArray[np.float64], Registration]


def judge_scale(sight: Sight, drill: FileRole, holes: NDArray[np.float64], facing: Sequence[Facing]) -> set[str]:
    """Tell files apart that meet the plated holes in no way as they are, and in another unit or order of axes do.

    Parameters
    ----------
    sight : Sight
        The board; keeps the verdicts.
    drill : FileRole
        The file of the plated holes.
    holes : ndarray of float, shape (holes, 2)
        Plated holes. [mm]
    facing : sequence of Facing
        Files, their places, and how they lie on the holes. [mm]

    Returns
    -------
    set of str
        Files that were told of; with the drill file among them nothing can be held against the holes.
    """
    drawn = {layer.role.file for layer in sight.files.of("copper") if layer.drawn}
    far = [
        (role, places) for role, places, fits in facing
        if role.side != "inner" and fits.reference_places >= _LEAST_HOLES
        and fits.share < _FAR_SHARE and (len(places) or role.file in drawn)
    ]  # fmt: skip
    if not far:
        return set()
    why = {role.file: _why(holes, places, sight.centre) for role, places in far}
    outer = [role for role, _, _ in facing if role.side != "inner"]
    if len(far) == len(outer) and len(outer) > 1:  # all agree against the holes
        ways = set(why.values())
        if len(ways) != 1 or "" in ways:
            return set()
        _tell(sight, drill, _why(far[0][1], holes, sight.centre), [drill, *outer], "the copper")
        return {drill.file}
    if not any(fits.share >= LEAST_SHARE for _, _, fits in facing):
        return set()
    for role, _ in far:
        _tell(sight, role, why[role.file], [role, drill], "the plated holes")
    return {role.file for role, _ in far}


def _why(target: NDArray[np.float64], places: NDArray[np.float64], centre: tuple[float, float]) -> str:
    """What makes places meet a target; empty where nothing does."""
    for factor, words in FACTORS.items():
        if register(target, places * factor, centre).share >= LEAST_SHARE:
            return f"is {words}"
    return "has X and Y exchanged" if register(target, places[:, ::-1], centre).share >= LEAST_SHARE else ""


def _tell(sight: Sight, role: FileRole, why: str, used: Sequence[FileRole], against: str) -> None:
    """One file that lies in no way where it should."""
    place = Place(role.file, f"{role.side} {role.role}".strip(), *sight.centre)
    if why:
        sight.verdict(
            "board.scale", f"board.files.{role.file}", "stop", f"{role.file} {why}.", state="fails", used=used,
            seen=f"so nearly all of it meets {against}, and as it is next to nothing", wanted="as it is", place=place,
            doubt="Export it again in millimetres, with a decimal point, from the same origin as the rest.",
        )  # fmt: skip
        return
    sight.verdict(
        "board.roles", f"board.files.{role.file}", "stop", f"{role.file} does not hold the {role.side} {role.role} of this board."
        if role.side else f"{role.file} is no {role.role} of this board.",
        state="fails", used=used, seen=f"next to nothing of it meets {against}, whichever way it is laid", wanted="nine in ten",
        place=place, doubt="Two files whose names were exchanged look so, and a file of another board.",
    )  # fmt: skip
