"""Names of nets and parts that a netlist cut short until two of them became one."""

from __future__ import annotations

from dataclasses import replace
from math import hypot
from statistics import median

from scanloom.stages.board.graph import CUT
from scanloom.stages.board.model import BoardFiles, NetPoint, PinName

_SAME_MM = 0.2
_CUT_NET = 14  # characters of a net's name that a record keeps


def with_full_names(files: BoardFiles) -> BoardFiles:
    """Part nets that share one cut name, where copper pads still know the full ones.

    Parameters
    ----------
    files : BoardFiles
        The files.

    Returns
    -------
    BoardFiles
        The same, but for points of such nets; a via among them loses its net, since nothing tells which it is of.

    References
    ----------
    [ipc356] IPC-D-356A, columns 4 to 17; that programs keep the last 14 characters: seen in real files, no published source.
    """
    full: dict[PinName, str] = {}  # by cut and by whole designators
    for layer in files.of("copper"):
        for one in layer.drawn:
            if one.pin is not None and one.net:
                full[(one.pin[0][:CUT], one.pin[1])] = one.net
                full[one.pin] = one.net
    if not full or not files.netlists:
        return files
    found: dict[str, set[str]] = {}
    netlist = files.netlists[0]
    for point in netlist.points:
        name = full.get((point.part, point.pin_name))
        if point.net and name:
            found.setdefault(point.net, set()).add(name)
    merged = {
        net for net, names in found.items() if len(names) > 1 and all(net.upper() in _cut(name) for name in names)
    }
    if not merged:
        return files

    def parted(point: NetPoint) -> NetPoint:
        if point.net not in merged:
            return point
        return replace(point, net=full.get((point.part, point.pin_name), ""))

    return replace(files, netlists=(replace(netlist, points=tuple(map(parted, netlist.points))), *files.netlists[1:]))


def with_full_parts(files: BoardFiles) -> BoardFiles:
    """Part components that share one cut designator, by the places that copper pads or the placement file give them.

    Parameters
    ----------
    files : BoardFiles
        The files.

    Returns
    -------
    BoardFiles
        The same, but for points of such components.

    References
    ----------
    [ipc356] IPC-D-356A, columns 21 to 26.
    """
    rows = {row.part: (row.x_mm, row.y_mm) for table in files.placements for row in table.rows_placed}
    listed = {part for table in files.parts_lists for line in table.lines_listed for part in line.parts}
    pads = _pads(files)
    alike: dict[str, set[str]] = {}
    for name in rows.keys() | listed | {part for part, _ in pads}:
        alike.setdefault(name[:CUT].upper(), set()).add(name)
    alike = {cut: names for cut, names in alike.items() if len(names) > 1}
    shared = {cut: names for cut, names in alike.items() if names <= rows.keys()}
    if not alike or not files.netlists:
        return files
    netlist = files.netlists[0]
    spots: dict[str, list[tuple[float, float]]] = {}
    for point in netlist.points:
        if point.part:
            spots.setdefault(point.part, []).append((point.x_mm, point.y_mm))
    off = [
        (rows[part][0] - _middle(xs), rows[part][1] - _middle(ys))
        for part, (xs, ys) in ((part, tuple(zip(*at, strict=True))) for part, at in spots.items())
        if part in rows and part.upper() not in shared
    ]  # fmt: skip
    dx, dy = (median(one[0] for one in off), median(one[1] for one in off)) if off else (0.0, 0.0)

    def parted(point: NetPoint) -> NetPoint:
        here = [
            name for name in alike.get(point.part.upper(), ()) for x, y in pads.get((name, point.pin_name), ())
            if hypot(x - point.x_mm, y - point.y_mm) < _SAME_MM
        ]  # fmt: skip
        names = shared.get(point.part.upper(), ())
        if here or not names:
            return replace(point, part=here[0]) if here else point
        full = min(sorted(names), key=lambda n: hypot(rows[n][0] - dx - point.x_mm, rows[n][1] - dy - point.y_mm))
        return replace(point, part=full)

    return replace(files, netlists=(replace(netlist, points=tuple(map(parted, netlist.points))), *files.netlists[1:]))


def _pads(files: BoardFiles) -> dict[PinName, list[tuple[float, float]]]:
    """Places of the copper pads that carry a name, by whole designator and pin."""
    made: dict[PinName, list[tuple[float, float]]] = {}
    for layer in files.of("copper"):
        for one in layer.drawn:
            if one.pin is not None and one.kind == "flash":
                made.setdefault(one.pin, []).append((one.x_mm, one.y_mm))
    return made


def _middle(values: tuple[float, ...]) -> float:
    """Middle of the span of some values."""
    return (min(values) + max(values)) / 2


def _cut(name: str) -> tuple[str, ...]:
    """A name as netlists of few columns write it: some keep its end, some its beginning."""
    shouted = name.upper()
    return shouted.replace(" ", "?")[-_CUT_NET:], *(shouted.replace(" ", blank)[:_CUT_NET] for blank in ("_", "?", " "))
