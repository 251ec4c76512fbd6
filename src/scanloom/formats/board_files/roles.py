"""What a file is, by what it says of itself, then by its name, then by what it holds."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping

from scanloom.formats.board_files.gerber import file_function
from scanloom.stages.board.model import Role, Side

Guess = tuple[Role, Side]

_BY_END: dict[str, Guess] = {
    "gtl": ("copper", "top"), "gbl": ("copper", "bottom"), "gts": ("mask", "top"), "gbs": ("mask", "bottom"),
    "gto": ("legend", "top"), "gbo": ("legend", "bottom"), "gtp": ("paste", "top"), "gbp": ("paste", "bottom"),
    "gko": ("outline", ""), "gm1": ("outline", ""), "gml": ("outline", ""), "gm": ("outline", ""), "oln": ("outline", ""),
    "bor": ("outline", ""), "dim": ("outline", ""),
    "cmp": ("copper", "top"), "sol": ("copper", "bottom"), "stc": ("mask", "top"), "sts": ("mask", "bottom"),
    "plc": ("legend", "top"), "pls": ("legend", "bottom"), "crc": ("paste", "top"), "crs": ("paste", "bottom"),
    "ipc": ("netlist", ""), "d356": ("netlist", ""), "356": ("netlist", ""), "356a": ("netlist", ""),
    "drl": ("drill", ""), "xln": ("drill", ""), "exc": ("drill", ""), "drd": ("drill", ""), "xnc": ("drill", ""),
    "nc": ("tool-path", ""), "ngc": ("tool-path", ""), "tap": ("tool-path", ""), "gcode": ("tool-path", ""),
    "cnc": ("tool-path", ""), "iso": ("tool-path", ""),
}  # fmt: skip
_KINDS: tuple[tuple[Role, tuple[str, ...]], ...] = (
    ("mask", ("mask", "soldermask", "resist", "stop", "sm", "stopplack", "lotstop", "loetstop", "vernis", "masque")),
    ("paste", ("paste", "solderpaste", "stencil", "cream", "pastemask", "lotpaste", "loetpaste", "sp")),
    (
        "legend",
        (
            "legend",
            "ink",
            "silk",
            "silkscreen",
            "silks",
            "overlay",
            "ss",
            "bestdruck",
            "bestuckung",
            "bestueckung",
            "bestuckungsdruck",
            "bestueckungsdruck",
            "serigraphie",
        ),
    ),
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
            "border",
            "rim",
            "boardoutline",
            "kontur",
            "umriss",
            "contour",
            "rand",
        ),
    ),
    (
        "copper",
        ("copper", "cu", "layer", "signal", "route", "conductor", "kupfer", "lp", "leiterbahn", "cuivre", "art"),
    ),
)
_TOP = ("top", "f", "front", "component", "comp", "oben", "dessus", "vorne")
_BOTTOM = ("bottom", "bot", "b", "back", "solderside", "rear", "unten", "dessous", "hinten")
_JOINED = re.compile(
    r"(sm|mask|soldermask|ss|silk|paste|sp|cu|copper)(t|b|top|bot|bottom)|(top|bot|bottom)(sm|mask|ss|silk|paste)"
)
_APART = {"t": "top", "b": "bottom"}
_DOCUMENTS = {
    "map",
    "drawing",
    "fab",
    "courtyard",
    "crtyd",
    "assembly",
    "adhesive",
    "drilldrawing",
}
_DOCUMENT = re.compile(r"crtyd|(?<![a-z])asm(?:top|bot|bottom)?(?![a-z])|(?:user|eco)[._]?(?:\d|drawings|comments)")
_SPAN = re.compile(
    r"(?i)(?:drill|via|blind|buried)s?[-_. ]?L?(\d{1,2})[-_. ]L?(\d{1,2})(?!\d)|(?<![A-Za-z0-9])L(\d{1,2})[-_]L?(\d{1,2})(?!\d)"
)
_NAMED_SPAN = re.compile(r"(?i)(F|In\d+|B)_?Cu[-_. ]+(F|In\d+|B)_?Cu")
_MOST_LAYERS = 16  # programs that number a two-layer board 1 and 16, or higher, mean its two sides


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
    if _DOCUMENTS & words or _DOCUMENT.search(base.lower()):
        return "other", ""
    # SMT may be the mask on top, or how parts are fitted: words in one are parted only where nothing else tells
    return _by_words(words, end.lower()) or _by_words(words | _parted(words), end.lower())


def _by_words(words: set[str], end: str) -> Guess | None:
    """Role by the words of a name and its ending."""
    side: Side = "top" if words & set(_TOP) else "bottom" if words & set(_BOTTOM) else ""
    if words & {"inner", "in", "int"} or any(
        re.fullmatch(r"in\d+|inner\d+|l[2-9]|(gnd|pwr|vcc|plane)\d+", word) for word in words
    ):
        return "copper", "inner"
    if words & {
        "drill",
        "drills",
        "holes",
        "pth",
        "npth",
        "through",
        "bohrung",
        "bohrungen",
        "bohren",
        "percage",
    } and end not in ("csv",):
        return "drill", ""
    for role, marks in _KINDS:
        if words & set(marks):
            return (role, side) if role == "outline" or side else None
    if side and end in ("gbr", "ger", "art", "pho", "gb"):
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


def drawn_in_negative(name: str) -> bool:
    """Whether a name is that of a plane, which is drawn as what is left away.

    Parameters
    ----------
    name : str
        Path inside the set.

    Returns
    -------
    bool
        True for gp1 and alike.
    """
    return re.fullmatch(r"gp\d+", name.rpartition(".")[2].lower()) is not None


def drill_span(name: str, attributes: Mapping[str, str]) -> tuple[int, int]:
    """First and last copper layer that holes of a file join, by what it says and then by its name.

    Parameters
    ----------
    name : str
        Path inside the set.
    attributes : Mapping
        What the file says of itself.

    Returns
    -------
    tuple of int
        Two depths, the top being 1 and 0 the bottom. [1]

    References
    ----------
    [gerber] Gerber Layer Format Specification, section 5.6.3, .FileFunction Plated and NonPlated.
    """
    fields = file_function(attributes)
    if len(fields) > 3 and fields[1].isdigit() and fields[2].isdigit():
        buried = fields[3].strip().lower() in ("blind", "buried")
        return (int(fields[1]), int(fields[2])) if buried else (1, 0)
    base = name.rsplit("/", 1)[-1]
    named = _NAMED_SPAN.search(base)
    if named:
        low, high = (_depth(word) for word in named.groups())
        return (low, high) if low and (low < high or high == 0) else (high, low)
    found = _SPAN.search(base)
    if found:
        low, high = sorted(int(word) for word in found.groups() if word)
        return (max(low, 1), 0 if high >= _MOST_LAYERS else high) if low != high else (1, 0)
    return 1, 0


def _depth(word: str) -> int:
    """Depth of a layer by its short name; 0 for the bottom."""
    return 1 if word.upper() == "F" else 0 if word.upper() == "B" else int(word[2:]) + 1


def _words(text: str) -> set[str]:
    """Words of a name: parted at marks and at capitals."""
    text = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    split = re.sub(r"(?<=[a-z0-9])(?=[A-Z])", " ", text)
    split = re.sub(r"(?<=[A-Z])(?=[A-Z][a-z])", " ", split)
    return {word for word in re.split(r"[^a-z0-9]+", split.lower()) if word}


def _parted(words: set[str]) -> set[str]:
    """A kind and a side that are written in one, such as smbot."""
    found = (joined for word in words if (joined := _JOINED.fullmatch(word)))
    return {_APART.get(part, part) for joined in found for part in joined.groups() if part}
