"""What a board's fabrication files say, as plain frozen geometry. X runs right and Y up, seen from the component side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from scanloom.basis.record import record

Role = Literal[
    "copper", "mask", "paste", "legend", "outline", "drill", "netlist", "centroid", "parts-list", "tool-path", "other",
    "unreadable",
]  # fmt: skip
NO_END = "it ends without M02, so the rest may be missing"
"""Said of an image without its last command."""
Side = Literal["top", "bottom", "inner", "both", ""]
Kind = Literal["flash", "stroke", "area"]
PinName = tuple[str, str]


@record
class FileRole:
    """What a file was taken for, and why.

    Parameters
    ----------
    file : str
        Name inside the folder.
    role : Role
        What it holds.
    side : Side
        Side of the board, empty where that means nothing.
    decided_by : str
        attributes, name, content or you.
    sha256 : str
        Fingerprint of the bytes, so that an acceptance goes stale when they change.
    remarks : tuple of str
        What had to be decided or passed over while reading.
    damage : str
        What keeps it from being read whole; empty when nothing does.
    attributes : Mapping
        What the file says of itself: function, project, date.
    """

    file: str
    role: Role
    side: Side = ""
    decided_by: str = ""
    sha256: str = ""
    remarks: tuple[str, ...] = ()
    damage: str = ""
    attributes: Mapping[str, str] = field(default_factory=dict)


@record
class Drawn:
    """One object of a layer.

    Parameters
    ----------
    kind : Kind
        flash, stroke or area.
    x_mm : float
        Where it is flashed, or starts. [mm]
    y_mm : float
        The same across the board. [mm]
    dark : bool
        Whether it adds; else it clears what was drawn before.
    width_mm : float
        Width of a stroke, 0 for the others. [mm]
    net : str
        Net, where the file names it.
    pin : PinName or None
        Reference designator and pin, where the file names them.
    pin_function : str
        What the pin is called, such as GPIO25.
    purpose : str
        Aperture function, such as ViaPad.
    """

    kind: Kind
    x_mm: float
    y_mm: float
    dark: bool = True
    width_mm: float = 0.0
    net: str = ""
    pin: PinName | None = None
    pin_function: str = ""
    purpose: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """All objects of one image file, in the order drawn.

    Parameters
    ----------
    role : FileRole
        The file.
    drawn : tuple of Drawn
        The objects.
    shapes : ndarray of object, shape (objects,)
        Outline of each object as a polygon; a stroke without width is a line. [mm]
    paths : tuple of ndarray
        Middle line of each object, shape (points, 2). [mm]
    """

    role: FileRole
    drawn: tuple[Drawn, ...]
    shapes: NDArray[np.object_]
    paths: tuple[NDArray[np.float64], ...]


@record
class Hole:
    """A drilled hole, or a slot from one point to another.

    Parameters
    ----------
    x_mm : float
        Centre, or one end of a slot. [mm]
    y_mm : float
        The same across the board. [mm]
    diameter_mm : float or None
        Diameter of the tool; None where no file gives it. [mm]
    plated : bool or None
        Whether it is plated; None when no file says.
    x2_mm : float
        Other end of a slot; that of a round hole is its centre. [mm]
    y2_mm : float
        The same across the board. [mm]
    """

    x_mm: float
    y_mm: float
    diameter_mm: float | None
    plated: bool | None
    x2_mm: float
    y2_mm: float


@record
class Drill:
    """The holes of one drill file.

    Parameters
    ----------
    role : FileRole
        The file.
    holes : tuple of Hole
        Holes in the order drilled.
    span : tuple of int
        First and last copper layer that its holes join; 0 stands for the bottom. [1]
    """

    role: FileRole
    holes: tuple[Hole, ...]
    span: tuple[int, int] = (1, 0)


@record
class NetPoint:
    """A place where a net can be touched.

    Parameters
    ----------
    net : str
        Net; empty for none.
    part : str
        Reference designator, perhaps cut short; empty for a via.
    pin_name : str
        Pin.
    x_mm : float
        Place. [mm]
    y_mm : float
        The same across the board. [mm]
    access : Side
        Side it can be touched from.
    hole_mm : float
        Diameter of its hole, 0 for a surface pad. [mm]
    plated : bool
        Whether that hole is plated.
    is_via : bool
        Whether it is a via.
    """

    net: str
    part: str
    pin_name: str
    x_mm: float
    y_mm: float
    access: Side
    hole_mm: float = 0.0
    plated: bool = True
    is_via: bool = False


@record
class Netlist:
    """The points of one netlist file.

    Parameters
    ----------
    role : FileRole
        The file.
    points : tuple of NetPoint
        Points in the order of the file.
    layer_count : int
        Copper layers that the board has, as far as the netlist tells. [1]
    """

    role: FileRole
    points: tuple[NetPoint, ...]
    layer_count: int = 2


@record
class Placed:
    """Where a machine would set a part.

    Parameters
    ----------
    part : str
        Reference designator.
    x_mm : float
        Middle of the part. [mm]
    y_mm : float
        The same across the board. [mm]
    turn_deg : float
        Rotation, counter-clockwise. [deg]
    side : Side
        Side it sits on.
    value_text : str
        Value as written; empty when not given.
    package : str
        Package as written; empty when not given.
    """

    part: str
    x_mm: float
    y_mm: float
    turn_deg: float
    side: Side
    value_text: str = ""
    package: str = ""


@record
class Placement:
    """The rows of one centroid file.

    Parameters
    ----------
    role : FileRole
        The file.
    rows_placed : tuple of Placed
        Rows in the order of the file.
    """

    role: FileRole
    rows_placed: tuple[Placed, ...]


@record
class Listed:
    """A line of the parts list.

    Parameters
    ----------
    parts : tuple of str
        Reference designators.
    value_text : str
        Value as written.
    package : str
        Package as written.
    fitted : bool
        Whether they are fitted at all.
    """

    parts: tuple[str, ...]
    value_text: str
    package: str = ""
    fitted: bool = True


@record
class PartsList:
    """The lines of one parts list.

    Parameters
    ----------
    role : FileRole
        The file.
    lines_listed : tuple of Listed
        Lines in the order of the file.
    """

    role: FileRole
    lines_listed: tuple[Listed, ...]


@dataclass(frozen=True, slots=True, eq=False)
class ToolPath:
    """Moves of a mill, arcs already made of short lines.

    Parameters
    ----------
    role : FileRole
        The file.
    runs : tuple of ndarray
        Runs with the tool in the material, shape (points, 3): x, y, z. [mm]
    plunges : ndarray of float, shape (holes, 2)
        Places drilled without moving sideways. [mm]
    """

    role: FileRole
    runs: tuple[NDArray[np.float64], ...]
    plunges: NDArray[np.float64]


@record
class BoardFiles:
    """Everything that was found in a folder of fabrication files.

    Parameters
    ----------
    roles : tuple of FileRole
        Every file and what it was taken for, by name.
    layers : tuple of Layer
        Image files.
    drills : tuple of Drill
        Drill files.
    netlists : tuple of Netlist
        Netlists; more than one is a mistake.
    placements : tuple of Placement
        Centroid files.
    parts_lists : tuple of PartsList
        Parts lists.
    tool_paths : tuple of ToolPath
        Moves of a mill.
    """

    roles: tuple[FileRole, ...]
    layers: tuple[Layer, ...] = ()
    drills: tuple[Drill, ...] = ()
    netlists: tuple[Netlist, ...] = ()
    placements: tuple[Placement, ...] = ()
    parts_lists: tuple[PartsList, ...] = ()
    tool_paths: tuple[ToolPath, ...] = ()

    def of(self, role: Role, side: Side = "") -> tuple[Layer, ...]:
        """Image layers of one kind.

        Parameters
        ----------
        role : Role
            copper, mask, paste, legend or outline.
        side : Side
            Side wanted, empty for all.

        Returns
        -------
        tuple of Layer
            In the order of their names.
        """
        return tuple(one for one in self.layers if one.role.role == role and side in ("", one.role.side))

    @property
    def holes(self) -> tuple[Hole, ...]:
        """Holes of all drill files."""
        return tuple(hole for drill in self.drills for hole in drill.holes)


Shape = Any
"""A polygon, several, or a line, of the geometry library, which ships no types."""
