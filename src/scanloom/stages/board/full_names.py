"""Names of nets that a netlist cut short until two of them became one."""

from __future__ import annotations

from dataclasses import replace

from scanloom.stages.board.graph import CUT
from scanloom.stages.board.model import BoardFiles, NetPoint, PinName

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
    full: dict[PinName, str] = {}
    for layer in files.of("copper"):
        for one in layer.drawn:
            if one.pin is not None and one.net:
                full[(one.pin[0][:CUT], one.pin[1])] = one.net
    if not full or not files.netlists:
        return files
    found: dict[str, set[str]] = {}
    netlist = files.netlists[0]
    for point in netlist.points:
        name = full.get((point.part[:CUT], point.pin_name))
        if point.net and name:
            found.setdefault(point.net, set()).add(name)
    merged = {
        net for net, names in found.items() if len(names) > 1 and all(_cut(name) == net.upper() for name in names)
    }
    if not merged:
        return files

    def parted(point: NetPoint) -> NetPoint:
        if point.net not in merged:
            return point
        return replace(point, net=full.get((point.part[:CUT], point.pin_name), ""))

    return replace(files, netlists=(replace(netlist, points=tuple(map(parted, netlist.points))), *files.netlists[1:]))


def _cut(name: str) -> str:
    """A name as a netlist of few columns writes it."""
    return name.upper().replace(" ", "?")[-_CUT_NET:]
