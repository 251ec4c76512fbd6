"""What a review of the board gives back beside its verdicts."""

from __future__ import annotations

from collections.abc import Mapping

from scanloom.basis.record import record
from scanloom.stages.board.built import BuiltChannel
from scanloom.stages.board.built_syncs import BuiltSync
from scanloom.stages.board.lane_paths import LanePath
from scanloom.stages.board.milling import Milled
from scanloom.stages.board.model import FileRole
from scanloom.stages.board.register import MapName
from scanloom.stages.board.rescue import Fitting


@record
class BoardReview:
    """A board as its files show it.

    Parameters
    ----------
    roles : tuple of FileRole
        Every file and what it was taken for.
    size_mm : tuple of float or None
        Width and height of the outline; None without one. [mm]
    part_count : int
        Parts in the netlist. [1]
    net_count : int
        Nets. [1]
    hole_count : int
        Holes and slots. [1]
    lane_paths : tuple of LanePath
        What stands between each colour pin and its connector.
    hand_parts : tuple of str
        Parts to solder by hand.
    lying : Mapping
        Files that do not lie as they are: map, and shift along and across. [mm]
    milled : tuple of Milled
        What each tool path does, and how it lies.
    fittings : tuple of Fitting
        How parts go onto a board that came out mirrored; none where it does not.
    channels : tuple of BuiltChannel
        Every colour of every connector that the dossier gives pins, as the files have it.
    syncs : tuple of BuiltSync
        Both syncs of every connector as the files have them.
    """

    roles: tuple[FileRole, ...]
    size_mm: tuple[float, float] | None
    part_count: int
    net_count: int
    hole_count: int
    lane_paths: tuple[LanePath, ...]
    hand_parts: tuple[str, ...]
    lying: Mapping[str, tuple[MapName, tuple[float, float]]]
    milled: tuple[Milled, ...] = ()
    fittings: tuple[Fitting, ...] = ()
    channels: tuple[BuiltChannel, ...] = ()
    syncs: tuple[BuiltSync, ...] = ()
