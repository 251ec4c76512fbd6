"""What a file is, by what it says of itself, then by its name, then by what it holds."""

from __future__ import annotations

import re
from collections.abc import Mapping

from scanloom.formats.board_files.gerber import file_function
from scanloom.stages.board.model import Role, Side

Guess = tuple[Role, Side]

_BY_END: dict[str, Guess] = {
    "gtl": ("copper", "top"), "gbl": ("copper", "bottom"), "gts": ("mask", "top"), "gbs": ("mask", "bottom"),
    "gto": ("legend", "top"), "gbo": ("legend", "bottom"), "gtp": ("paste", "top"), "gbp": ("paste", "bottom"),
    "gko": ("outline", ""), "gm1": ("outline", ""), "gml": ("outline", ""), "gm": ("outline", ""), "oln": ("outline", ""),
    "cmp": ("copper", "top"), "sol": ("copper", "bottom"), "stc": ("mask", "top"), "sts": ("mask", "bottom"),
    "plc": ("legend", "top"), "pls": ("legend", "bottom"), "crc": ("paste", "top"), "crs": ("paste", "bottom"),
    "ipc": ("netlist", ""), "d356": ("netlist", ""), "356": ("netlist", ""), "356a": ("netlist", ""),
    "drl": ("drill", ""), "xln": ("drill", ""), "exc": ("drill", ""), "drd": ("drill", ""), "xnc": ("drill", ""),
    "nc": ("tool-path", ""), "ngc": ("tool-path", ""), "tap": ("tool-path", ""), "gcode": ("tool-path", ""),
    "cnc": ("tool-path", ""), "iso": ("tool-path", ""),
}  # fmt: skip
_KINDS: tuple[tuple[Role, tuple[str, ...]], ...] = (
    ("mask", ("mask", "soldermask", "resist", "stop", "sm")),
    ("paste", ("paste", "solderpaste", "stencil", "cream", "pastemask")),
    ("legend", ("legend", "ink", "silk", "silkscreen", "silks", "overlay", "ss")),
    (
        "outline",
        (
            "outline",
            "profile",
            "edge",
            "edges",
            "cuts",
            "edgecuts",
            "dimension",
            "contour",
            "border",
            "rim",
            "boardoutline",
        ),
    ),
    ("copper", ("copper", "cu", "layer", "signal", "route", "conductor")),
)
_TOP = ("top", "f", "front", "component", "comp")
_BOTTOM = ("bottom", "bot", "b", "back", "solderside", "rear")


def by_attributes(attributes: Mapping[str, str]) -> Guess | None:
    """Role by the file function.

    Parameters
    ----------
    attributes : Mapping
        What the file says of itself.

    Returns
    -------
    tuple or None
        Role and side.

    References
    ----------
    [gerber] Gerber Layer Format Specification, section 5.6.3, .FileFunction.
    """
    fields = [field.lower() for field in file_function(attributes)]
    if not fields:
        return None
    side: Side = "top" if "top" in fields else "bottom" if "bot" in fields else "inner" if "inr" in fields else ""
    kind = fields[0]
    if kind == "copper":
        return "copper", side or "inner"
    for name, role in (("soldermask", "mask"), ("paste", "paste"), ("legend", "legend"), ("profile", "outline")):
        if kind == name:
            return role, side  # type: ignore[return-value]
    if kind in ("plated", "nonplated", "mixedplating"):
        return "drill", ""
    return "other", side


def by_name(name: str) -> Guess | None:
    """Role by the file's name.

    Parameters
    ----------
    name : str
        Path inside the set.

    Returns
    -------
    tuple or None
        Role and side.
    """
    base = name.rsplit("/", 1)[-1]
    stem, _, end = base.rpartition(".")
    found = _BY_END.get(end.lower())
    if found is not None:
        return found
    if re.fullmatch(r"g\d+|gp\d+|g\d+l|in\d+", end.lower()):
        return "copper", "inner"
    words = _words(stem or base)
    if {"map", "drawing", "fab", "courtyard", "assembly"} & words:
        return "other", ""
    side: Side = "top" if words & set(_TOP) else "bottom" if words & set(_BOTTOM) else ""
    if words & {"inner", "in", "int"} or any(re.fullmatch(r"in\d+|inner\d+|l[2-9]", word) for word in words):
        return "copper", "inner"
    if words & {"drill", "drills", "holes", "pth", "npth", "through"} and end.lower() not in ("csv",):
        return "drill", ""
    for role, marks in _KINDS:
        if words & set(marks):
            return (role, side) if role == "outline" or side else None
    if side and end.lower() in ("gbr", "ger", "art", "pho", "gb"):
        return "copper", side
    return None


def has_telling_end(name: str) -> bool:
    """Whether a file's ending alone tells its role.

    Parameters
    ----------
    name : str
        Path inside the set.

    Returns
    -------
    bool
        True for gtl, drl and the like.
    """
    return name.rpartition(".")[2].lower() in _BY_END


def says_unplated(name: str, attributes: Mapping[str, str]) -> bool | None:
    """Whether a drill file is plated, by what it says and then by its name.

    Parameters
    ----------
    name : str
        Path inside the set.
    attributes : Mapping
        What the file says of itself.

    Returns
    -------
    bool or None
        True for unplated, False for plated, None when nothing says.
    """
    fields = [field.lower() for field in file_function(attributes)]
    if fields and fields[0] in ("plated", "nonplated"):
        return fields[0] == "nonplated"
    words = _words(name.rsplit("/", 1)[-1])
    if words & {"npth", "nonplated", "unplated", "np"} or {"non", "plated"} <= words:
        return True
    return False if words & {"pth", "plated"} else None


def _words(text: str) -> set[str]:
    """Words of a name: parted at marks and at capitals."""
    split = re.sub(r"(?<=[a-z0-9])(?=[A-Z])", " ", text)
    split = re.sub(r"(?<=[A-Z])(?=[A-Z][a-z])", " ", split)
    return {word for word in re.split(r"[^a-z0-9]+", split.lower()) if word}
