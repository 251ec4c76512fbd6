"""What a file's name alone says of its side."""

from __future__ import annotations

import re

from scanloom.stages.board.model import Side

_TOP = {"gtl", "gts", "gto", "gtp", "cmp", "stc", "plc", "crc"}
_BOTTOM = {"gbl", "gbs", "gbo", "gbp", "sol", "sts", "pls", "crs"}


def side_by_name(name: str) -> Side:
    """Side that a file name claims.

    Parameters
    ----------
    name : str
        Path inside the set.

    Returns
    -------
    Side
        top, bottom, or empty when it claims none.
    """
    base = name.rsplit("/", 1)[-1]
    end = base.rpartition(".")[2].lower()
    if end in _TOP | _BOTTOM:
        return "top" if end in _TOP else "bottom"
    split = re.sub(r"(?<=[a-z0-9])(?=[A-Z])", " ", base)
    words = set(re.split(r"[^a-z0-9]+", split.lower()))
    if words & {"top", "f"} and not words & {"bottom", "bot", "b"}:
        return "top"
    return "bottom" if words & {"bottom", "bot", "b"} and not words & {"top", "f"} else ""
