"""What a file's name alone says of its side."""

from __future__ import annotations

import itertools
import re

from scanloom.stages.board.model import Side

_TOP = {"gtl", "gts", "gto", "gtp", "cmp", "stc", "plc", "crc"}
_BOTTOM = {"gbl", "gbs", "gbo", "gbp", "sol", "sts", "pls", "crs"}

_KINDS = {"cu", "copper", "mask", "paste", "silk", "silks", "silkscreen", "legend", "soldermask", "solderpaste"}


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
    words = re.split(r"[^a-z0-9]+", split.lower())
    # a letter alone may be a revision; beside what it lies on it is a side
    letters = {one for one, kind in itertools.pairwise(words) if one in "fb" and kind in _KINDS}
    top = "top" in words or "f" in letters
    bottom = bool({"bottom", "bot"} & set(words)) or "b" in letters
    return "" if top == bottom else "top" if top else "bottom"
